package segment

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// samplingOf estimates the scan's spacing and noise (mesh.EstimateSampling) from places
// about a sample of its points: cells of a grid. In each only points whose normals go with
// the sample's count, so that the other side of a sheet, and what lies across an edge, are
// not counted as noise. The cost hardly grows with the scan.
//
// crowd is the tree of a cloud of up to sheetSample points; lo is the scan's lowest corner
// in the offset frame, spacing what coarseSpacing says.
func samplingOf(ctx context.Context, s *mesh.Scan, crowd *mesh.KDTree, lo r3.Vector, spacing float64, seed uint64,
	jobs int) (mesh.Sampling, error) {
	if spacing == 0 || s.Len() <= blockCount*blockPoints {
		if s.Len() > sheetSample {
			crowd = nil
		}
		return mesh.EstimateSampling(ctx, s, crowd, seed, jobs)
	}
	edge := spacing * math.Sqrt(blockPoints)
	grid, cells := newCellGrid(lo, edge), cellIDs{}
	rng := rand.New(rand.NewPCG(seed, 0xb10c))
	var mids []int32
	for k := range blockCount {
		from, to := k*s.Len()/blockCount, (k+1)*s.Len()/blockCount
		i := int32(from + rng.IntN(to-from))
		if _, fresh := cells.id(grid.key(s.Offsets[i])); fresh {
			mids = append(mids, i)
		}
	}
	parts := make([][]mesh.Vec32, (s.Len()+lookEvery-1)/lookEvery)
	side := int(math.Ceil(math.Cbrt(blockCount)))
	err := parallel.Chunks(ctx, jobs, s.Len(), lookEvery, func(from, to int) {
		for i := from; i < to; i++ {
			c := int(cells.find(grid.key(s.Offsets[i])))
			if c < 0 || s.Normals[i].R3().Dot(s.Normals[mids[c]].R3()) <= facesCos {
				continue
			}
			// The places are set apart from one another in a cubic array.
			v := s.Offsets[i].R3().Sub(s.Offsets[mids[c]].R3())
			x, y, z := c%side, c/side%side, c/side/side
			place := r3.Vector{X: float64(x), Y: float64(y), Z: float64(z)}.Mul(placesApart * edge)
			parts[from/lookEvery] = append(parts[from/lookEvery], vec32(v.Add(place)))
		}
	})
	if err != nil {
		return mesh.Sampling{}, err
	}
	sample := mesh.Scan{Offsets: slices.Concat(parts...)}
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
		grid, cells := newCellGrid(lo, cell), cellIDs{}
		for _, i := range pick {
			cells.id(grid.key(s.Offsets[i]))
		}
		if len(pick) < coarseCell*len(cells) || cell < longest/finestCells {
			return cell * math.Sqrt(float64(len(cells))/cellsPerArea/float64(s.Len()))
		}
	}
}
