package fit

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// Diameter returns the cylinder's diameter and its standard uncertainty, mm.
func (f CylinderFit) Diameter() (d, u float64) { return 2 * f.Radius, 2 * math.Sqrt(f.Cov[4][4]) }

// Diameter returns the circle's diameter and its standard uncertainty, mm.
func (f CircleFit) Diameter() (d, u float64) { return 2 * f.Radius, 2 * math.Sqrt(f.Cov[5][5]) }

// Diameter returns the sphere's diameter and its standard uncertainty, mm.
func (f SphereFit) Diameter() (d, u float64) { return 2 * f.Radius, 2 * math.Sqrt(f.Cov[3][3]) }

// AxisMeets returns the point where the cylinder's axis meets the face, and
// its covariance in the face, mm², along Frame(face.Normal), propagated from
// the cylinder's and the face's own (linear; JCGM 100:2008, 5.2.2, with nothing
// in common between the two). A face given as PlaneFit{Plane: p} is taken as
// exact. False where the axis runs along the face.
func (f CylinderFit) AxisMeets(face PlaneFit) (centre r3.Vector, cov [2][2]float64, ok bool) {
	n, a := face.Normal, f.Axis
	an := a.Dot(n)
	if math.Abs(an) < 1e-6 {
		return centre, cov, false
	}
	s := face.Point.Sub(f.Point).Dot(n) / an
	centre = f.Point.Add(a.Mul(s))
	e1, e2 := Frame(n)
	g1, g2 := Frame(a)
	// A shift d across the axis there moves the point by d - a (d·n)/(a·n).
	var m [2][4]float64
	for i, g := range [2]r3.Vector{g1, g2} {
		d := g.Sub(a.Mul(g.Dot(n) / an))
		m[0][i], m[1][i] = d.Dot(e1), d.Dot(e2)
		m[0][i+2], m[1][i+2] = s*m[0][i], s*m[1][i]
	}
	for i := range 2 {
		for j := range 2 {
			for k := range 4 {
				for l := range 4 {
					cov[i][j] += m[i][k] * f.Cov[k][l] * m[j][l]
				}
			}
		}
	}
	// The face's height there moves it along the axis.
	q := centre.Sub(face.Point)
	h := [3]float64{1, -q.Dot(e1), -q.Dot(e2)}
	var u2 float64
	for k := range 3 {
		for l := range 3 {
			u2 += h[k] * face.Cov[k][l] * h[l]
		}
	}
	lean := [2]float64{a.Dot(e1) / an, a.Dot(e2) / an}
	for i := range 2 {
		for j := range 2 {
			cov[i][j] += u2 * lean[i] * lean[j]
		}
	}
	return centre, cov, true
}

// direction is a fitted direction and the covariance of its tilts toward the
// two directions of its Frame.
type direction struct {
	v    r3.Vector
	tilt [2][2]float64
}

// Directed is a fit that has a direction: a plane's normal, a line's, a
// circle's normal, the axis of a cylinder or cone.
type Directed interface{ directed() direction }

func (f PlaneFit) directed() direction {
	return direction{f.Normal, [2][2]float64{{f.Cov[1][1], f.Cov[1][2]}, {f.Cov[2][1], f.Cov[2][2]}}}
}

func (f LineFit) directed() direction {
	return direction{f.Direction, [2][2]float64{{f.Cov[2][2], f.Cov[2][3]}, {f.Cov[3][2], f.Cov[3][3]}}}
}

func (f CylinderFit) directed() direction {
	return direction{f.Axis, [2][2]float64{{f.Cov[2][2], f.Cov[2][3]}, {f.Cov[3][2], f.Cov[3][3]}}}
}

func (f CircleFit) directed() direction {
	return direction{f.Normal, [2][2]float64{{f.Cov[3][3], f.Cov[3][4]}, {f.Cov[4][3], f.Cov[4][4]}}}
}

func (f ConeFit) directed() direction {
	return direction{f.Axis, [2][2]float64{{f.Cov[3][3], f.Cov[3][4]}, {f.Cov[4][3], f.Cov[4][4]}}}
}

// AngleBetween returns the angle between the directions of two fits, 0 to 90
// degrees, and its standard uncertainty, propagated from their own with
// nothing in common. Near 0 the angle, being a length, reads large by noise:
// compare it with its uncertainty, which there is the root mean square of the
// two tilts.
func AngleBetween(a, b Directed) (angle, u s1.Angle) {
	p, q := a.directed(), b.directed()
	v := q.v
	if p.v.Dot(v) < 0 {
		v = v.Mul(-1)
	}
	cross := p.v.Cross(v)
	sin := cross.Norm()
	angle = s1.Angle(math.Atan2(sin, p.v.Dot(v)))
	if sin < 1e-9 {
		t := p.tilt[0][0] + p.tilt[1][1] + q.tilt[0][0] + q.tilt[1][1]
		return angle, s1.Angle(math.Sqrt(t / 2))
	}
	axis := unit(cross)
	var u2 float64
	for _, d := range [2]direction{p, q} {
		// Only the tilt in the common plane changes the angle.
		in := axis.Cross(d.v)
		e1, e2 := Frame(d.v)
		x, y := in.Dot(e1), in.Dot(e2)
		u2 += x*x*d.tilt[0][0] + 2*x*y*d.tilt[0][1] + y*y*d.tilt[1][1]
	}
	return angle, s1.Angle(math.Sqrt(u2))
}
