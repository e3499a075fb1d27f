package mesh

import (
	"context"
	"math"
	"math/bits"

	"github.com/golang/geo/r3"

	"spotface/mesh/parallel"
)

// Welding finds points of equal coordinates. Points are sorted into small
// buckets by a hash of their coordinates (one pass to count, one to place, in
// chunks of fixed size). Equals are then looked for within a bucket, whose
// table fits the processor's cache whatever order the points are in. The
// outcome is always the lowest-numbered equal point, so neither the hash nor
// the number of goroutines can change it. (A Go map of all points takes six
// times as long and three times the memory.)

// hashed is a point's number with the hash of its coordinates.
type hashed struct {
	hash uint32
	i    int32
}

// usable reports whether all coordinates of a point are finite numbers of a
// believable size.
func usable(p r3.Vector) bool {
	return math.Abs(p.X) <= maxCoordinate && math.Abs(p.Y) <= maxCoordinate &&
		math.Abs(p.Z) <= maxCoordinate
}

// hashOf mixes the coordinates of a point; -0 counts as 0. It is never all
// ones.
func hashOf(p r3.Vector) uint32 {
	h := math.Float64bits(p.X+0) * 0x9E3779B97F4A7C15
	h = (bits.RotateLeft64(h, 29) ^ math.Float64bits(p.Y+0)) * 0xBF58476D1CE4E5B9
	h = (bits.RotateLeft64(h, 29) ^ math.Float64bits(p.Z+0)) * 0x94D049BB133111EB
	return uint32(min(h>>32, math.MaxUint32-1))
}

// firstEqual returns for each of n points the lowest-numbered point of equal
// coordinates, itself where there is none lower, or -1 where it is broken.
func firstEqual(ctx context.Context, n int, at func(i int) r3.Vector, jobs int) ([]int32, error) {
	b := min(bits.Len(uint(n/weldBucket)), weldBits)
	counts := make([]int32, (n+itemChunk-1)/itemChunk<<b)
	first := make([]int32, n)
	err := parallel.Chunks(ctx, jobs, n, itemChunk, func(lo, hi int) {
		count := counts[lo/itemChunk<<b:][:1<<b]
		for i := lo; i < hi; i++ {
			first[i] = -1
			if p := at(i); usable(p) {
				h := hashOf(p)
				first[i] = int32(h) // until it is placed
				count[uint64(h)>>(32-b)]++
			}
		}
	})
	if err != nil {
		return nil, err
	}
	// Where each bucket begins, and in it each chunk's points.
	starts := make([]int32, 1<<b+1)
	next := int32(0)
	for k := range 1 << b {
		starts[k] = next
		for c := k; c < len(counts); c += 1 << b {
			next, counts[c] = next+counts[c], next
		}
	}
	starts[1<<b] = next
	recs := make([]hashed, next)
	err = parallel.Chunks(ctx, jobs, n, itemChunk, func(lo, hi int) {
		place := counts[lo/itemChunk<<b:][:1<<b]
		for i := lo; i < hi; i++ {
			if first[i] == -1 {
				continue
			}
			h := uint32(first[i])
			k := uint64(h) >> (32 - b)
			recs[place[k]] = hashed{h, int32(i)}
			place[k]++
		}
	})
	if err != nil {
		return nil, err
	}
	tables := make([][]int32, parallel.Jobs(jobs))
	err = parallel.Workers(ctx, jobs, 1<<b, bucketsAtOnce, func(w, lo, hi int) error {
		for k := lo; k < hi; k++ {
			recs := recs[starts[k]:starts[k+1]]
			if len(recs) > crowded*weldBucket {
				firstByMap(recs, at, first) // nearly all in one place
				continue
			}
			size := 1 << bits.Len(uint(2*len(recs)))
			if len(tables[w]) < size {
				tables[w] = make([]int32, size)
			}
			firstInBucket(recs, at, first, tables[w][:size])
		}
		return nil
	})
	return first, err
}

// firstInBucket is firstEqual for the records of a bucket, in the order of
// their numbers. The table has room for twice as many and a power of two of
// slots, each 1 more than a record's place, or 0.
func firstInBucket(recs []hashed, at func(i int) r3.Vector, first, table []int32) {
	clear(table)
	mask := uint32(len(table) - 1)
	for r, rec := range recs {
		for slot := rec.hash * 0x9E3779B1 >> 7 & mask; ; slot = (slot + 1) & mask {
			e := table[slot]
			if e == 0 {
				table[slot] = int32(r + 1)
				first[rec.i] = rec.i
				break
			}
			if q := recs[e-1]; q.hash == rec.hash && at(int(q.i)) == at(int(rec.i)) {
				first[rec.i] = q.i
				break
			}
		}
	}
}

// firstByMap is firstInBucket for crowded buckets, whose table would be large.
func firstByMap(recs []hashed, at func(i int) r3.Vector, first []int32) {
	seen := map[r3.Vector]int32{}
	for _, rec := range recs {
		p := at(int(rec.i))
		f, ok := seen[p]
		if !ok {
			f = rec.i
			seen[p] = f
		}
		first[rec.i] = f
	}
}
