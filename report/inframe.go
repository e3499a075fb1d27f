package report

import (
	"errors"
	"math"
	"slices"
	"strings"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"spotface/mesh/geom"
)

// ErrNoFrame says that a report has no datum frame: no face with a bolt circle
// or bore was found.
var ErrNoFrame = errors.New("report: no datum frame was found, so coordinates stay in the " +
	"scan's own position")

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
	return vec(f.Origin.R3().Add(f.X.R3().Mul(p[0])).Add(f.Y.R3().Mul(p[1])).
		Add(f.Z.R3().Mul(p[2])))
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
	out.Cones = changed(rep.Cones,
		func(c *Cone) { f.move(&c.Apex); f.move(&c.Point); f.turn(&c.Axis) })
	out.Spheres = changed(rep.Spheres, func(s *Sphere) { f.move(&s.Centre) })
	out.Holes, out.Studs = changed(rep.Holes, f.hole), changed(rep.Studs, f.hole)
	if rep.Bore != nil {
		out.Bore = &changed([]Hole{*rep.Bore}, f.hole)[0]
	}
	out.JointCovariance = rep.jointIn(f)
	out.BoltCircles = changed(rep.BoltCircles,
		func(c *BoltCircle) { f.move(&c.Centre); f.turn(&c.Axis) })
	out.Patterns = changed(rep.Patterns,
		func(p *HolePattern) { f.move(&p.Centre); f.turn(&p.Direction) })
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
		t := turned(turn, mat.NewDense(2, 2, slices.Concat(c[0][:], c[1][:])))
		h.Uncertainty.CentreCovariance = &[2][2]float64{{t.At(0, 0), t.At(0, 1)},
			{t.At(1, 0), t.At(1, 1)}}
	}
}

// turnOf returns the axes geom.Basis of an axis as it lies in the frame, in those of it as
// it lies in the scan: covariances are along these.
func (f *Frame) turnOf(axis Vec) *mat.Dense {
	t := mat.NewDense(2, 2, nil)
	n1, n2 := geom.Basis(f.Direction(axis).R3())
	o1, o2 := geom.Basis(axis.R3())
	for i, n := range []r3.Vector{n1, n2} {
		for k, o := range []r3.Vector{o1, o2} {
			t.Set(i, k, n.Dot(f.Direction(vec(o)).R3()))
		}
	}
	return t
}

// turned is the covariance t c tᵀ.
func turned(t, c *mat.Dense) *mat.Dense {
	var out mat.Dense
	out.Product(t, c, t.T())
	return &out
}

// jointIn is the joint covariance along the axes that holes have in the frame.
func (rep *Report) jointIn(f *Frame) *JointCovariance {
	j := rep.JointCovariance
	if j == nil || len(j.Parameters) == 0 {
		return j
	}
	n := len(j.Parameters)
	turn, c := mat.NewDense(n, n, nil), mat.NewDense(n, n, slices.Concat(j.Matrix...))
	for i := 0; i < n; i += 2 {
		id, _, _ := strings.Cut(j.Parameters[i], ".")
		if h := rep.Hole(id); h != nil {
			turn.Slice(i, i+2, i, i+2).(*mat.Dense).Copy(f.turnOf(h.Axis))
		}
	}
	c = turned(turn, c)
	out := &JointCovariance{Parameters: j.Parameters}
	for i := range n {
		out.Matrix = append(out.Matrix, c.RawRowView(i))
	}
	return out
}

// place gives each hole and stud whose axis is along the frame's Z its place in the datum
// frame, with an uncertainty that has the frame's own in it. With hole h, origin o and clocking
// hole c at the distance R, all independent, small errors e move the coordinates by
//
//	e_x = h_x - o_x + (y/R) (c_y - o_y)      e_y = h_y - o_y - (x/R) (c_y - o_y)
func (rep *Report) place() {
	f := rep.Frame
	var origin, clock, radius float64 // standard uncertainties of one coordinate, mm; R
	if f != nil {
		if b := rep.Bore; b != nil && b.ID == f.Axis {
			origin = b.Uncertainty.Centre / CoverageCentre
		} else if c := rep.BoltCircle(f.Axis); c != nil {
			origin = c.Uncertainty.Centre / CoverageCentre
		}
		if c := rep.Hole(f.Clock); c != nil {
			p := f.Point(rep.inScan(c.Centre))
			clock, radius = c.Uncertainty.Centre/CoverageCentre, math.Hypot(p[0], p[1])
		}
	}
	for _, list := range [][]Hole{rep.Holes, rep.Studs} {
		for i := range list {
			h := &list[i]
			h.XY, h.Uncertainty.XY = nil, 0
			if f == nil || math.Abs(h.Axis.R3().Dot(f.Z.R3())) < alongAxis {
				continue
			}
			p := f.Point(h.Centre)
			h.XY = &[2]float64{p[0], p[1]}
			own := sq2(h.Uncertainty.Centre / CoverageCentre)
			if !(own > 0) {
				continue
			}
			turnX, turnY := 0.0, 0.0
			if radius > 0 {
				turnX, turnY = p[1]/radius, p[0]/radius
			}
			x := own + sq2(origin)*(1+sq2(turnX)) + sq2(turnX*clock)
			y := own + sq2(origin*(1-turnY)) + sq2(turnY*clock)
			h.Uncertainty.XY = Coverage * math.Sqrt(max(x, y))
		}
	}
}
