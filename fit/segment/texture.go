package segment

import (
	"context"
	"math"
	"math/rand/v2"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// textureOf estimates the scan's spacing and noise (mesh.EstimateSampling) from
// the surroundings of a sample of its points. In each only points whose normals
// go with the middle one's count, so that the other side of a sheet, and what
// lies across an edge, are not taken for noise. The cost hardly grows with the
// scan.
//
// lo is the scan's lowest corner in the offset frame, size that of its box,
// spacing what coarseSpacing says.
func textureOf(ctx context.Context, s *mesh.Scan, lo, size r3.Vector, spacing float64, seed uint64, jobs int) (mesh.Sampling, error) {
	if spacing == 0 || s.Len() <= blockCount*blockPoints {
		return mesh.EstimateSampling(ctx, s, nil, seed, jobs)
	}
	reach := spacing * math.Sqrt(blockPoints/math.Pi)
	mids := blockMiddles(s, seed)
	found, err := within(ctx, s, lo, size, mids, reach, jobs)
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
				v[c] = s.Offsets[p][c] - mid[c] + float32(3*reach*(float64(at[c])-float64(side-1)/2))
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
	const sample = 40_000
	step := max(1, s.Len()/sample)
	// The cell is halved until a cell holds fewer than 12 of the sample.
	for cell := longest / 8; ; cell /= 2 {
		down := func(v float64) float64 { return math.Floor(v/cell) * cell }
		grid := newCellGrid(r3.Vector{X: down(lo.X), Y: down(lo.Y), Z: down(lo.Z)}, cell)
		cells := newCellTable(sample / 12)
		n := 0
		for i := 0; i < s.Len(); i += step {
			cells.id(grid.key(s.Offsets[i]))
			n++
		}
		if n < 12*cells.used || cell < longest/4096 {
			return cell * math.Sqrt(float64(cells.used)/1.5/float64(s.Len()))
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
func within(ctx context.Context, s *mesh.Scan, lo, size r3.Vector, mids []int32, reach float64, jobs int) ([][]int32, error) {
	ix := newPlaces(s, lo, size, mids, reach)
	const chunk = 1 << 15
	n := s.Len()
	parts := make([][][2]int32, (n+chunk-1)/chunk) // middle and point, by chunk
	far := float32(reach * reach)
	err := parallel.Chunks(ctx, jobs, n, chunk, func(from, to int) {
		var got [][2]int32
		for i := from; i < to; i++ {
			o := s.Offsets[i]
			c := ix.cell(o)
			if ix.near[c>>6]>>(c&63)&1 == 0 {
				continue
			}
			m := s.Normals[i]
			for _, b := range ix.at[int32(c)] {
				q, k := s.Offsets[mids[b]], s.Normals[mids[b]]
				x, y, z := o[0]-q[0], o[1]-q[1], o[2]-q[2]
				if x*x+y*y+z*z <= far && m[0]*k[0]+m[1]*k[1]+m[2]*k[2] > 0.7 {
					got = append(got, [2]int32{b, int32(i)})
				}
			}
		}
		parts[from/chunk] = got
	})
	out := make([][]int32, len(mids))
	for _, part := range parts {
		for _, g := range part {
			out[g[0]] = append(out[g[0]], g[1])
		}
	}
	return out, err
}

// places finds the middles near a point: a grid of cells half as wide as the
// reach, or more, with the middles whose reach touches each.
type places struct {
	lo         mesh.Vec32
	inv        float32
	nx, ny, nz int
	near       []uint64 // a bit a cell: whether any middle is near
	at         map[int32][]int32
}

func newPlaces(s *mesh.Scan, lo, size r3.Vector, mids []int32, reach float64) *places {
	edge := max(reach/2, max(size.X, size.Y, size.Z)/250)
	p := &places{lo: mesh.Vec32{float32(lo.X), float32(lo.Y), float32(lo.Z)}, inv: float32(1 / edge), at: map[int32][]int32{}}
	p.nx, p.ny, p.nz = int(size.X/edge)+2, int(size.Y/edge)+2, int(size.Z/edge)+2
	p.near = make([]uint64, p.nx*p.ny*p.nz/64+1)
	span := func(v float32, n int) (int, int) { // cells that the reach about v touches
		r := float32(reach)
		return max(0, int((v-r)*p.inv)), min(n-1, int((v+r)*p.inv))
	}
	for b, m := range mids {
		o := s.Offsets[m]
		x0, x1 := span(o[0]-p.lo[0], p.nx)
		y0, y1 := span(o[1]-p.lo[1], p.ny)
		z0, z1 := span(o[2]-p.lo[2], p.nz)
		for x := x0; x <= x1; x++ {
			for y := y0; y <= y1; y++ {
				for z := z0; z <= z1; z++ {
					c := (x*p.ny+y)*p.nz + z
					p.at[int32(c)] = append(p.at[int32(c)], int32(b))
					p.near[c>>6] |= 1 << (c & 63)
				}
			}
		}
	}
	return p
}

// cell returns the cell of o.
func (p *places) cell(o mesh.Vec32) int {
	x, y, z := int((o[0]-p.lo[0])*p.inv), int((o[1]-p.lo[1])*p.inv), int((o[2]-p.lo[2])*p.inv)
	return (x*p.ny+y)*p.nz + z
}
