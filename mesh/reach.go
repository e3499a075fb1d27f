package mesh

import (
	"context"
	"math"
)

// reachSpacings is how many spacings the points of one piece of a cloud may be
// apart where the caller does not say.
const reachSpacings = 4

// joinWithin joins all points of a cloud that lie within reach of one another.
//
// It goes leaf by leaf of the tree. Most leaves are smaller than reach, so that
// their points are one piece from the start, and most neighbouring leaves are
// found joined already by way of others.
func joinWithin(sets disjoint, s *Scan, ix *Index, reach float64) {
	if ix == nil {
		ix = NewIndex(s.Offsets, 0)
	}
	if reach <= 0 {
		// Without a deadline there is no error.
		tex, _ := EstimateTexture(context.Background(), s, ix, 0)
		reach = reachSpacings * tex.Spacing
	}
	limit := float32(reach) * float32(reach)
	leaves := 1 << ix.levels
	whole := make([]bool, leaves) // all points of a leaf are one piece
	for leaf := range leaves {
		a := ix.slots[ix.start(leaf):ix.start(leaf+1)]
		whole[leaf] = len(a) > 0
		for i := range a {
			for j := range i {
				if slotDistance(&a[i], &a[j]) <= limit {
					sets.join(a[i].i, a[j].i)
				}
			}
		}
		for i := range a {
			whole[leaf] = whole[leaf] && sets.root(a[i].i) == sets.root(a[0].i)
		}
	}
	var near []int
	for leaf := range leaves {
		a := ix.slots[ix.start(leaf):ix.start(leaf+1)]
		if len(a) == 0 {
			continue
		}
		near = ix.leavesNear(leaf, limit, near[:0])
		for _, other := range near {
			b := ix.slots[ix.start(other):ix.start(other+1)]
			both := whole[leaf] && whole[other]
			if both && sets.root(a[0].i) == sets.root(b[0].i) {
				continue
			}
			joinLeaves(sets, a, b, limit, both)
		}
	}
}

// joinLeaves joins the points of a and b within limit of one another; the
// first find does where each of them is one piece.
func joinLeaves(sets disjoint, a, b []slot, limit float32, whole bool) {
	for i := range a {
		for j := range b {
			if slotDistance(&a[i], &b[j]) <= limit {
				sets.join(a[i].i, b[j].i)
				if whole {
					return
				}
			}
		}
	}
}

// slotDistance returns the squared distance, infinite for points nowhere.
func slotDistance(a, b *slot) float32 {
	if a.v[0] == math.MaxFloat32 {
		return float32(math.Inf(1))
	}
	return squared(a.v[0]-b.v[0], a.v[1]-b.v[1], a.v[2]-b.v[2])
}

// leavesNear appends the leaves of higher number that may have points within
// limit, mm², of one of leaf's.
func (ix *Index) leavesNear(leaf int, limit float32, near []int) []int {
	a := ix.slots[ix.start(leaf):ix.start(leaf+1)]
	lo, hi := a[0].v, a[0].v
	for i := range a {
		for c := range lo {
			lo[c], hi[c] = min(lo[c], a[i].v[c]), max(hi[c], a[i].v[c])
		}
	}
	var stack [maxDepth]branch
	for top := 0; top >= 0; top-- {
		b := stack[top]
		for b.node < uint32(len(ix.splits)) {
			s := ix.splits[b.node]
			axis := s.axis % 3
			left, right := b, b
			left.node, right.node = 2*b.node+1, 2*b.node+2
			left.out[axis] = max(b.out[axis], lo[axis]-s.at)
			right.out[axis] = max(b.out[axis], s.at-hi[axis])
			toLeft := squared(left.out[0], left.out[1], left.out[2]) <= limit
			toRight := squared(right.out[0], right.out[1], right.out[2]) <= limit
			if toLeft && toRight {
				stack[top] = right
				top++
			}
			if toLeft {
				b = left
			} else {
				b = right
			}
		}
		if other := int(b.node) - len(ix.splits); other > leaf {
			near = append(near, other)
		}
	}
	return near
}
