package fit

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// Seen is how much of a round feature some points show.
type Seen struct {
	// Arc is a full turn less the widest gap between neighbours.
	Arc s1.Angle
	// From and To are where along the axis the points begin and end, mm, from
	// the feature's Point, Centre or Apex.
	From, To float64
}

// Seen tells how much of the cylinder pts show.
func (s Cylinder) Seen(pts []r3.Vector) Seen { return seen(s.Point, s.Axis, pts) }

// Seen tells how much of the circle pts show.
func (s Circle) Seen(pts []r3.Vector) Seen { return seen(s.Centre, s.Normal, pts) }

// Seen tells how much of the cone pts show.
func (s Cone) Seen(pts []r3.Vector) Seen { return seen(s.Apex, s.Axis, pts) }

func seen(at, axis r3.Vector, pts []r3.Vector) Seen {
	if len(pts) == 0 {
		return Seen{}
	}
	// First and last angle of each tenth of a degree: gaps wider than that come
	// out exactly, in one pass.
	const bins = 3600
	var first, last [bins]float64
	for i := range first {
		first[i], last[i] = math.Inf(1), math.Inf(-1)
	}
	e1, e2 := Frame(axis)
	out := Seen{From: math.Inf(1), To: math.Inf(-1)}
	for _, p := range pts {
		d := p.Sub(at)
		h := d.Dot(axis)
		out.From, out.To = min(out.From, h), max(out.To, h)
		phi := math.Atan2(d.Dot(e2), d.Dot(e1)) + math.Pi
		i := min(int(phi/(2*math.Pi)*bins), bins-1)
		first[i], last[i] = min(first[i], phi), max(last[i], phi)
	}
	widest, start, before := 0.0, math.Inf(1), 0.0
	for i := range bins {
		if last[i] < 0 {
			continue
		}
		if math.IsInf(start, 1) {
			start = first[i]
		} else {
			widest = max(widest, first[i]-before)
		}
		before = last[i]
	}
	widest = max(widest, start+2*math.Pi-before)
	out.Arc = s1.Angle(2*math.Pi - widest)
	return out
}

// CentreOn returns the circle's centre projected square on a face, and its
// covariance there, mm², along Frame(face.Normal): the hole's place from its
// rim.
func (f CircleFit) CentreOn(face Plane) (centre r3.Vector, cov [2][2]float64) {
	n := face.Normal
	centre = f.Centre.Sub(n.Mul(face.Distance(f.Centre)))
	e1, e2 := Frame(n)
	g1, g2 := Frame(f.Normal)
	dirs := [3]r3.Vector{g1, g2, f.Normal}
	var m [2][3]float64
	for k, d := range dirs {
		m[0][k], m[1][k] = d.Dot(e1), d.Dot(e2)
	}
	for i := range 2 {
		for j := range 2 {
			for k := range 3 {
				for l := range 3 {
					cov[i][j] += m[i][k] * f.Cov[k][l] * m[j][l]
				}
			}
		}
	}
	return centre, cov
}
