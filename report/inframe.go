package report

import (
	"errors"
	"slices"

	"github.com/golang/geo/r3"
)

// ErrNoFrame says that a report has no datum frame: no face with a bolt circle
// or bore was found.
var ErrNoFrame = errors.New("report: no datum frame was found, so coordinates stay in the scan's own position")

// point returns p of the scan's own position in the frame, mm.
func (f *Frame) point(p Vec) Vec { return f.direction(vec(p.R3().Sub(f.Origin.R3()))) }

// direction returns a direction of the scan's own position in the frame.
func (f *Frame) direction(d Vec) Vec {
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
		p.Point, p.Normal = f.point(p.Point), f.direction(p.Normal)
	}
	out.Cylinders = slices.Clone(rep.Cylinders)
	for i := range out.Cylinders {
		c := &out.Cylinders[i]
		c.Point, c.Axis = f.point(c.Point), f.direction(c.Axis)
	}
	out.Cones = slices.Clone(rep.Cones)
	for i := range out.Cones {
		c := &out.Cones[i]
		c.Apex, c.Point, c.Axis = f.point(c.Apex), f.point(c.Point), f.direction(c.Axis)
	}
	out.Spheres = slices.Clone(rep.Spheres)
	for i := range out.Spheres {
		out.Spheres[i].Centre = f.point(out.Spheres[i].Centre)
	}
	out.Holes, out.Studs = f.holes(rep.Holes), f.holes(rep.Studs)
	if rep.Bore != nil {
		out.Bore = &f.holes([]Hole{*rep.Bore})[0]
	}
	out.BoltCircles = slices.Clone(rep.BoltCircles)
	for i := range out.BoltCircles {
		c := &out.BoltCircles[i]
		c.Centre, c.Axis = f.point(c.Centre), f.direction(c.Axis)
	}
	return &out, nil
}

func (f *Frame) holes(in []Hole) []Hole {
	out := slices.Clone(in)
	for i := range out {
		h := &out[i]
		h.Centre, h.Axis = f.point(h.Centre), f.direction(h.Axis)
		if h.Direction != nil {
			d := f.direction(*h.Direction)
			h.Direction = &d
		}
		// measured keeps the scan's own position: its covariance refers to it.
	}
	return out
}
