package bolt

import (
	"github.com/golang/geo/r3"
)

// DatumFrame returns the frame with Z along normal, the face's outward unit
// normal, its origin where the line through onAxis along the normal meets the
// face through onFace, and X through toward (laid on the face). Where toward
// lies on the axis, X is the scan's +X laid on the face, +Y where the face
// looks along X.
func DatumFrame(onFace, normal, onAxis, toward r3.Vector) Frame {
	foot := func(q r3.Vector) r3.Vector { return q.Sub(normal.Mul(q.Sub(onFace).Dot(normal))) }
	f := Frame{Origin: foot(onAxis), Z: normal}
	if d := foot(toward).Sub(f.Origin); d.Norm() > 1e-9 {
		f.X = d.Normalize()
	} else {
		f.X = laidX(normal)
	}
	f.Y = f.Z.Cross(f.X)
	return f
}

// In returns q in the frame's coordinates, mm.
func (f Frame) In(q r3.Vector) r3.Vector {
	d := q.Sub(f.Origin)
	return r3.Vector{X: d.Dot(f.X), Y: d.Dot(f.Y), Z: d.Dot(f.Z)}
}

// Out returns the place in the scan of q in the frame's coordinates.
func (f Frame) Out(q r3.Vector) r3.Vector {
	return f.Origin.Add(f.X.Mul(q.X)).Add(f.Y.Mul(q.Y)).Add(f.Z.Mul(q.Z))
}
