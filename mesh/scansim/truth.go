package scansim

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"gonum.org/v1/gonum/mat"
)

// Truth is what is exactly true of a simulated scan, in the scan's frame.
type Truth struct {
	Pose     Pose // from the part's frame
	Faces    []Face
	Holes    []Hole
	Patterns []Pattern
	// Labels holds the face id of each triangle of a mesh or point of a cloud,
	// or LabelEdge or LabelOutlier.
	Labels []uint16
	// Noise is the standard deviation across the surface, mm.
	Noise float64
}

// newTruth carries the part's truth to the scan's frame.
func newTruth(p *Part, faces []Face, g Pose) Truth {
	t := Truth{Pose: g}
	for _, f := range faces {
		t.Faces = append(t.Faces, f.moved(g))
	}
	for _, h := range p.Holes {
		h.Centre, h.Axis, h.Direction = g.Apply(h.Centre), g.Turn(h.Axis), g.Turn(h.Direction)
		t.Holes = append(t.Holes, h)
	}
	for _, b := range p.Patterns {
		b.Centre, b.FitCentre = g.Apply(b.Centre), g.Apply(b.FitCentre)
		b.Axis, b.X = g.Turn(b.Axis), g.Turn(b.X)
		t.Patterns = append(t.Patterns, b)
	}
	return t
}

// Face returns the face with the given id; its ID is 0 if there is none.
func (t *Truth) Face(id uint16) Face {
	if id == 0 || int(id) > len(t.Faces) {
		return Face{}
	}
	return t.Faces[id-1]
}

// faceAt returns the id of the face that q lies on, or LabelEdge where another
// face begins within margin of it. It looks at q and at eight points around it
// in the tangent plane.
func faceAt(s *Solid, q r3.Vector, margin float64) uint16 {
	s, _ = s.prune(q, margin)
	_, from := s.active(q)
	id := from.leaf.id
	if id == LabelEdge || id == LabelOutlier || s == from {
		return id
	}
	n := from.leaf.face.Normal(q)
	e1 := n.Ortho()
	e2 := n.Cross(e1)
	const d = 0.7071067811865476
	around := [8][2]float64{{1, 0}, {d, d}, {0, 1}, {-d, d}, {-1, 0}, {-d, -d}, {0, -1}, {d, -d}}
	for _, w := range around {
		if _, f := s.active(q.Add(e1.Mul(margin * w[0])).Add(e2.Mul(margin * w[1]))); f.leaf.id != id {
			return LabelEdge
		}
	}
	return id
}

// Pattern is a bolt circle, as designed and as made.
type Pattern struct {
	Name          string
	Holes         []int // into the part's holes, in the order of Nominal
	Centre, Axis  r3.Vector
	X             r3.Vector // Nominal counts from it; perpendicular to Axis, both unit vectors
	PitchDiameter float64
	Nominal       []s1.Angle // of each hole as designed, counter-clockwise about Axis
	// FitCentre and FitPitchDiameter are of the least-squares circle through
	// the hole centres (orthogonal distance). BestFit is each hole's deviation
	// about that centre against the design turned to fit best, so that its
	// mean is zero. With fewer than three holes it is the design circle.
	FitCentre        r3.Vector
	FitPitchDiameter float64
	BestFit          []s1.Angle
}

// fitted returns the pattern with what is true of it as made with the given holes.
func (b Pattern) fitted(holes []Hole) Pattern {
	y := b.Axis.Cross(b.X)
	xy := make([][2]float64, len(b.Holes))
	for i, h := range b.Holes {
		d := holes[h].Centre.Sub(b.Centre)
		xy[i] = [2]float64{d.Dot(b.X), d.Dot(y)}
	}
	cx, cy, r := 0.0, 0.0, b.PitchDiameter/2
	if len(xy) >= 3 {
		cx, cy, r = circleThrough(xy)
	}
	b.FitCentre, b.FitPitchDiameter = b.Centre.Add(b.X.Mul(cx)).Add(y.Mul(cy)), 2*r
	b.BestFit = nil
	var lead, mean s1.Angle
	for i, p := range xy {
		a := s1.Angle(math.Atan2(p[1]-cy, p[0]-cx)) - b.Nominal[i]
		if i == 0 {
			lead = a
		}
		// In (-180, 180] degrees.
		a = s1.Angle(math.Remainder((a - lead).Radians(), 2*math.Pi))
		b.BestFit = append(b.BestFit, a)
		mean += a / s1.Angle(len(xy))
	}
	for i := range b.BestFit {
		b.BestFit[i] -= mean
	}
	return b
}

// circleThrough returns the least-squares circle through three points or more, by
// Gauss-Newton on the orthogonal distance from the mean: hole centres lie close to a
// circle, where it converges to rounding in a few steps.
func circleThrough(xy [][2]float64) (cx, cy, r float64) {
	for _, p := range xy {
		cx += p[0] / float64(len(xy))
		cy += p[1] / float64(len(xy))
	}
	rows, off := mat.NewDense(len(xy), 3, nil), mat.NewVecDense(len(xy), nil)
	for range 200 {
		// d = |p - c| - r, u = (p - c)/|p - c|:  ∂d/∂c = -u, ∂d/∂r = -1.
		for i, p := range xy {
			d := math.Hypot(p[0]-cx, p[1]-cy)
			rows.SetRow(i, []float64{(p[0] - cx) / d, (p[1] - cy) / d, 1})
			off.SetVec(i, d-r)
		}
		var step mat.VecDense
		if step.SolveVec(rows, off) != nil {
			break
		}
		cx, cy, r = cx+step.AtVec(0), cy+step.AtVec(1), r+step.AtVec(2)
		if mat.Norm(&step, 2) < 1e-14*r {
			break
		}
	}
	return cx, cy, r
}
