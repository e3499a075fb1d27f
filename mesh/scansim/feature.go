package scansim

import (
	"fmt"
	"math"
	"math/rand/v2"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// WallSpec describes the points of one hole about the z axis, its face in z =
// 0: rows of points round the wall, or a single row, its rim.
type WallSpec struct {
	Radius float64 // mm
	// Around is the number of points in a row, Rows the number of rows; zero
	// rows means 1.
	Around, Rows int
	// Depth is where the last row lies, mm below the face; the first is in it.
	Depth float64
	// Arc that is seen, and where it begins; zero Arc means all round.
	Arc, Start s1.Angle
	// Sigma is the standard deviation of the radius, with the correlation
	// Kernel over the distance in space; Axial is that along z, of the same
	// correlation, independent of the other.
	Sigma, Axial float64
	Kernel       Kernel
}

// Wall draws the points of one hole again and again: make it once, draw many.
// It is safe for concurrent use.
type Wall struct {
	spec  WallSpec
	field *gaussianField
	ideal []r3.Vector
	out   []r3.Vector
}

// NewWall prepares the drawing of points as spec asks.
func NewWall(spec WallSpec) (*Wall, error) {
	if spec.Rows == 0 {
		spec.Rows = 1
	}
	if !(spec.Radius > 0) || spec.Around < 1 || spec.Rows < 1 || !(spec.Arc >= 0 && spec.Arc <= 2*math.Pi) {
		return nil, fmt.Errorf("simulate a wall: radius %v mm, %d by %d points, arc %v: use positive numbers and at most a full turn",
			spec.Radius, spec.Around, spec.Rows, spec.Arc)
	}
	ring := spec.Arc == 0 || spec.Arc == 2*math.Pi
	step := 2 * math.Pi / float64(spec.Around)
	if !ring {
		step = spec.Arc.Radians() / float64(max(1, spec.Around-1))
	}
	rise := spec.Depth / float64(max(1, spec.Rows-1))
	field, err := newGaussianField(bent(spec.Around, step, spec.Radius, ring), straight(spec.Rows, rise), spec.Kernel)
	if err != nil {
		return nil, err
	}
	w := &Wall{spec: spec, field: field}
	for j := range spec.Rows {
		for i := range spec.Around {
			sin, cos := math.Sincos(spec.Start.Radians() + step*float64(i))
			w.out = append(w.out, r3.Vector{X: cos, Y: sin})
			w.ideal = append(w.ideal, r3.Vector{X: spec.Radius * cos, Y: spec.Radius * sin, Z: -rise * float64(j)})
		}
	}
	return w, nil
}

// Draw returns the points of one scan of the wall, row by row.
func (w *Wall) Draw(rng *rand.Rand) []r3.Vector {
	pts := make([]r3.Vector, len(w.ideal))
	copy(pts, w.ideal)
	if w.spec.Sigma != 0 || w.spec.Axial != 0 {
		w.field.draw2(rng, func(i int, a, b float64) {
			pts[i] = pts[i].Add(w.out[i].Mul(w.spec.Sigma * a))
			pts[i].Z += w.spec.Axial * b
		})
	}
	return pts
}

// PatchSpec describes a rectangular face about the origin in z = 0.
type PatchSpec struct {
	Length, Width float64 // mm, along x and y
	Nu, Nv        int     // points along x and y
	Sigma         float64 // mm, along z, with the correlation Kernel
	Kernel        Kernel
}

// Patch draws the points of a face again and again. It is safe for concurrent
// use.
type Patch struct {
	spec  PatchSpec
	field *gaussianField
	ideal []r3.Vector
}

// NewPatch prepares the drawing of points as spec asks.
func NewPatch(spec PatchSpec) (*Patch, error) {
	if !(spec.Length > 0 && spec.Width > 0) || spec.Nu < 2 || spec.Nv < 2 {
		return nil, fmt.Errorf("simulate a face of %v by %v mm with %d by %d points: use positive lengths and at least 2 points each way",
			spec.Length, spec.Width, spec.Nu, spec.Nv)
	}
	du, dv := spec.Length/float64(spec.Nu-1), spec.Width/float64(spec.Nv-1)
	field, err := newGaussianField(straight(spec.Nu, du), straight(spec.Nv, dv), spec.Kernel)
	if err != nil {
		return nil, err
	}
	p := &Patch{spec: spec, field: field}
	for j := range spec.Nv {
		for i := range spec.Nu {
			p.ideal = append(p.ideal, r3.Vector{X: du*float64(i) - spec.Length/2, Y: dv*float64(j) - spec.Width/2})
		}
	}
	return p, nil
}

// Draw returns the points of one scan of the face, row by row along x.
func (p *Patch) Draw(rng *rand.Rand) []r3.Vector {
	pts := make([]r3.Vector, len(p.ideal))
	copy(pts, p.ideal)
	if p.spec.Sigma != 0 {
		p.field.draw2(rng, func(i int, a, _ float64) { pts[i].Z += p.spec.Sigma * a })
	}
	return pts
}
