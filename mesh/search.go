package mesh

import "math"

// Neighbour is a point found and its squared distance, mm².
type Neighbour struct {
	I  int32
	D2 float32
}

// branch is a subtree still to be searched: its node, how far the place asked
// for lies outside it along each axis, and the square of that distance.
type branch struct {
	out   [4]float32 // four, as an index of two bits needs no check
	bound float32
	node  uint32
}

// maxDepth is more levels than a tree over 2^31 points has.
const maxDepth = 32

// squared returns x² + y² + z². The conversions forbid a fused multiply-add,
// so that the sum is the same on every machine.
func squared(x, y, z float32) float32 {
	return float32(float32(x*x)+float32(y*y)) + float32(z*z)
}

// boundSlack is what a bound may lose to rounding: it only grows on the way
// down (Arya & Mount 1993, Algorithms for fast vector quantization, section
// 3), by at most 32 sums of three roundings of 2^-24 each. Subtrees within it
// are searched, so that rounding loses no point.
const boundSlack = 1 + 1e-5

// smallQuery is the largest number of neighbours that Nearest keeps in order
// by insertion; beyond it a heap is faster.
const smallQuery = 64

// found is a squared distance and a point number in one: as numbers of either
// kind are ordered as their bits are (both are positive), one comparison
// orders by distance, then by number.
type found uint64

func newFound(d2 float32, i int32) found {
	return found(math.Float32bits(d2))<<32 | found(uint32(i))
}

func (f found) neighbour() Neighbour {
	return Neighbour{int32(uint32(f)), math.Float32frombits(uint32(f >> 32))}
}

// Nearest appends to buf the k points nearest to q, nearest first, points of
// equal distance by number, within maxDist mm (inclusive) if that is positive.
// A point of the index at q itself is among them. It allocates only where buf
// is too short, or for more than 64 points. Safe for concurrent use.
func (ix *Index) Nearest(q Vec32, k int, maxDist float32, buf []Neighbour) []Neighbour {
	k = min(k, len(ix.slots))
	if k <= 0 {
		return buf
	}
	limit := float32(math.MaxFloat32)
	if maxDist > 0 {
		limit = min(limit, float32(maxDist*maxDist))
	}
	if k > smallQuery {
		best := make([]found, k)
		n := ix.nearestMany(q, limit, best)
		for _, f := range best[:n] {
			buf = append(buf, f.neighbour())
		}
		return buf
	}
	var best [smallQuery]found
	n := ix.nearestFew(q, limit, best[:k])
	for _, f := range best[:n] {
		buf = append(buf, f.neighbour())
	}
	return buf
}

// nearestFew fills best, in order, and returns how many there are.
func (ix *Index) nearestFew(q Vec32, limit float32, best []found) int {
	var stack [maxDepth]branch
	worst := newFound(limit, math.MaxInt32)
	n := 0
	for top := 0; top >= 0; top-- {
		b := &stack[top&(maxDepth-1)]
		if b.bound > limit*boundSlack {
			continue
		}
		var leaf int
		leaf, top = ix.descend(q, limit, &stack, top)
		slots := ix.slots[ix.start(leaf):ix.start(leaf+1)]
		for i := range slots {
			s := &slots[i]
			d2 := squared(q[0]-s.v[0], q[1]-s.v[1], q[2]-s.v[2])
			if !(d2 <= limit) {
				continue
			}
			f := newFound(d2, s.i)
			if f > worst {
				continue
			}
			// Insert in order, the last one falling off.
			if n < len(best) {
				n++
			}
			j := n - 1
			for ; j > 0 && best[j-1] > f; j-- {
				best[j] = best[j-1]
			}
			best[j] = f
			if n == len(best) {
				worst = best[n-1]
				limit = math.Float32frombits(uint32(worst >> 32))
			}
		}
	}
	return n
}

// descend takes the subtree at the top of the stack, goes down to the leaf on
// q's side of every split and stacks the other sides that are within limit. It
// returns the leaf and the new top of the stack.
func (ix *Index) descend(q Vec32, limit float32, stack *[maxDepth]branch, top int) (leaf, newTop int) {
	b := stack[top&(maxDepth-1)]
	splits := ix.splits
	limit *= boundSlack
	place := [4]float32{q[0], q[1], q[2]}
	node := uint(b.node)
	for node < uint(len(splits)) {
		s := splits[node]
		axis := s.axis & 3
		d := place[axis] - s.at
		o := b.out[axis]
		// Right where d >= 0, else left; the other side waits.
		side := uint(1)
		if d < 0 {
			side = 0
		}
		bound := b.bound + (d*d - o*o)
		if bound <= limit {
			far := &stack[top&(maxDepth-1)]
			far.out = b.out
			far.out[axis] = d
			far.bound = bound
			far.node = uint32(2*node + 2 - side)
			top++
		}
		node = 2*node + 1 + side
	}
	return int(node) - len(splits), top
}
