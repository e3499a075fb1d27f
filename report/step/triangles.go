package step

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r2"
	"github.com/golang/geo/r3"
)

// ErrOpen says that a body has faces that end at nothing.
var ErrOpen = errors.New("step: the body is open: triangles of it would enclose nothing")

// Triangles returns a closed mesh of the body, wound counter-clockwise seen from outside.
// Its corners lie on the body's edges and walls, and no chord leaves its arc by more than
// chord, mm: holes are too small and rods too thin by at most twice that across.
//
// Floors are cut into triangles by clipping ears, holes bridged to the outside first
// (Eberly 2002, Triangulation by ear clipping; Meisters 1975, Amer. Math. Monthly 82).
//
// Errors: ErrOpen; a chord that is not above zero; a floor whose contours cross.
func (b *Body) Triangles(chord float64) ([]r3.Vector, [][3]int32, error) {
	if !(chord > 0) {
		return nil, nil, fmt.Errorf("step: a chord error of %g mm: give a length above zero", chord)
	}
	if len(b.Open()) > 0 {
		return nil, nil, ErrOpen
	}
	m := &triangles{index: map[r3.Vector]int32{}}
	for _, f := range b.Floors {
		if err := m.floor(f, chord); err != nil {
			return nil, nil, err
		}
	}
	for _, w := range b.Walls {
		m.wall(w, chord)
	}
	return m.points, m.corners, nil
}

type triangles struct {
	points  []r3.Vector
	corners [][3]int32
	index   map[r3.Vector]int32
}

// add takes a triangle, turned over where out is false.
func (m *triangles) add(a, b, c r3.Vector, out bool) {
	var t [3]int32
	for i, p := range [3]r3.Vector{a, b, c} {
		k, ok := m.index[p]
		if !ok {
			k = int32(len(m.points))
			m.index[p] = k
			m.points = append(m.points, p)
		}
		t[i] = k
	}
	if !out {
		t[1], t[2] = t[2], t[1]
	}
	m.corners = append(m.corners, t)
}

// chords are the points of segment i from its start on, its end left out.
func (c Contour) chords(i int, chord float64) []r2.Point {
	// The sagitta of a chord over the angle t is r (1 - cos t/2); six chords at least.
	half := math.Acos(max(math.Cos(math.Pi/6), 1-chord/max(chord, math.Abs(c[i].Radius))))
	n := max(1, int(math.Ceil(math.Abs(c.turn(i))/(2*half))))
	out := make([]r2.Point, n)
	out[0] = c[i].Start
	for k := 1; k < n; k++ {
		out[k] = c.point(i, float64(k)/float64(n))
	}
	return out
}

func (c Contour) polygon(chord float64) []r2.Point {
	var out []r2.Point
	for i := range c {
		out = append(out, c.chords(i, chord)...)
	}
	return out
}

// wall joins the chords of both ends, each of which may have its own number.
func (m *triangles) wall(w Wall, chord float64) {
	for s := range w.Low {
		low := append(w.Low.chords(s, chord), w.Low.end(s))
		high := append(w.High.chords(s, chord), w.High.end(s))
		nl, nh := len(low)-1, len(high)-1
		for i, j := 0, 0; i < nl || j < nh; {
			if (i+1)*nh <= (j+1)*nl {
				m.add(at(low[i], w.Z0), at(low[i+1], w.Z0), at(high[j], w.Z1), !w.Internal)
				i++
			} else {
				m.add(at(low[i], w.Z0), at(high[j+1], w.Z1), at(high[j], w.Z1), !w.Internal)
				j++
			}
		}
	}
}

func (m *triangles) floor(f Floor, chord float64) error {
	ring := f.Outer.polygon(chord)
	var holes [][]r2.Point
	for _, c := range f.Inner {
		h := c.polygon(chord)
		slices.Reverse(h)
		right := 0
		for i, p := range h {
			if toTheRight(p, h[right]) > 0 {
				right = i
			}
		}
		holes = append(holes, slices.Concat(h[right:], h[:right]))
	}
	// A bridge to the right of the rightmost point of a hole meets no hole that is left.
	slices.SortStableFunc(holes, func(a, b []r2.Point) int { return toTheRight(b[0], a[0]) })
	for _, h := range holes {
		i := bridge(ring, h[0])
		if i < 0 {
			return fmt.Errorf("step: the contours of face %s cross", f.Name)
		}
		ring = slices.Concat(ring[:i+1], h, h[:1], ring[i:])
	}
	for len(ring) > 3 {
		i := ear(ring)
		if i < 0 {
			return fmt.Errorf("step: the contours of face %s cross", f.Name)
		}
		m.add(at(before(ring, i), f.Z), at(ring[i], f.Z), at(after(ring, i), f.Z), f.Up)
		ring = slices.Delete(ring, i, i+1)
	}
	m.add(at(ring[0], f.Z), at(ring[1], f.Z), at(ring[2], f.Z), f.Up)
	return nil
}

// toTheRight compares points from left to right, those above each other from below, so that of
// two holes which end at one X one comes first.
func toTheRight(a, b r2.Point) int {
	return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y))
}

func before(ring []r2.Point, i int) r2.Point { return ring[(i+len(ring)-1)%len(ring)] }
func after(ring []r2.Point, i int) r2.Point  { return ring[(i+1)%len(ring)] }

// turnsLeft is above zero where a, b, c turn left.
func turnsLeft(a, b, c r2.Point) float64 { return b.Sub(a).Cross(c.Sub(a)) }

// bridge returns the corner of the ring nearest to p, to its right, that p sees.
func bridge(ring []r2.Point, p r2.Point) int {
	best, nearest := -1, math.Inf(1)
	for i, q := range ring {
		d := q.Sub(p).Norm()
		if toTheRight(q, p) < 0 || d >= nearest {
			continue
		}
		a, b := before(ring, i), after(ring, i)
		inside := turnsLeft(q, b, p) > 0 && turnsLeft(a, q, p) > 0
		if turnsLeft(a, q, b) < 0 { // a reflex corner
			inside = turnsLeft(q, b, p) > 0 || turnsLeft(a, q, p) > 0
		}
		if inside && !crosses(ring, p, q) {
			best, nearest = i, d
		}
	}
	return best
}

func crosses(ring []r2.Point, p, q r2.Point) bool {
	for i, a := range ring {
		b := after(ring, i)
		if a == q || b == q {
			continue
		}
		if turnsLeft(a, b, p)*turnsLeft(a, b, q) <= 0 && turnsLeft(p, q, a)*turnsLeft(p, q, b) <= 0 {
			return true
		}
	}
	return false
}

// ear returns the corner whose triangle is least thin of those that hold no other corner,
// -1 where there is none.
func ear(ring []r2.Point) int {
	best, shape := -1, 0.0
	for i, p := range ring {
		a, b := before(ring, i), after(ring, i)
		area, long := turnsLeft(a, p, b), b.Sub(a).Dot(b.Sub(a))
		if area <= 0 || area/long <= shape {
			continue
		}
		empty := true
		for j, q := range ring {
			if q == a || q == p || q == b || turnsLeft(before(ring, j), q, after(ring, j)) > 0 {
				continue
			}
			if turnsLeft(a, p, q) >= 0 && turnsLeft(p, b, q) >= 0 && turnsLeft(b, a, q) >= 0 {
				empty = false
				break
			}
		}
		if empty {
			best, shape = i, area/long
		}
	}
	return best
}
