package segment

import (
	"context"
	"math"
	"spotface/mesh/parallel"
)

// smooth marks the nodes that may seed a trial: most of their neighbours lie
// in their tangent plane, as far as noise and a tight bend allow, and face the
// same way. pitch is the distance between nodes where they are dense. Points
// astray and sharp edges do not.
func smooth(ctx context.Context, n *nodes, g *graph, tol *tolerance, pitch float64, jobs int) ([]bool, error) {
	out := make([]bool, n.len())
	err := parallel.Chunks(ctx, jobs, n.len(), 4096, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			q, m := n.at(int32(i)), n.nrm[i].R3()
			var all, in int
			for _, j := range g.of(int32(i))[:smoothNeighbours] {
				if j < 0 {
					continue
				}
				all++
				v := n.at(j).Sub(q)
				cos := m.Dot(n.nrm[j].R3())
				if math.Abs(v.Dot(m)) <= max(1.5*tol.floor, 0.35*min(v.Norm(), 2*pitch)) && cos > 0.8 {
					in++
				}
			}
			out[i] = all >= 4 && 10*in >= 6*all
		}
	})
	return out, err
}
