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
	out.Planes = slices.Clone(rep.Planes)
	for i := range out.Planes {
		p := &out.Planes[i]
		p.Point, p.Normal = f.Point(p.Point), f.Direction(p.Normal)
	}
	out.Cylinders = slices.Clone(rep.Cylinders)
	for i := range out.Cylinders {
		c := &out.Cylinders[i]
		c.Point, c.Axis = f.Point(c.Point), f.Direction(c.Axis)
	}
	out.Cones = slices.Clone(rep.Cones)
	for i := range out.Cones {
		c := &out.Cones[i]
		c.Apex, c.Point, c.Axis = f.Point(c.Apex), f.Point(c.Point), f.Direction(c.Axis)
	}
	out.Spheres = slices.Clone(rep.Spheres)
	for i := range out.Spheres {
		out.Spheres[i].Centre = f.Point(out.Spheres[i].Centre)
	}
	out.Holes, out.Studs = f.holes(rep.Holes), f.holes(rep.Studs)
	if rep.Bore != nil {
		out.Bore = &f.holes([]Hole{*rep.Bore})[0]
	}
	out.JointCovariance = rep.jointIn(f)
	out.BoltCircles = slices.Clone(rep.BoltCircles)
	for i := range out.BoltCircles {
		c := &out.BoltCircles[i]
		c.Centre, c.Axis = f.Point(c.Centre), f.Direction(c.Axis)
	}
	out.Patterns = slices.Clone(rep.Patterns)
	for i := range out.Patterns {
		p := &out.Patterns[i]
		p.Centre, p.Direction = f.Point(p.Centre), f.Direction(p.Direction)
	}
	return &out, nil
}

func (f *Frame) holes(in []Hole) []Hole {
	out := slices.Clone(in)
	for i := range out {
		h := &out[i]
		h.Centre, h.Axis = f.Point(h.Centre), f.Direction(h.Axis)
		if h.Direction != nil {
			d := f.Direction(*h.Direction)
			h.Direction = &d
		}
		if c := h.Uncertainty.CentreCovariance; c != nil {
			turned := turnedCovariance(*c, f.turnOf(in[i].Axis), f.turnOf(in[i].Axis))
			h.Uncertainty.CentreCovariance = &turned
		}
	}
	return out
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
