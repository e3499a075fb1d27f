package segment

import (
	"context"
	"math"
	"math/rand/v2"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// samplingOf estimates the scan's spacing and noise (mesh.EstimateSampling) from
// the surroundings of a sample of its points. In each only points whose normals
// go with the middle one's count, so that the other side of a sheet, and what
// lies across an edge, are not taken for noise. The cost hardly grows with the
// scan.
//
// lo is the scan's lowest corner in the offset frame, spacing what coarseSpacing
// says.
func samplingOf(ctx context.Context, s *mesh.Scan, lo r3.Vector, spacing float64, seed uint64,
	jobs int) (mesh.Sampling, error) {
	if spacing == 0 || s.Len() <= blockCount*blockPoints {
		return mesh.EstimateSampling(ctx, s, nil, seed, jobs)
	}
	reach := spacing * math.Sqrt(blockPoints/math.Pi)
	mids := blockMiddles(s, seed)
	found, err := within(ctx, s, lo, mids, reach, jobs)
	if err != nil {
		return mesh.Sampling{}, err
	}
	// The places are set apart from one another in a cubic array.
	var sample mesh.Scan
	side := int(math.Ceil(math.Cbrt(float64(len(mids)))))
	for b, pts := range found {
		at := [3]int{b % side, b / side % side, b / side / side}
		mid := s.Offsets[mids[b]]
		for _, p := range pts {
			var v mesh.Vec32
			for c := range v {
				place := placesApart * reach * (float64(at[c]) - float64(side-1)/2)
				v[c] = s.Offsets[p][c] - mid[c] + float32(place)
			}
			sample.Offsets = append(sample.Offsets, v)
		}
	}
	return mesh.EstimateSampling(ctx, &sample, mesh.NewKDTree(sample.Offsets, jobs), seed, jobs)
}

// coarseSpacing estimates the distance between points from the number of cells
// of a grid that a sample of the points falls into: a surface of area A meets
// about 1.5 A/c² cells of edge c. It is zero where all points are one.
func coarseSpacing(s *mesh.Scan, lo, size r3.Vector) float64 {
	longest := max(size.X, size.Y, size.Z)
	if longest == 0 {
		return 0
	}
	pick := every(s.Len(), coarsePoints)
	for cell := longest / firstCells; ; cell /= 2 {
		grid, cells := newCellGrid(lo, cell), newCellIDs(0)
		for _, i := range pick {
			cells.id(grid.key(s.Offsets[i]))
		}
		if len(pick) < coarseCell*cells.used || cell < longest/finestCells {
			return cell * math.Sqrt(float64(cells.used)/cellsPerArea/float64(s.Len()))
		}
	}
}

// blockMiddles draws up to blockCount points that have normals.
func blockMiddles(s *mesh.Scan, seed uint64) []int32 {
	rng := rand.New(rand.NewPCG(seed, 0xb10c))
	m := min(blockCount, s.Len())
	var out []int32
	for k := range m {
		lo, hi := k*s.Len()/m, (k+1)*s.Len()/m
		i := int32(lo + rng.IntN(hi-lo))
		if s.Normals[i] != (mesh.Vec32{}) {
			out = append(out, i)
		}
	}
	return out
}

// within returns for each of the points mids the points that lie within reach
// of it and whose normals go with its own within 45 degrees.
func within(ctx context.Context, s *mesh.Scan, lo r3.Vector, mids []int32, reach float64,
	jobs int) ([][]int32, error) {
	grid := newCellGrid(lo.Sub(r3.Vector{X: reach, Y: reach, Z: reach}), reach)
	cells := newCellIDs(27 * len(mids))
	var beside [][]int32 // the middles in and beside each cell
	for b, i := range mids {
		for m := range uint64(27) {
			c, fresh := cells.id(around(grid.key(s.Offsets[i]), m))
			if fresh {
				beside = append(beside, nil)
			}
			beside[c] = append(beside[c], int32(b))
		}
	}
	parts := make([][][2]int32, (s.Len()+lookEvery-1)/lookEvery) // middle and point, by chunk
	far := float32(reach * reach)
	err := parallel.Chunks(ctx, jobs, s.Len(), lookEvery, func(from, to int) {
		var got [][2]int32
		for i := from; i < to; i++ {
			o, m := s.Offsets[i], s.Normals[i]
			c := cells.find(grid.key(o))
			if c < 0 {
				continue
			}
			for _, b := range beside[c] {
				q, k := s.Offsets[mids[b]], s.Normals[mids[b]]
				x, y, z := o[0]-q[0], o[1]-q[1], o[2]-q[2]
				if x*x+y*y+z*z <= far && m[0]*k[0]+m[1]*k[1]+m[2]*k[2] > facesCos {
					got = append(got, [2]int32{b, int32(i)})
				}
			}
		}
		parts[from/lookEvery] = got
	})
	out := make([][]int32, len(mids))
	for _, part := range parts {
		for _, g := range part {
			out[g[0]] = append(out[g[0]], g[1])
		}
	}
	return out, err
}
