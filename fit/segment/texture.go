package segment

import (
	"context"
	"math"
	"math/rand/v2"

	"spotface/mesh"
)

const (
	blockCount  = 64   // places at which a scan's texture is looked at
	blockPoints = 2000 // points of a place, about: 50 spacings across
)

// textureOf estimates the scan's spacing and noise (mesh.EstimateTexture) from
// the surroundings of a sample of its points. In each only points whose normals
// go with the middle one's count, so that the other side of a sheet, and what
// lies across an edge, are not taken for noise. The cost hardly grows with the
// scan.
func textureOf(ctx context.Context, s *mesh.Scan, seed uint64, jobs int) (mesh.Texture, error) {
	spacing := coarseSpacing(s)
	if spacing == 0 {
		return mesh.EstimateTexture(ctx, s, nil, seed)
	}
	reach := spacing * math.Sqrt(blockPoints/math.Pi)
	mids := blockMiddles(s, seed)
	found, err := within(ctx, s, mids, reach, jobs)
	if err != nil {
		return mesh.Texture{}, err
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
	return mesh.EstimateTexture(ctx, &sample, mesh.NewIndex(sample.Offsets, jobs), seed)
}

// coarseSpacing estimates the distance between points from the number of cells
// of a grid that a sample of the points falls into: a surface of area A meets
// about 1.5 A/c² cells of edge c. It is zero where all points are one.
func coarseSpacing(s *mesh.Scan) float64 {
	lo, hi := s.Bounds()
	size := hi.Sub(lo)
	longest := max(size.X, size.Y, size.Z)
	if longest == 0 {
		return 0
	}
	const sample = 40_000
	step := max(1, s.Len()/sample)
	// The cell is halved until a cell holds fewer than 12 of the sample.
	for cell := longest / 8; ; cell /= 2 {
		cells := map[[3]int32]struct{}{}
		n := 0
		for i := 0; i < s.Len(); i += step {
			o := s.Offsets[i]
			cells[[3]int32{int32(math.Floor(float64(o[0]) / cell)), int32(math.Floor(float64(o[1]) / cell)), int32(math.Floor(float64(o[2]) / cell))}] = struct{}{}
			n++
		}
		if n < 12*len(cells) || cell < longest/4096 {
			return cell * math.Sqrt(float64(len(cells))/1.5/float64(s.Len()))
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
func within(ctx context.Context, s *mesh.Scan, mids []int32, reach float64, jobs int) ([][]int32, error) {
	ix := newPlaces(s, mids, reach)
	const size = 1 << 15
	n := s.Len()
	parts := make([][][2]int32, (n+size-1)/size) // middle and point, by chunk
	err := chunks(ctx, n, size, jobs, func(lo, hi int) {
		var got [][2]int32
		for i := lo; i < hi; i++ {
			o, m := s.Offsets[i], s.Normals[i]
			for _, b := range ix.near(o) {
				q, k := s.Offsets[mids[b]], s.Normals[mids[b]]
				x, y, z := o[0]-q[0], o[1]-q[1], o[2]-q[2]
				if x*x+y*y+z*z <= float32(reach*reach) && m[0]*k[0]+m[1]*k[1]+m[2]*k[2] > 0.7 {
					got = append(got, [2]int32{b, int32(i)})
				}
			}
		}
		parts[lo/size] = got
	})
	out := make([][]int32, len(mids))
	for _, part := range parts {
		for _, g := range part {
			out[g[0]] = append(out[g[0]], g[1])
		}
	}
	return out, err
}

// places finds the middles near a point: a grid of cells as wide as the reach or more,
// with the middles that touch each.
type places struct {
	lo    mesh.Vec32
	inv   float32
	cells map[int32][]int32
	known []bool // by cell, modulo its length: whether any middle may touch it
}

func newPlaces(s *mesh.Scan, mids []int32, reach float64) *places {
	lo, hi := s.Bounds()
	size := hi.Sub(lo)
	edge := max(reach, max(size.X, size.Y, size.Z)/250)
	l := lo.Sub(s.Origin)
	p := &places{lo: mesh.Vec32{float32(l.X), float32(l.Y), float32(l.Z)}, inv: float32(1 / edge),
		cells: map[int32][]int32{}, known: make([]bool, 1<<14)}
	for b, m := range mids {
		x, y, z := p.cell(s.Offsets[m])
		for dx := -1; dx <= 1; dx++ {
			for dy := -1; dy <= 1; dy++ {
				for dz := -1; dz <= 1; dz++ {
					k := p.key(x+dx, y+dy, z+dz)
					p.cells[k] = append(p.cells[k], int32(b))
					p.known[hash(uint64(uint32(k)))%uint64(len(p.known))] = true
				}
			}
		}
	}
	return p
}

func (p *places) cell(o mesh.Vec32) (x, y, z int) {
	return int((o[0] - p.lo[0]) * p.inv), int((o[1] - p.lo[1]) * p.inv), int((o[2] - p.lo[2]) * p.inv)
}

func (p *places) key(x, y, z int) int32 { return int32((x+1)<<20 | (y+1)<<10 | (z + 1)) }

// near returns the middles whose cells touch o's.
func (p *places) near(o mesh.Vec32) []int32 {
	k := p.key(p.cell(o))
	if !p.known[hash(uint64(uint32(k)))%uint64(len(p.known))] {
		return nil
	}
	return p.cells[k]
}
