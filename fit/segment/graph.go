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
// near in memory. Chunks of fixed size keep the result independent of jobs.
func connect(ctx context.Context, n *nodes, jobs int) (*graph, error) {
	ix := mesh.NewKDTree(n.pos, jobs)
	place := n.arrange(ix)
	g := &graph{nbr: make([]int32, degree*n.len()), reach: make([]float32, n.len())}
	err := parallel.Chunks(ctx, jobs, n.len(), 4096, func(lo, hi int) {
		var buf []mesh.Neighbour
		for i := lo; i < hi; i++ {
			buf = ix.Nearest(n.pos[i], degree+1, 0, buf[:0])
			k := i * degree
			for _, b := range buf {
				j := place[b.I]
				if int(j) == i || k == (i+1)*degree {
					continue
				}
				g.nbr[k] = j
				k++
			}
			for ; k < (i+1)*degree; k++ {
				g.nbr[k] = -1
			}
			six := min(6, len(buf)-1)
			g.reach[i] = float32(math.Sqrt(float64(buf[six].D2)))
		}
	})
	if err != nil {
		return nil, err
	}
	// An edge much longer than the spacing at both ends crosses a gap.
	err = parallel.Chunks(ctx, jobs, n.len(), 4096, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			for k := i * degree; k < (i+1)*degree; k++ {
				j := g.nbr[k]
				if j < 0 {
					continue
				}
				if n.at(int32(i)).Sub(n.at(j)).Norm() > 3*float64(max(g.reach[i], g.reach[j])) {
					g.nbr[k] = -1
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
func (g *graph) spacing() float64 { return g.quantile(0.5) }

// quantile is the reach that a share f of the nodes does not exceed.
func (g *graph) quantile(f float64) float64 {
	if len(g.reach) == 0 {
		return 0
	}
	return float64(geom.Nth(slices.Clone(g.reach), int(f*float64(len(g.reach)-1))))
}
