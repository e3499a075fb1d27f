package fit

import (
	"math"
	"slices"
)

// Criterion is what a shape is fitted by, where it is not least squares.
type Criterion int

// MinimumZone makes the largest distance from the surface least. Circumscribed
// makes the smallest round shape that holds all points, Inscribed the largest
// that no point is in: what fits a bolt or a gauge pin is the inscribed cylinder
// of a hole, and the circumscribed one of a stud, not the least-squares one.
// All three stand on a few extreme points, so one stray point moves them.
const (
	MinimumZone Criterion = iota
	Circumscribed
	Inscribed
)

// Zone is how well points fill a shape under a criterion.
type Zone struct {
	// Width is the largest less the smallest signed distance, mm: the form
	// error under MinimumZone.
	Width float64
	// Support are the points that hold the shape, ascending.
	Support []int
	// Gap is by how much, mm, a small step could still better the criterion
	// to first order: zero at an optimum, but for rounding. It is the gap
	// between the linear program there and its dual, allowed a step of a
	// millionth of the points' spread.
	Gap   float64
	Iters int
}

// zoneModel is a model with a surface that can be moved in and out.
type zoneModel interface {
	model
	// grow moves the trial state's surface outward by e.
	grow(e float64)
	// size is the trial state's radius (zero for a plane), slope its derivative
	// by the parameters.
	size() float64
	slope() [maxParams]float64
}

// zoneRounding is what a residual is sure to, in scaled units.
const zoneRounding = 4e-16

// zoneState is a fit by a criterion under iteration.
type zoneState struct {
	m    zoneModel
	c    *cloud
	by   Criterion
	f    []float64
	j    [maxParams][]float64
	b    block
	goal float64 // at the accepted state: half width, or ± radius
}

// look fills residuals and Jacobian at the trial state, moves the surface to
// where the criterion has it, and returns the goal.
func (z *zoneState) look() float64 {
	n, p := len(z.c.x), z.m.params()
	fill := func() (lo, hi float64) {
		lo, hi = math.Inf(1), math.Inf(-1)
		for i := 0; i < n; i += blockRows {
			end := min(i+blockRows, n)
			z.m.rows(z.c, i, end, &z.b)
			copy(z.f[i:end], z.b.f[:end-i])
			for k := range p {
				copy(z.j[k][i:end], z.b.j[k][:end-i])
			}
			for _, v := range z.b.f[:end-i] {
				lo, hi = min(lo, v), max(hi, v)
			}
		}
		return lo, hi
	}
	lo, hi := fill()
	switch z.by {
	case Circumscribed:
		z.m.grow(hi)
	case Inscribed:
		z.m.grow(lo)
	default:
		z.m.grow((lo + hi) / 2)
	}
	lo, hi = fill()
	switch z.by {
	case Circumscribed:
		return z.m.size()
	case Inscribed:
		return -z.m.size()
	}
	return (hi - lo) / 2
}

// step solves the linear program about the accepted state within a box of
// half size box, in units of residual. It returns the step, the bettering of
// the goal that it promises, and the points that hold it.
func (z *zoneState) step(box float64) (d [maxParams]float64, promise float64, support []int, ok bool) {
	n, p := len(z.c.x), z.m.params()
	q := p
	var c [zoneVars]float64
	var basis [zoneVars]lpRow
	if z.by == MinimumZone {
		q = p + 1
		c[p] = 1
		basis[p] = lpRow{id: -1}
		basis[p].a[p] = -1
	} else {
		s := z.m.slope()
		for k := range p {
			c[k] = s[k]
			if z.by == Inscribed {
				c[k] = -s[k]
			}
		}
	}
	var bound [maxParams]float64
	for k := range p {
		big := 0.0
		for _, v := range z.j[k] {
			big = max(big, math.Abs(v))
		}
		bound[k] = box / max(big, 1e-12)
		sign := 1.0
		if c[k] > 0 {
			sign = -1
		}
		basis[k] = lpRow{b: bound[k], id: -1}
		basis[k].a[k] = sign
	}
	half := z.goal
	scratch := make([]float64, n)
	y, ok := dualSimplex(&c, q, &basis, func(y *[zoneVars]float64) (lpRow, bool) {
		worst := lpRow{id: -1}
		most := zoneRounding
		for k := range p {
			if math.Abs(y[k]) > bound[k]*(1+1e-9) {
				worst = lpRow{b: bound[k], id: -1}
				worst.a[k] = math.Copysign(1, y[k])
				return worst, true
			}
		}
		copy(scratch, z.f)
		for k := range p {
			if yk := y[k]; yk != 0 {
				for i, v := range z.j[k] {
					scratch[i] += yk * v
				}
			}
		}
		at, sign := -1, 1.0
		for i, v := range scratch {
			switch z.by {
			case Circumscribed:
				if v > most {
					most, at, sign = v, i, 1
				}
			case Inscribed:
				if -v > most {
					most, at, sign = -v, i, -1
				}
			default:
				if a := math.Abs(v) - y[p]; a > most {
					most, at, sign = a, i, math.Copysign(1, v)
				}
			}
		}
		if at < 0 {
			return worst, false
		}
		worst.id = at
		for k := range p {
			worst.a[k] = sign * z.j[k][at]
		}
		worst.b = -sign * z.f[at]
		if z.by == MinimumZone {
			worst.a[p] = -1
		}
		return worst, true
	})
	if !ok {
		return d, 0, nil, false
	}
	copy(d[:], y[:p])
	if z.by == MinimumZone {
		promise = half - y[p]
	} else {
		for k := range p {
			promise -= c[k] * y[k]
		}
	}
	for i := range q {
		if basis[i].id >= 0 {
			support = append(support, basis[i].id)
		}
	}
	slices.Sort(support)
	return d, promise, slices.Compact(support), true
}

// zone brings m, whose accepted state is the start, to the criterion's
// optimum near it: a linear program of all points in each step (Madsen, J. Inst.
// Math. Appl. 16 (1975) 321–328, in a trust region), which converges
// quadratically where as many points hold the shape as it has freedom. False
// where there is none: an inscribed shape that grows through a side that the
// points leave open.
func zone(m zoneModel, c *cloud, by Criterion) (Zone, bool) {
	z := &zoneState{m: m, c: c, by: by, f: make([]float64, len(c.x))}
	for k := range m.params() {
		z.j[k] = make([]float64, len(c.x))
	}
	var zero [maxParams]float64
	m.try(&zero)
	z.goal = z.look()
	m.accept()
	if math.IsNaN(z.goal) {
		return Zone{}, false
	}
	var out Zone
	box := 0.1
	if by == MinimumZone {
		box = max(2*z.goal, 1e-6)
	}
	fails, first := 0, math.Abs(z.goal)
	for out.Iters < 300 && box > 1e-17 && fails < 40 {
		out.Iters++
		d, promise, support, ok := z.step(box)
		if !ok {
			box /= 4
			fails++
			continue
		}
		out.Support = support
		if promise < zoneRounding {
			break
		}
		goal := math.Inf(1)
		if m.try(&d) {
			goal = z.look()
		}
		gain := (z.goal - goal) / promise
		if !(goal < z.goal) {
			m.try(&zero)
			z.look()
			box /= 4
			fails++
			continue
		}
		fails = 0
		m.accept()
		z.goal = goal
		if by == Inscribed && -goal > 1.5*first {
			return out, false // it grows out of an open side
		}
		switch {
		case gain < 0.25:
			box /= 4
		case gain > 0.75:
			box *= 2
		}
	}
	m.try(&zero)
	z.look()
	m.accept()
	if _, promise, support, ok := z.step(1e-6); ok {
		out.Gap = max(promise, 0) * c.scale
		if len(support) > 0 {
			out.Support = support
		}
	} else {
		out.Gap = math.Inf(1)
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range z.f {
		lo, hi = min(lo, v), max(hi, v)
	}
	out.Width = (hi - lo) * c.scale
	return out, true
}

// grown is an arc with the same centre whose residuals are all less by e.
func (a arc) grown(e float64) arc {
	a.at = a.at.Sub(a.n.Mul(e))
	if a.k != 0 {
		a.k = 1 / (1/a.k + e)
	}
	return a
}

func (m *circle2Model) grow(e float64) { m.next = m.next.grown(e) }
func (m *circle2Model) size() float64  { return math.Abs(1 / m.next.k) }
func (m *circle2Model) slope() (s [maxParams]float64) {
	s[2] = -math.Copysign(1/(m.cur.k*m.cur.k), m.cur.k)
	return s
}

func (m *sphereModel) grow(e float64) { m.next = m.next.grown(e) }
func (m *sphereModel) size() float64  { return math.Abs(1 / m.next.k) }
func (m *sphereModel) slope() (s [maxParams]float64) {
	s[3] = -math.Copysign(1/(m.cur.k*m.cur.k), m.cur.k)
	return s
}

func (m *cylinderModel) grow(e float64) { m.next = m.next.grown(e) }
func (m *cylinderModel) size() float64  { return math.Abs(1 / m.next.k) }
func (m *cylinderModel) slope() (s [maxParams]float64) {
	s[2] = -math.Copysign(1/(m.cur.k*m.cur.k), m.cur.k)
	return s
}

// tiltPlane is a plane that moves.
type tiltPlane struct {
	planeModel
	cur, next planeModel
}

func (m *tiltPlane) accept() { m.cur = m.next }

func (m *tiltPlane) try(d *[maxParams]float64) bool {
	p := m.cur
	p.at = p.at.Add(p.n.Mul(d[0]))
	p.n = unit(p.n.Add(p.u.Mul(d[1])).Add(p.v.Mul(d[2])))
	p.u, p.v = Frame(p.n)
	m.next = p
	return true
}

func (m *tiltPlane) rows(c *cloud, lo, hi int, b *block) { m.next.rows(c, lo, hi, b) }
func (m *tiltPlane) grow(e float64)                      { m.next.at = m.next.at.Add(m.next.n.Mul(e)) }
func (m *tiltPlane) size() float64                       { return 0 }
func (m *tiltPlane) slope() (s [maxParams]float64)       { return s }
