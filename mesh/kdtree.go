package mesh

import (
	"context"
	"math"
	"math/bits"

	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// KDTree finds the neighbours of a place among a set of points: a balanced k-d
// tree kept in arrays (Bentley 1975; split across the widest side of the box
// around a node's points, as in Friedman, Bentley & Finkel 1977). A scan is a
// surface, so a tree that cycles through x, y and z would often search both
// sides of a split.
//
// A KDTree is not changed once built and is safe for concurrent use. It takes
// 16.7 bytes a point.
type KDTree struct {
	// slots holds the points in tree order: neighbours in space lie close
	// together in memory.
	slots []slot
	// splits holds the inner nodes, root first; the children of node i are
	// 2i+1 and 2i+2. Below them are 2^levels leaves, of which leaf j owns the
	// slots from start(j) to start(j+1), so nodes need no ranges.
	splits []split
	levels int
}

type slot struct {
	v [3]float32
	i int32
}

type split struct {
	at   float32 // coordinate: left of it <= at <= right of it
	axis uint32
}

// NewKDTree builds a tree of pts on jobs goroutines (GOMAXPROCS for 0). The
// result does not depend on jobs. pts is copied. Points with a coordinate that
// is not a finite number are never found.
func NewKDTree(pts []Vec32, jobs int) *KDTree {
	ctx := context.Background()
	t := &KDTree{slots: make([]slot, len(pts))}
	_ = parallel.Chunks(ctx, jobs, len(pts), itemChunk, func(lo, hi int) {
		for i, p := range pts[lo:hi] {
			// x-x is not 0 for NaN and infinity: out of reach of any place.
			if p[0]-p[0] != 0 || p[1]-p[1] != 0 || p[2]-p[2] != 0 {
				p = Vec32{math.MaxFloat32, math.MaxFloat32, math.MaxFloat32}
			}
			t.slots[lo+i] = slot{p, int32(lo + i)}
		}
	})
	if len(pts) > leafSize {
		t.levels = bits.Len(uint((len(pts)+leafSize-1)/leafSize - 1))
	}
	t.splits = make([]split, 1<<t.levels-1)
	room := make([]float32, len(pts))
	for level := range t.levels {
		_ = parallel.Chunks(ctx, jobs, 1<<level, 1+(1<<level)/nodeChunks, func(lo, hi int) {
			for k := lo; k < hi; k++ {
				t.split(level, k, room)
			}
		})
	}
	return t
}

// split divides the points of node k of a level between its children.
func (t *KDTree) split(level, k int, room []float32) {
	below := t.levels - level
	lo, mid, hi := t.start(k<<below), t.start((2*k+1)<<(below-1)), t.start((k+1)<<below)
	slots, values := t.slots[lo:hi], room[lo:hi]
	axis := widest(slots)
	for i := range slots {
		values[i] = slots[i].v[axis]
	}
	// Below the cut, then equal to it, then above.
	cut := geom.Nth(values, mid-lo)
	less := partition(slots, cut, axis)
	partition(slots[less:], math.Nextafter32(cut, float32(math.Inf(1))), axis)
	t.splits[1<<level-1+k] = split{cut, uint32(axis)}
}

// start returns the first slot of leaf j. Leaves differ by one point at most.
func (t *KDTree) start(j int) int { return int(uint64(j) * uint64(len(t.slots)) >> t.levels) }

// Order returns the number of the point at place k of the tree's order, in
// which points near in space mostly follow one another: visiting all points in
// this order keeps the queries in cache.
func (t *KDTree) Order(k int) int32 { return t.slots[k].i }

// widest returns the axis along which a extends furthest, judged by some of it
// where it is long.
func widest(a []slot) int {
	step := 1 + len(a)/widestSample
	lo, hi := a[0].v, a[0].v
	for i := step; i < len(a); i += step {
		extend(&lo, &hi, a[i].v)
	}
	dx, dy, dz := hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2]
	switch {
	case dx >= dy && dx >= dz:
		return 0
	case dy >= dz:
		return 1
	}
	return 2
}

// partition puts those below cut along axis first and returns their number.
func partition(a []slot, cut float32, axis int) (less int) {
	for i := range a {
		x := a[i].v[axis]
		a[i], a[less] = a[less], a[i]
		d := 0
		if x < cut {
			d = 1
		}
		less += d
	}
	return less
}

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

// squared returns x² + y² + z². The conversions prevent a fused multiply-add,
// so that the sum is the same on every machine.
func squared(x, y, z float32) float32 {
	return float32(float32(x*x)+float32(y*y)) + float32(z*z)
}

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
// A point of the tree at q itself is among them. It allocates only where buf
// is too short, or for more than 64 points. Safe for concurrent use. Its time
// grows with the square of k: for hundreds of points ask InRadius.
func (t *KDTree) Nearest(q Vec32, k int, maxDist float32, buf []Neighbour) []Neighbour {
	k = min(k, len(t.slots))
	if k <= 0 {
		return buf
	}
	limit := float32(math.MaxFloat32)
	if maxDist > 0 {
		limit = min(limit, float32(maxDist*maxDist))
	}
	var room [64]found
	best := room[:]
	if k > len(best) {
		best = make([]found, k)
	}
	best = best[:k]
	var stack [maxDepth]branch
	worst := newFound(limit, math.MaxInt32)
	n := 0
	for top := 0; top >= 0; top-- {
		if stack[top&(maxDepth-1)].bound > limit*boundSlack {
			continue
		}
		var leaf int
		leaf, top = t.descend(q, limit, &stack, top)
		slots := t.slots[t.start(leaf):t.start(leaf+1)]
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
	for _, f := range best[:n] {
		buf = append(buf, f.neighbour())
	}
	return buf
}

// InRadius appends to buf the points within radius mm (inclusive) of q, in an
// order that is the same for the same points and q. It allocates only where
// buf is too short. Safe for concurrent use.
func (t *KDTree) InRadius(q Vec32, radius float32, buf []int32) []int32 {
	if !(radius >= 0) || len(t.slots) == 0 {
		return buf
	}
	limit := min(float32(math.MaxFloat32), float32(radius*radius))
	var stack [maxDepth]branch
	for top := 0; top >= 0; top-- {
		var leaf int
		leaf, top = t.descend(q, limit, &stack, top)
		for _, s := range t.slots[t.start(leaf):t.start(leaf+1)] {
			if squared(q[0]-s.v[0], q[1]-s.v[1], q[2]-s.v[2]) <= limit {
				buf = append(buf, s.i)
			}
		}
	}
	return buf
}

// descend takes the subtree at the top of the stack, goes down to the leaf on
// q's side of every split and stacks the other sides that are within limit. It
// returns the leaf and the new top of the stack.
func (t *KDTree) descend(q Vec32, limit float32,
	stack *[maxDepth]branch, top int) (leaf, newTop int) {
	b := stack[top&(maxDepth-1)]
	splits := t.splits
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
