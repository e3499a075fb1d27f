package mesh

import (
	"context"
	"math"
	"math/bits"

	"github.com/golang/geo/r3"

	"spotface/mesh/parallel"
)

// usable reports whether all coordinates of a point are finite numbers of a
// believable size.
func usable(p r3.Vector) bool {
	return math.Abs(p.X) <= maxCoordinate && math.Abs(p.Y) <= maxCoordinate && math.Abs(p.Z) <= maxCoordinate
}

// hashOf mixes the coordinates of a point; -0 counts as 0.
func hashOf(p r3.Vector) uint32 {
	h := math.Float64bits(p.X+0) * 0x9E3779B97F4A7C15
	h = (bits.RotateLeft64(h, 29) ^ math.Float64bits(p.Y+0)) * 0xBF58476D1CE4E5B9
	h = (bits.RotateLeft64(h, 29) ^ math.Float64bits(p.Z+0)) * 0x94D049BB133111EB
	return uint32(h >> 32)
}

// firstEqual returns for each of n points the lowest-numbered point of equal
// coordinates, itself where there is none lower, or -1 where it is broken.
//
// Points are looked up in a table of half as many more, each entry 1 more than a
// point's number, or 0, after the first by the hash (linear probing). Hashes are computed
// on all cores. (A Go map takes six times as long and three times the memory.)
func firstEqual(ctx context.Context, n int, at func(i int) r3.Vector, jobs int) ([]int32, error) {
	hash := make([]uint32, n)
	first := make([]int32, n)
	err := parallel.Chunks(ctx, jobs, n, weldChunk, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			p := at(i)
			if hash[i] = hashOf(p); !usable(p) {
				first[i] = -1
			}
		}
	})
	if err != nil {
		return nil, err
	}
	table := make([]int32, n+n/2+1)
	for i := range first {
		if i%weldChunk == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		for slot := int(uint64(hash[i]) * uint64(len(table)) >> 32); first[i] == 0; slot++ {
			if slot == len(table) {
				slot = 0
			}
			e := table[slot]
			if e == 0 {
				table[slot] = int32(i + 1)
				e = int32(i + 1)
			}
			if j := int(e - 1); j == i || hash[j] == hash[i] && at(j) == at(i) {
				first[i] = e
			}
		}
	}
	for i := range first {
		first[i] = max(-1, first[i]-1)
	}
	return first, nil
}
