package segment

import (
	"math"
	"slices"
)

// dropBands gives up cones and cylinders that are only the bands by which a
// doubly curved surface was drawn: a torus, a turned profile. Such bands follow
// each other over small and similar turns and are of similar length.
func (f *facetFinder) dropBands() {
	type side struct {
		to   int
		turn float64
	}
	next := make([][]side, len(f.bodies))
	length := make([]float64, len(f.bodies))
	for i := range f.bodies {
		b := &f.bodies[i]
		point, axis, ok := axisOf(b.surface)
		if !ok {
			continue
		}
		lo, hi := f.extent(b, point, axis)
		length[i] = hi - lo
		if c, ok := b.surface.(facetCon); ok {
			length[i] /= math.Cos(c.HalfAngle.Radians())
		}
		seen := map[int32]bool{int32(i): true}
		for _, id := range b.panels {
			for _, l := range f.panels[id].links {
				j := f.owner[l.to]
				if j < 0 || seen[j] || l.angle > maxStep {
					continue
				}
				seen[j] = true
				turn := l.angle
				if !l.convex {
					turn = -turn
				}
				next[i] = append(next[i], side{int(j), turn})
			}
		}
	}
	near := func(x, y, ratio float64) bool { return x*y > 0 && x/y < ratio && y/x < ratio }
	drop := make([]bool, len(f.bodies))
	for i := range f.bodies {
		if len(next[i]) != 2 {
			continue
		}
		p, q := next[i][0], next[i][1]
		if length[p.to] == 0 || length[q.to] == 0 || !near(p.turn, q.turn, 1.5) {
			continue
		}
		// Three bands in a row count if they are equal, four if only alike.
		equal := near(p.turn, q.turn, 1.1) && near(length[i], length[p.to], 1.1) && near(length[i], length[q.to], 1.1)
		alike := near(length[i], length[p.to], 2.5) && near(length[i], length[q.to], 2.5)
		longer := false
		for _, e := range []side{p, q} {
			for _, g := range next[e.to] {
				if g.to != i && length[g.to] > 0 && near(length[g.to], length[i], 2.5) && near(g.turn, e.turn, 1.5) {
					longer = true
				}
			}
		}
		if equal || alike && longer {
			drop[i], drop[p.to], drop[q.to] = true, true, true
		}
	}
	if !slices.Contains(drop, true) {
		return
	}
	kept := f.bodies[:0]
	for i, b := range f.bodies {
		if !drop[i] {
			kept = append(kept, b)
		}
	}
	f.bodies = kept
	f.join()
}
