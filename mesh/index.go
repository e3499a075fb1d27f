package mesh

import (
	"context"
	"math"
	"math/bits"
	"sync"
)

// leafSize is the largest number of points in a leaf of an Index.
const leafSize = 12

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

// widest returns the axis along which a reaches furthest.
func widest(a []slot) int {
	x0, y0, z0 := a[0].v[0], a[0].v[1], a[0].v[2]
	x1, y1, z1 := x0, y0, z0
	for i := range a {
		v := &a[i].v
		x0, x1 = min(x0, v[0]), max(x1, v[0])
		y0, y1 = min(y0, v[1]), max(y1, v[1])
		z0, z1 = min(z0, v[2]), max(z1, v[2])
	}
	dx, dy, dz := x1-x0, y1-y0, z1-z0
	switch {
	case dx >= dy && dx >= dz:
		return 0
	case dy >= dz:
		return 1
	}
	return 2
}

// selectSlot puts the k-th smallest by axis at a[k], what is not larger before
// it and what is not smaller after it: algorithm SELECT of Floyd & Rivest
// (1975), Communications of the ACM 18(3), p. 173.
func selectSlot(a []slot, k, axis int) {
	left, right := 0, len(a)-1
	for right > left {
		if right-left > 600 {
			// Narrow down on a sample first.
			n := float64(right - left + 1)
			i := float64(k - left + 1)
			z := math.Log(n)
			s := 0.5 * math.Exp(2*z/3)
			sd := 0.5 * math.Sqrt(z*s*(n-s)/n)
			if i < n/2 {
				sd = -sd
			}
			l := max(left, int(float64(k)-i*s/n+sd))
			r := min(right, int(float64(k)+(n-i)*s/n+sd))
			selectSlot(a[l:r+1], k-l, axis)
		}
		t := a[k].v[axis]
		i, j := left, right
		a[left], a[k] = a[k], a[left]
		if a[right].v[axis] > t {
			a[right], a[left] = a[left], a[right]
		}
		for i < j {
			a[i], a[j] = a[j], a[i]
			i++
			j--
			for a[i].v[axis] < t {
				i++
			}
			for a[j].v[axis] > t {
				j--
			}
		}
		if a[left].v[axis] == t {
			a[left], a[j] = a[j], a[left]
		} else {
			j++
			a[j], a[right] = a[right], a[j]
		}
		if j <= k {
			left = j + 1
		}
		if k <= j {
			right = j - 1
		}
	}
}
