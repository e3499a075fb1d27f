package hole

import (
	"math"

	"spotface/mesh/geom"
)

// Kind of an opening.
type Kind string

// An opening is round, a slot with round ends, or a rectangle, its corners rounded.
const (
	Round     Kind = "round"
	Slot      Kind = "slot"
	Rectangle Kind = "rectangle"
	// placed is a circle of known radius.
	placed Kind = "placed"
)

// Outline is a rounded rectangle on a face's sheet, mm: a circle where A = B = C, a slot
// where B = C.
type Outline struct {
	X, Y, Angle float64 // the middle, and the direction of the length, rad
	A, B, C     float64 // half the length, half the width, radius of the corners
}

// Circle is the outline of a round opening.
func Circle(x, y, r float64) Outline { return Outline{X: x, Y: y, A: r, B: r, C: r} }

// local returns p along the outline's length and width, from its middle.
func (o *Outline) local(p [2]float64) (u, v float64) { return o.axes().local(p) }

// axes are an outline's own: what takes many points there works out its turn but once.
type axes struct{ x, y, sin, cos float64 }

func (o *Outline) axes() axes {
	sin, cos := math.Sincos(o.Angle)
	return axes{o.X, o.Y, sin, cos}
}

func (a axes) local(p [2]float64) (u, v float64) {
	dx, dy := p[0]-a.x, p[1]-a.y
	return a.cos*dx + a.sin*dy, a.cos*dy - a.sin*dx
}

// Global is the place of a point that lies u along the length and v along the width.
func (o *Outline) Global(u, v float64) [2]float64 {
	sin, cos := math.Sincos(o.Angle)
	return [2]float64{o.X + cos*u - sin*v, o.Y + sin*u + cos*v}
}

// off returns how far outwards of the outline a local point lies, and the outline's
// normal there.
func (o *Outline) off(u, v float64) (e, nu, nv float64) {
	qu, qv := math.Abs(u)-(o.A-o.C), math.Abs(v)-(o.B-o.C)
	switch {
	case qu > 0 && qv > 0:
		l := math.Hypot(qu, qv)
		e, nu, nv = l-o.C, qu/l, qv/l
	case qu > qv:
		e, nu = qu-o.C, 1
	default:
		e, nv = qv-o.C, 1
	}
	return e, math.Copysign(nu, u), math.Copysign(nv, v)
}

// Off returns how far outwards of the outline p lies, mm.
func (o *Outline) Off(p [2]float64) float64 {
	e, _, _ := o.off(o.local(p))
	return e
}

// Perimeter is the outline's length, mm.
func (o *Outline) Perimeter() float64 { return 4 * o.quarter() }

func (o *Outline) quarter() float64 { return o.A + o.B + (math.Pi/2-2)*o.C }

// along returns where on the outline, mm counter-clockwise from the end of its length, a
// local point's foot lies.
func (o *Outline) along(u, v float64) float64 {
	au, av := math.Abs(u), math.Abs(v)
	qu, qv := au-(o.A-o.C), av-(o.B-o.C)
	var s float64
	switch {
	case qu > 0 && qv > 0:
		s = o.B - o.C + o.C*math.Atan2(qv, qu)
	case qu > qv:
		s = min(av, o.B-o.C)
	default:
		s = o.quarter() - min(au, o.A-o.C)
	}
	q := o.quarter()
	switch {
	case u >= 0 && v < 0:
		return 4*q - s
	case u < 0 && v >= 0:
		return 2*q - s
	case u < 0:
		return 2*q + s
	}
	return s
}

// at is the inverse of along: the local point on the outline, and its normal.
func (o *Outline) at(s float64) (u, v, nu, nv float64) {
	q := o.quarter()
	side := int(s/q) & 3
	s -= q * float64(side)
	if side&1 == 1 {
		s = q - s
	}
	switch b, a := o.B-o.C, o.A-o.C; {
	case s <= b:
		u, v, nu = o.A, s, 1
	case s >= q-a:
		u, v, nv = q-s, o.B, 1
	default:
		sin, cos := math.Sincos((s - b) / o.C)
		u, v, nu, nv = a+o.C*cos, b+o.C*sin, cos, sin
	}
	if side == 1 || side == 2 {
		u, nu = -u, -nu
	}
	if side >= 2 {
		v, nv = -v, -nv
	}
	return u, v, nu, nv
}

// Foot returns where round the outline the foot of p lies, rad of one turn from the end of
// its length, and how far outwards of it p lies, mm.
func (o *Outline) Foot(p [2]float64) (turn, off float64) {
	u, v := o.local(p)
	off, _, _ = o.off(u, v)
	return 2 * math.Pi * o.along(u, v) / o.Perimeter(), off
}

// Terms returns a place of the outline, as Foot counts, and how far outwards it moves with
// each of the numbers that Moved adds to.
func (o *Outline) Terms(k Kind, turn float64) (at [2]float64, by []float64) {
	u, v, nu, nv := o.at(turn / (2 * math.Pi) * o.Perimeter())
	for _, d := range k.row(u, v, nu, nv) {
		by = append(by, -d)
	}
	return o.Global(u, v), by[:numbers[k]]
}

// numbers is how many numbers an outline of each kind has.
var numbers = map[Kind]int{placed: 2, Round: 3, Slot: 5, Rectangle: 6}

// row is the derivative of off at a local point by the numbers that Moved adds to.
func (k Kind) row(u, v, nu, nv float64) [6]float64 {
	a, b := math.Abs(nu), math.Abs(nv)
	turn := nu*v - nv*u
	switch k {
	case placed, Round:
		return [6]float64{-nu, -nv, -1}
	case Slot:
		return [6]float64{-nu, -nv, turn, -a, a - 1}
	}
	return [6]float64{-nu, -nv, turn, -a, -b, a + b - 1}
}

// Moved returns the outline of kind k with d added to its numbers, kept in order: x and y in
// its own axes, then of a circle its radius, of a slot its angle, A and radius, of a rectangle
// its angle, A, B and C.
func (o Outline) Moved(k Kind, d []float64) Outline {
	m := o.Global(d[0], d[1])
	o.X, o.Y = m[0], m[1]
	switch k {
	case placed:
		return o
	case Round:
		o.A += d[2]
		o.B, o.C = o.A, o.A
		return o
	case Slot:
		o.Angle, o.A, o.C = o.Angle+d[2], o.A+d[3], o.C+d[4]
		o.B, o.A = o.C, max(o.A, o.C)
		return o
	}
	o.Angle, o.A, o.B, o.C = o.Angle+d[2], o.A+d[3], o.B+d[4], max(o.C/2, o.C+d[5])
	if o.A < o.B {
		o.A, o.B, o.Angle = o.B, o.A, o.Angle+math.Pi/2
	}
	o.C = min(o.C, o.B)
	return o
}

// Fit moves an outline of a kind to points: least squares of the distances, re-weighted by
// Tukey's biweight at 4.685 times their scale (Beaton and Tukey, Technometrics 16 (1974)
// 147-185), which is at least floor and at first leaves out what is farther than band. A step
// below settled, mm, ends it. What the points do not tell stays as it was. ok is false where
// they make no sense of it.
func (o Outline) Fit(k Kind, pts [][2]float64, band, floor, settled float64) (fitted Outline, scale float64, ok bool) {
	n := numbers[k]
	// What lies far outside is no part of it, and stays so.
	near := make([][2]float64, 0, len(pts))
	for _, p := range pts {
		if math.Hypot(p[0]-o.X, p[1]-o.Y) < 2*math.Hypot(o.A, o.B)+2*band {
			near = append(near, p)
		}
	}
	pts = near
	abs := make([]float64, 0, len(pts))
	scale = band / Tuning
	for round := range fitRounds {
		var a [6 * 6]float64
		var b [6]float64
		abs = abs[:0]
		own := o.axes()
		for _, p := range pts {
			u, v := own.local(p)
			e, nu, nv := o.off(u, v)
			t := e / (Tuning * scale)
			if t <= -1 || t >= 1 {
				continue
			}
			abs = append(abs, math.Abs(e))
			w := (1 - t*t) * (1 - t*t)
			j := k.row(u, v, nu, nv)
			for r := range n {
				for c := range n {
					a[r*n+c] += w * j[r] * j[c]
				}
				b[r] -= w * j[r] * e
			}
		}
		if len(abs) < 2*n {
			return o, scale, false
		}
		trace := 0.0
		for r := range n {
			trace += a[r*n+r]
		}
		for r := range n { // what the points leave open is kept
			a[r*n+r] += ridge * trace
		}
		if !geom.Cholesky(a[:n*n], n, 0) {
			return o, scale, false
		}
		geom.CholeskySolve(a[:n*n], b[:n])
		was := o
		o = o.Moved(k, b[:])
		if !(o.C >= 0 && o.B > 0) || o.A > mostLong*o.B || math.Abs(o.X-was.X)+math.Abs(o.Y-was.Y) > 2*was.A {
			return was, scale, false
		}
		next := max(geom.Median(abs)/0.6745, floor)
		steady := next > (1-steadyScale)*scale
		scale = min(next, scale)
		if round > 3 && steady && math.Abs(b[0])+math.Abs(b[1])+math.Abs(b[n-1]) < settled {
			break
		}
	}
	return o, scale, true
}
