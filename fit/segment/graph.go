package segment

import (
	"context"
	"math"
	"slices"

	"spotface/mesh"
	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// graph joins each node to its nearest nodes. nbr holds degree entries a
// node, -1 where there are fewer; reach is the distance to the sixth.
type graph struct {
	nbr    []int32
	reach  []float32
	smooth []uint16 // see link: a bit for each entry of nbr
	start  []int32  // of panels, whose neighbours differ in number: nbr[start[i]:start[i+1]]
}

// connect builds the graph and puts the nodes in an order in which neighbours are
// near in memory, that of their index.
func connect(ctx context.Context, n *nodes, jobs int) (*graph, error) {
	ix := mesh.NewKDTree(n.pos, jobs)
	pos, nrm, in := n.pos, n.nrm, n.in
	n.pos, n.nrm = make([]mesh.Vec32, len(pos)), make([]mesh.Vec32, len(pos))
	n.in = make([]int32, len(pos))
	n.lot = make([]int32, len(pos))
	for k := range pos {
		i := ix.Order(k)
		n.pos[k], n.nrm[k], n.in[k] = pos[i], nrm[i], in[i]
		n.lot[i] = int32(k)
	}
	g := &graph{nbr: make([]int32, degree*n.len()), reach: make([]float32, n.len())}
	err := parallel.Chunks(ctx, jobs, n.len(), nodeChunk, func(lo, hi int) {
		var buf []mesh.Neighbour
		for i := lo; i < hi; i++ {
			buf = ix.Nearest(n.pos[i], degree+1, 0, buf[:0])
			row := g.of(int32(i))
			for k := range row {
				row[k] = -1
			}
			k := 0
			for _, b := range buf {
				if j := n.lot[b.I]; int(j) != i && k < degree {
					row[k] = j
					k++
				}
			}
			g.reach[i] = float32(math.Sqrt(float64(buf[min(6, len(buf)-1)].D2)))
		}
	})
	if err != nil {
		return nil, err
	}
	// An edge much longer than the spacing at both ends crosses a gap.
	err = parallel.Chunks(ctx, jobs, n.len(), nodeChunk, func(lo, hi int) {
		for i := int32(lo); i < int32(hi); i++ {
			row := g.of(i)
			for k, j := range row {
				if j >= 0 &&
					n.at(i).Distance(n.at(j)) > gapReach*float64(max(g.reach[i], g.reach[j])) {
					row[k] = -1
				}
			}
		}
	})
	return g, err
}

func (g *graph) of(i int32) []int32 {
	if g.start != nil {
		return g.nbr[g.start[i]:g.start[i+1]]
	}
	return g.nbr[int(i)*degree : (int(i)+1)*degree]
}

// spacing is the median reach over the nodes.
func (g *graph) spacing() float64 { return float64(geom.Median(slices.Clone(g.reach))) }

// seeds marks the nodes that may seed a trial: most of their links are smooth. Outliers
// and sharp edges are not.
func (g *graph) seeds() []bool {
	out := make([]bool, len(g.reach))
	for i := range out {
		all, smooth := 0, 0
		for k, j := range g.of(int32(i))[:seedNeighbours] {
			if j >= 0 {
				all++
				smooth += int(g.smooth[i] >> k & 1)
			}
		}
		out[i] = all >= leastSeen && float64(smooth) >= seedShare*float64(all)
	}
	return out
}

// beside reports whether free node i is next to a surface found, and so near it that it
// would be no seed of another.
func (s *searcher) beside(i int32) bool {
	return slices.ContainsFunc(s.g.of(i), func(j int32) bool {
		if j < 0 || s.label[j] < 0 {
			return false
		}
		f := &s.found[s.label[j]]
		d, _ := f.at(s.n.at(i))
		return math.Abs(d) < max(besideBands*f.band, seedSlope*s.pitch)
	})
}
