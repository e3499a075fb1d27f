package report

import (
	"errors"
	"slices"
	"strings"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// ErrNoFrame says that a report has no datum frame: no face with a bolt circle
// or bore was found.
var ErrNoFrame = errors.New("report: no datum frame was found, so coordinates stay in the scan's own position")

// Point returns p of the scan's own position in the frame, mm.
func (f *Frame) Point(p Vec) Vec { return f.Direction(vec(p.R3().Sub(f.Origin.R3()))) }

// Direction returns a direction of the scan's own position in the frame.
func (f *Frame) Direction(d Vec) Vec {
	v := d.R3()
	return vec(r3.Vector{X: v.Dot(f.X.R3()), Y: v.Dot(f.Y.R3()), Z: v.Dot(f.Z.R3())})
}

// inScan returns a point of the report in the scan's own position.
func (rep *Report) inScan(p Vec) Vec {
	if !rep.InFrame || rep.Frame == nil {
		return p
	}
	f := rep.Frame
	return vec(f.Origin.R3().Add(f.X.R3().Mul(p[0])).Add(f.Y.R3().Mul(p[1])).Add(f.Z.R3().Mul(p[2])))
}

// InDatumFrame returns a copy of rep with every coordinate in its datum frame:
// origin where the axis meets the face, Z out of the material, X through the
// clocking hole. The frame itself stays as it lies in the scan, so that the way
// back is known. A report that is in its frame already is returned as a copy.
func InDatumFrame(rep *Report) (*Report, error) {
	out := *rep
	if rep.InFrame {
		return &out, nil
	}
	f := rep.Frame
	if f == nil {
		return nil, ErrNoFrame
	}
	out.InFrame = true
	out.Planes = changed(rep.Planes, func(p *Plane) { f.move(&p.Point); f.turn(&p.Normal) })
	out.Cylinders = changed(rep.Cylinders, func(c *Cylinder) { f.move(&c.Point); f.turn(&c.Axis) })
	out.Cones = changed(rep.Cones, func(c *Cone) { f.move(&c.Apex); f.move(&c.Point); f.turn(&c.Axis) })
	out.Spheres = changed(rep.Spheres, func(s *Sphere) { f.move(&s.Centre) })
	out.Holes, out.Studs = changed(rep.Holes, f.hole), changed(rep.Studs, f.hole)
	if rep.Bore != nil {
		out.Bore = &changed([]Hole{*rep.Bore}, f.hole)[0]
	}
	out.JointCovariance = rep.jointIn(f)
	out.BoltCircles = changed(rep.BoltCircles, func(c *BoltCircle) { f.move(&c.Centre); f.turn(&c.Axis) })
	out.Patterns = changed(rep.Patterns, func(p *HolePattern) { f.move(&p.Centre); f.turn(&p.Direction) })
	return &out, nil
}

// changed is a copy of a list with each item changed.
func changed[T any](list []T, change func(*T)) []T {
	out := slices.Clone(list)
	for i := range out {
		change(&out[i])
	}
	return out
}

// move and turn bring a point, or a direction, of the scan's own position into the frame.
func (f *Frame) move(p *Vec) { *p = f.Point(*p) }
func (f *Frame) turn(d *Vec) { *d = f.Direction(*d) }

func (f *Frame) hole(h *Hole) {
	turn := f.turnOf(h.Axis)
	f.move(&h.Centre)
	f.turn(&h.Axis)
	if h.Direction != nil {
		d := f.Direction(*h.Direction)
		h.Direction = &d
	}
	if c := h.Uncertainty.CentreCovariance; c != nil {
		turned := turnedCovariance(*c, turn, turn)
		h.Uncertainty.CentreCovariance = &turned
	}
}

// turnOf returns the axes geom.Basis of an axis as it lies in the frame, in those of it as
// it lies in the scan: covariances are along these.
func (f *Frame) turnOf(axis Vec) (t [2][2]float64) {
	n1, n2 := geom.Basis(f.Direction(axis).R3())
	o1, o2 := geom.Basis(axis.R3())
	for i, n := range []r3.Vector{n1, n2} {
		for k, o := range []r3.Vector{o1, o2} {
			t[i][k] = n.Dot(f.Direction(vec(o)).R3())
		}
	}
	return t
}

// turnedCovariance is a c bᵀ.
func turnedCovariance(c, a, b [2][2]float64) (out [2][2]float64) {
	for i := range 2 {
		for k := range 2 {
			out[i][k] = a[i][0]*(c[0][0]*b[k][0]+c[0][1]*b[k][1]) + a[i][1]*(c[1][0]*b[k][0]+c[1][1]*b[k][1])
		}
	}
	return out
}

// jointIn is the joint covariance along the axes that holes have in the frame.
func (rep *Report) jointIn(f *Frame) *JointCovariance {
	j := rep.JointCovariance
	if j == nil {
		return nil
	}
	out := &JointCovariance{Parameters: j.Parameters, Matrix: make([][]float64, len(j.Matrix))}
	turns := make([][2][2]float64, len(j.Matrix)/2)
	for i := range turns {
		id, _, _ := strings.Cut(j.Parameters[2*i], ".")
		if h := rep.Hole(id); h != nil {
			turns[i] = f.turnOf(h.Axis)
		}
	}
	for i, a := range turns {
		for k, b := range turns {
			m := j.Matrix
			c := turnedCovariance([2][2]float64{{m[2*i][2*k], m[2*i][2*k+1]}, {m[2*i+1][2*k], m[2*i+1][2*k+1]}}, a, b)
			for x := range 2 {
				out.Matrix[2*i+x] = append(out.Matrix[2*i+x], c[x][0], c[x][1])
			}
		}
	}
	return out
}
