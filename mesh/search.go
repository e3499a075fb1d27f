package mesh

import "math"

// Neighbour is a point found and its squared distance, mm².
type Neighbour struct {
	I  int32
	D2 float32
}

// branch is a subtree still to be searched: its node, its range of slots and
// how far the place asked for lies outside it along each axis.
type branch struct {
	node, lo, hi int32
	out          [3]float32
}

// maxDepth is more levels than a tree over 2^31 points has.
const maxDepth = 32

// squared returns x² + y² + z². The conversions forbid a fused multiply-add,
// so that the sum is the same on every machine, and, being made of monotone
// steps in one order, no point of a subtree can come out nearer than the
// subtree's own bound: pruning is exact in spite of rounding.
func squared(x, y, z float32) float32 {
	return float32(float32(x*x)+float32(y*y)) + float32(z*z)
}

// Nearest appends to buf the k points nearest to q, nearest first, points of
// equal distance by number, within maxDist mm (inclusive) if that is positive.
// A point of the index at q itself is among them. It allocates only where buf
// is too short. Safe for concurrent use.
func (ix *Index) Nearest(q Vec32, k int, maxDist float32, buf []Neighbour) []Neighbour {
	if k <= 0 || len(ix.slots) == 0 {
		return buf
	}
	base := len(buf)
	limit := float32(math.MaxFloat32)
	if maxDist > 0 {
		limit = min(limit, float32(maxDist*maxDist))
	}
	var stack [maxDepth]branch
	stack[0] = branch{hi: int32(len(ix.slots))}
	inner := int32(len(ix.splits))
	for top := 0; top >= 0; top-- {
		b := stack[top]
		if squared(b.out[0], b.out[1], b.out[2]) > limit {
			continue
		}
		for b.node < inner {
			s := ix.splits[b.node]
			mid := (b.lo + b.hi) / 2
			axis := s.axis % 3
			d := q[axis] - s.at
			far := b
			far.out[axis] = d
			if d < 0 {
				far.node, far.lo = 2*b.node+2, mid
				b.node, b.hi = 2*b.node+1, mid
			} else {
				far.node, far.hi = 2*b.node+1, mid
				b.node, b.lo = 2*b.node+2, mid
			}
			if squared(far.out[0], far.out[1], far.out[2]) <= limit {
				stack[top] = far
				top++
			}
		}
		for _, s := range ix.slots[b.lo:b.hi] {
			d2 := squared(q[0]-s.v[0], q[1]-s.v[1], q[2]-s.v[2])
			if !(d2 <= limit) {
				continue
			}
			// Insert in order, the last one falling off.
			j := len(buf)
			if j-base < k {
				buf = append(buf, Neighbour{})
			} else if j--; d2 == buf[j].D2 && s.i > buf[j].I {
				continue
			}
			for j > base && (buf[j-1].D2 > d2 || buf[j-1].D2 == d2 && buf[j-1].I > s.i) {
				buf[j] = buf[j-1]
				j--
			}
			buf[j] = Neighbour{s.i, d2}
			if len(buf)-base == k {
				limit = buf[len(buf)-1].D2
			}
		}
	}
	return buf
}

// Within appends to buf the points within radius mm (inclusive) of q, in the
// tree's order, which is the same for the same points. It allocates only where
// buf is too short. Safe for concurrent use.
func (ix *Index) Within(q Vec32, radius float32, buf []int32) []int32 {
	if !(radius >= 0) || len(ix.slots) == 0 {
		return buf
	}
	limit := min(float32(math.MaxFloat32), float32(radius*radius))
	var stack [maxDepth]branch
	stack[0] = branch{hi: int32(len(ix.slots))}
	inner := int32(len(ix.splits))
	for top := 0; top >= 0; top-- {
		b := stack[top]
		for b.node < inner {
			s := ix.splits[b.node]
			mid := (b.lo + b.hi) / 2
			axis := s.axis % 3
			d := q[axis] - s.at
			far := b
			far.out[axis] = d
			if d < 0 {
				far.node, far.lo = 2*b.node+2, mid
				b.node, b.hi = 2*b.node+1, mid
			} else {
				far.node, far.hi = 2*b.node+1, mid
				b.node, b.lo = 2*b.node+2, mid
			}
			if squared(far.out[0], far.out[1], far.out[2]) <= limit {
				stack[top] = far
				top++
			}
		}
		for _, s := range ix.slots[b.lo:b.hi] {
			if squared(q[0]-s.v[0], q[1]-s.v[1], q[2]-s.v[2]) <= limit {
				buf = append(buf, s.i)
			}
		}
	}
	return buf
}
