package mesh

import (
	"context"
	"math"
	"math/bits"
	"sync"
)

// leafSize is the largest number of points in a leaf of an Index.
const leafSize = 16

// Index finds the neighbours of a place among a set of points: a balanced k-d
// tree kept in arrays (Bentley 1975; split across the widest side of the box
// around a node's points, as in Friedman, Bentley & Finkel 1977). A scan is a
// surface, so a tree that cycles through x, y and z would often search both
// sides of a split.
//
// An Index is not changed once built and is safe for concurrent use. It takes
// 16.7 bytes a point.
type Index struct {
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

// NewIndex builds an index of pts on jobs goroutines (GOMAXPROCS for 0). The
// result does not depend on jobs. pts is copied. Points with a coordinate that
// is not a finite number are never found.
func NewIndex(pts []Vec32, jobs int) *Index {
	ix := &Index{slots: make([]slot, len(pts))}
	_ = eachChunk(context.Background(), jobs, len(pts), 1<<16, func(lo, hi int) {
		for i, p := range pts[lo:hi] {
			// x-x is not 0 for NaN and infinity: out of reach of any place.
			if p[0]-p[0] != 0 || p[1]-p[1] != 0 || p[2]-p[2] != 0 {
				p = Vec32{math.MaxFloat32, math.MaxFloat32, math.MaxFloat32}
			}
			ix.slots[lo+i] = slot{p, int32(lo + i)}
		}
	})
	if len(pts) > leafSize {
		ix.levels = bits.Len(uint((len(pts)+leafSize-1)/leafSize - 1))
	}
	ix.splits = make([]split, 1<<ix.levels-1)
	// Fork down to a few subtrees a core: they differ little in work.
	forks := 0
	if jobs = jobCount(jobs); jobs > 1 {
		forks = bits.Len(uint(jobs-1)) + 2
	}
	ix.build(0, 0, 1<<ix.levels, forks)
	return ix
}

// start returns the first slot of leaf j. Leaves differ by one point at most.
func (ix *Index) start(j int) int { return int(uint64(j) * uint64(len(ix.slots)) >> ix.levels) }

// Len returns the number of points.
func (ix *Index) Len() int { return len(ix.slots) }

// At returns the number of the point at place k of the tree's order, in which
// points near in space mostly follow one another: visiting all points in this
// order keeps the queries in cache.
func (ix *Index) At(k int) int32 { return ix.slots[k].i }

// build splits node, which owns the leaves from first to last, exclusive.
func (ix *Index) build(node, first, last, forks int) {
	if last-first < 2 {
		return
	}
	half := (first + last) / 2
	lo, mid, hi := ix.start(first), ix.start(half), ix.start(last)
	a := ix.slots[lo:hi]
	axis := widest(a)
	selectSlot(a, mid-lo, axis)
	ix.splits[node] = split{ix.slots[mid].v[axis], uint32(axis)}
	if forks > 0 && hi-lo > 4096 {
		var wg sync.WaitGroup
		wg.Go(func() { ix.build(2*node+1, first, half, forks-1) })
		ix.build(2*node+2, half, last, forks-1)
		wg.Wait()
		return
	}
	ix.build(2*node+1, first, half, 0)
	ix.build(2*node+2, half, last, 0)
}

// widest returns the axis along which a reaches furthest, judged by some of it
// where it is long.
func widest(a []slot) int {
	step := 1 + len(a)/1024
	lo, hi := a[0].v, a[0].v
	for i := step; i < len(a); i += step {
		x, y, z := a[i].v[0], a[i].v[1], a[i].v[2]
		// Rarely true, so cheaper than min and max.
		if x < lo[0] {
			lo[0] = x
		}
		if x > hi[0] {
			hi[0] = x
		}
		if y < lo[1] {
			lo[1] = y
		}
		if y > hi[1] {
			hi[1] = y
		}
		if z < lo[2] {
			lo[2] = z
		}
		if z > hi[2] {
			hi[2] = z
		}
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
