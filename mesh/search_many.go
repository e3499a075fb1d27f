package mesh

import (
	"math"
	"slices"
)

// nearestMany is nearestFew for long lists: best is a heap, largest first,
// until it is sorted at the end.
func (ix *Index) nearestMany(q Vec32, limit float32, best []found) int {
	var stack [maxDepth]branch
	worst := newFound(limit, math.MaxInt32)
	n := 0
	for top := 0; top >= 0; top-- {
		if stack[top].bound > limit*boundSlack {
			continue
		}
		var leaf int
		leaf, top = ix.descend(q, limit, &stack, top)
		for _, s := range ix.slots[ix.start(leaf):ix.start(leaf+1)] {
			d2 := squared(q[0]-s.v[0], q[1]-s.v[1], q[2]-s.v[2])
			if !(d2 <= limit) {
				continue
			}
			f := newFound(d2, s.i)
			if f > worst {
				continue
			}
			if n < len(best) {
				n++
				j := n - 1
				for ; j > 0 && best[(j-1)/2] < f; j = (j - 1) / 2 {
					best[j] = best[(j-1)/2]
				}
				best[j] = f
			} else {
				j := 0
				for {
					c := 2*j + 1
					if c+1 < n && best[c+1] > best[c] {
						c++
					}
					if c >= n || best[c] <= f {
						break
					}
					best[j] = best[c]
					j = c
				}
				best[j] = f
			}
			if n == len(best) {
				worst = best[0]
				limit = math.Float32frombits(uint32(worst >> 32))
			}
		}
	}
	slices.Sort(best[:n])
	return n
}
