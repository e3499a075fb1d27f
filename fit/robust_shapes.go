package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// RobustCircle2To fits a circle to points in a plane of which up to two in
// five, or so, do not belong to it: burrs, chamfers, dust. The noise need not
// be known. See reject for the method; the fit that comes back is Circle2To's
// with Rejection.Weights, and its covariance of the points that belong. Errors:
// those of Circle2To, and *AmbiguousError with the answer.
func RobustCircle2To(xy [][2]float64, opt RobustOptions) (Circle2Fit, Rejection, error) {
	pts := make([]r3.Vector, len(xy))
	for i, p := range xy {
		pts[i] = r3.Vector{X: p[0], Y: p[1]}
	}
	c, err := columns("circle", pts, Options{}, 3)
	if err != nil {
		return Circle2Fit{}, Rejection{}, err
	}
	_, rej, err := reject("circle", circle2Shape(), c, opt)
	if rej.Weights == nil {
		return Circle2Fit{}, rej, err
	}
	f, ferr := Circle2To(xy, Options{Weights: rej.Weights, MaxIter: opt.MaxIter})
	if ferr != nil {
		err = ferr
	}
	return f, rej, err
}

// RobustPlaneTo fits a plane likewise.
func RobustPlaneTo(pts []r3.Vector, opt RobustOptions) (PlaneFit, Rejection, error) {
	c, err := columns("plane", pts, Options{}, 3)
	if err != nil {
		return PlaneFit{}, Rejection{}, err
	}
	_, rej, err := reject("plane", &planeShape{b: new(block)}, c, opt)
	if rej.Weights == nil {
		return PlaneFit{}, rej, err
	}
	f, ferr := PlaneTo(pts, Options{Weights: rej.Weights, MaxIter: opt.MaxIter})
	if ferr != nil {
		err = ferr
	}
	return f, rej, err
}

// RobustSphereTo fits a sphere likewise.
func RobustSphereTo(pts []r3.Vector, opt RobustOptions) (SphereFit, Rejection, error) {
	c, err := columns("sphere", pts, Options{}, 4)
	if err != nil {
		return SphereFit{}, Rejection{}, err
	}
	shape := &modelShape{points: 4, b: new(block), make: sphereThrough, copy: func(m model) model {
		o := *m.(*sphereModel)
		return &o
	}}
	_, rej, err := reject("sphere", shape, c, opt)
	if rej.Weights == nil {
		return SphereFit{}, rej, err
	}
	f, ferr := SphereTo(pts, Options{Weights: rej.Weights, MaxIter: opt.MaxIter})
	if ferr != nil {
		err = ferr
	}
	return f, rej, err
}

// RobustCylinderAlong fits a cylinder along a held axis likewise.
func RobustCylinderAlong(axis r3.Vector, pts []r3.Vector, opt RobustOptions) (CylinderFit, Rejection, error) {
	if !finite(axis) || axis.Norm() == 0 {
		return CylinderFit{}, Rejection{}, &InputError{"cylinder", -1, axis, "the axis held needs a direction"}
	}
	c, err := columns("cylinder", pts, Options{}, 3)
	if err != nil {
		return CylinderFit{}, Rejection{}, err
	}
	w := unit(axis)
	e1, e2 := Frame(w)
	_, rej, err := reject("cylinder", circle2Shape(), c.along(e1, e2, w), opt)
	if rej.Weights == nil {
		return CylinderFit{}, rej, err
	}
	f, ferr := CylinderAlong(axis, pts, Options{Weights: rej.Weights, MaxIter: opt.MaxIter})
	if ferr != nil {
		err = ferr
	}
	return f, rej, err
}

// RobustCircleTo fits a circle in space likewise: what does not belong to its
// plane is left out, then what does not belong to the circle in it.
func RobustCircleTo(pts []r3.Vector, opt RobustOptions) (CircleFit, Rejection, error) {
	p, rej, err := RobustPlaneTo(pts, opt)
	if err != nil {
		return CircleFit{}, rej, err
	}
	_, on, err := RobustCylinderAlong(p.Normal, pts, opt)
	if on.Weights == nil {
		return CircleFit{}, rej, err
	}
	rej.Rejected = 0
	var kept float64
	for i, w := range on.Weights {
		rej.Weights[i] *= w
		if rej.Weights[i] < 0.5 {
			rej.Rejected++
		}
		if rej.Weights[i] < 0.02 {
			rej.Weights[i] = 0
		}
		kept += rej.Weights[i]
	}
	rej.Share = 1 - kept/float64(len(pts))
	rej.Noise = max(rej.Noise, on.Noise)
	f, ferr := CircleTo(pts, Options{Weights: rej.Weights, MaxIter: opt.MaxIter})
	if ferr != nil {
		err = ferr
	}
	return f, rej, err
}

// RobustCylinderTo fits a cylinder likewise, without a start. Its samples are of
// 8 points and searched like a cylinder of their own, so that 40 of them are
// drawn where Samples is zero, enough for one point in five bad.
func RobustCylinderTo(pts []r3.Vector, opt RobustOptions) (CylinderFit, Rejection, error) {
	c, err := columns("cylinder", pts, Options{}, 8)
	if err != nil {
		return CylinderFit{}, Rejection{}, err
	}
	if opt.Samples <= 0 {
		opt.Samples = 40
	}
	shape := &modelShape{points: 8, b: new(block), make: cylinderAmong, copy: func(m model) model {
		o := *m.(*cylinderModel)
		return &o
	}}
	best, rej, err := reject("cylinder", shape, c, opt)
	if rej.Weights == nil {
		return CylinderFit{}, rej, err
	}
	a := best.(*modelShape).m.(*cylinderModel).cur
	if a.k == 0 {
		return CylinderFit{}, rej, &FlatError{Feature: "cylinder"}
	}
	start := Cylinder{c.back(a.centre()), orient(a.w), c.scale / math.Abs(a.k)}
	f, ferr := CylinderFrom(start, pts, Options{Weights: rej.Weights, MaxIter: opt.MaxIter})
	if ferr != nil {
		err = ferr
	}
	return f, rej, err
}

// cylinderAmong searches the cylinder of a few points.
func cylinderAmong(p []r3.Vector) (model, bool) {
	c, err := columns("cylinder", p, Options{}, 5)
	if err != nil {
		return nil, false
	}
	m, _, err := cylinderStart(c, r3.Vector{}, Options{MaxIter: 20})
	if err != nil || m.cur.k == 0 {
		return nil, false
	}
	// From its own scale and centre to the caller's.
	ctr := c.back(m.cur.centre())
	return &cylinderModel{cur: arcAt(ctr, m.cur.w, c.scale/math.Abs(m.cur.k))}, true
}

func circle2Shape() candidateShape {
	return &modelShape{points: 3, b: new(block), make: circleThrough, copy: func(m model) model {
		o := *m.(*circle2Model)
		return &o
	}}
}

// circleThrough makes the circle through three points of the plane z = 0, by
// the perpendicular bisectors.
func circleThrough(p []r3.Vector) (model, bool) {
	a, b := p[1].Sub(p[0]), p[2].Sub(p[0])
	d := 2 * (a.X*b.Y - a.Y*b.X)
	aa, bb := a.X*a.X+a.Y*a.Y, b.X*b.X+b.Y*b.Y
	if math.Abs(d) <= 1e-9*(aa+bb) {
		return nil, false
	}
	c := r3.Vector{X: (b.Y*aa - a.Y*bb) / d, Y: (a.X*bb - b.X*aa) / d}
	r := math.Hypot(c.X, c.Y)
	ctr := r3.Vector{X: p[0].X + c.X, Y: p[0].Y + c.Y}
	return &circle2Model{cur: arcAt(ctr, r3.Vector{Z: 1}, r)}, true
}

// sphereThrough makes the sphere through four points: 2 (pi - p0)·c = |pi - p0|².
func sphereThrough(p []r3.Vector) (model, bool) {
	a, b, d := p[1].Sub(p[0]), p[2].Sub(p[0]), p[3].Sub(p[0])
	n := b.Cross(d)
	det := 2 * a.Dot(n)
	if size := a.Norm() * b.Norm() * d.Norm(); !(math.Abs(det) > 1e-9*size) {
		return nil, false
	}
	c := n.Mul(a.Norm2()).Add(d.Cross(a).Mul(b.Norm2())).Add(a.Cross(b).Mul(d.Norm2())).Mul(1 / det)
	r := c.Norm()
	ctr := p[0].Add(c)
	m := &sphereModel{}
	m.cur.k = 1 / r
	m.cur.n = r3.Vector{Z: 1}
	if l := ctr.Norm(); l > 1e-6*r {
		m.cur.n = unit(ctr)
	}
	m.cur.at = ctr.Sub(m.cur.n.Mul(r))
	return m, true
}

// planeShape is a plane under robust search.
type planeShape struct {
	m planeModel
	b *block
}

func (s *planeShape) need() int { return 3 }

func (s *planeShape) clone() candidateShape {
	o := *s
	return &o
}

func (s *planeShape) through(c *cloud, at []int) bool {
	var p [3]r3.Vector
	for k, i := range at {
		p[k] = r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]}
	}
	a, b := p[1].Sub(p[0]), p[2].Sub(p[0])
	n := a.Cross(b)
	if !(n.Norm() > 1e-9*a.Norm()*b.Norm()) {
		return false
	}
	s.m.at, s.m.n = p[0], unit(n)
	return true
}

func (s *planeShape) refit(c *cloud, _ int) bool {
	mean, dir, val := principal(c)
	if !(val[1] > val[0]) {
		return false
	}
	s.m.at, s.m.n = mean, dir[0]
	return true
}

func (s *planeShape) residuals(c *cloud, r []float64) {
	for i := range r {
		r[i] = r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]}.Sub(s.m.at).Dot(s.m.n)
	}
}
