package mesh

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// BoundaryLoop is a chain of open edges of a mesh: vertex numbers in order, the
// surface on the left seen from outside. Closed means that the last joins the
// first, which is not repeated.
type BoundaryLoop struct {
	Points []int32
	Closed bool
}

// BoundaryLoops returns the loops of open edges of a mesh, ordered by their
// lowest vertex, each beginning with it. jobs is the number of goroutines, zero
// for GOMAXPROCS. The only error is the context's.
//
// An edge is open that exactly one triangle uses; where three meet none is. A
// loop passes no vertex twice: where holes touch in a vertex each has its own
// loop, and where surfaces touch in one (a bow tie) each keeps its own. Where
// several ways lead on, the one is taken that keeps close to the gap. A loop
// runs along its triangles' winding; where the winding changes along it, as on
// a surface with one side, most of its edges decide. A loop is not closed only
// where it ends at an edge in which three or more triangles meet.
func BoundaryLoops(ctx context.Context, s *Scan, jobs int) ([]BoundaryLoop, error) {
	edges, _ := openEdges(ctx, s)
	w := newBoundaryWalk(s, edges)
	// Chains that cannot close begin at their ends.
	for v := range w.verts {
		for w.free(v)%2 == 1 {
			w.walk(v)
		}
	}
	for v := range w.verts {
		for w.free(v) > 0 {
			w.walk(v)
		}
	}
	for i := range w.loops {
		w.loops[i].tidy(w.votes[i])
	}
	slices.SortFunc(w.loops, func(a, b BoundaryLoop) int { return slices.Compare(a.Points, b.Points) })
	return w.loops, ctx.Err()
}

// boundaryWalk follows open edges.
type boundaryWalk struct {
	s     *Scan
	edges []HalfEdge
	used  []bool
	verts []int32   // vertices on open edges, ascending
	at    [][]int32 // edges at each of verts
	place map[int32]int
	loops []BoundaryLoop
	votes []int // edges of each loop run along their winding, less those against
}

func newBoundaryWalk(s *Scan, edges []HalfEdge) *boundaryWalk {
	w := &boundaryWalk{s: s, edges: edges, used: make([]bool, len(edges)), place: map[int32]int{}}
	for _, e := range edges {
		w.verts = append(w.verts, e.From, e.To)
	}
	slices.Sort(w.verts)
	w.verts = slices.Compact(w.verts)
	for i, v := range w.verts {
		w.place[v] = i
	}
	w.at = make([][]int32, len(w.verts))
	for i, e := range edges {
		a, b := w.place[e.From], w.place[e.To]
		w.at[a] = append(w.at[a], int32(i))
		w.at[b] = append(w.at[b], int32(i))
	}
	return w
}

// free returns the number of edges at verts[v] not yet in a loop.
func (w *boundaryWalk) free(v int) (n int) {
	for _, e := range w.at[v] {
		if !w.used[e] {
			n++
		}
	}
	return n
}

// walk follows free edges from verts[v] until none leads on, cutting off a
// closed loop whenever it comes to a vertex it has passed.
func (w *boundaryWalk) walk(v int) {
	path := []int32{w.verts[v]}
	var along []int8 // +1 for an edge run along its winding, -1 against
	pos := map[int32]int{w.verts[v]: 0}
	for {
		e := w.next(path)
		if e < 0 {
			break
		}
		w.used[e] = true
		here := path[len(path)-1]
		there := w.edges[e].other(here)
		if there == w.edges[e].To {
			along = append(along, 1)
		} else {
			along = append(along, -1)
		}
		if k, been := pos[there]; been {
			w.keep(path[k:], along[k:], true)
			for _, p := range path[k+1:] {
				delete(pos, p)
			}
			path, along = path[:k+1], along[:k]
			continue
		}
		pos[there] = len(path)
		path = append(path, there)
	}
	if len(path) > 1 {
		w.keep(path, along, false)
	}
}

func (w *boundaryWalk) keep(points []int32, along []int8, closed bool) {
	vote := 0
	for _, d := range along {
		vote += int(d)
	}
	w.loops = append(w.loops, BoundaryLoop{slices.Clone(points), closed})
	w.votes = append(w.votes, vote)
}

// next returns the free edge that leads on from the end of path, or -1: one
// that leaves by its winding if there is one, and of several the first met
// turning counter-clockwise, seen from outside, from where the path came.
func (w *boundaryWalk) next(path []int32) int32 {
	here := path[len(path)-1]
	var best int32 = -1
	bestAngle, bestOut := 0.0, false
	edges := w.at[w.place[here]]
	for _, e := range edges {
		if w.used[e] {
			continue
		}
		out, angle := w.edges[e].From == here, 0.0
		if len(edges) > 2 && len(path) > 1 {
			angle = w.turn(path[len(path)-2], here, e)
		}
		if best < 0 || out && !bestOut || out == bestOut && angle < bestAngle {
			best, bestAngle, bestOut = e, angle, out
		}
	}
	return best
}

// turn returns the angle in [0, 2π) from the direction here-from
// counter-clockwise about the surface's normal to that of edge e.
func (w *boundaryWalk) turn(from, here, e int32) float64 {
	var n r3.Vector
	for _, k := range w.at[w.place[here]] {
		t := w.s.Triangles[w.edges[k].Triangle]
		n = n.Add(w.vec(t[0], t[1]).Cross(w.vec(t[0], t[2])))
	}
	n = geom.Unit(n)
	a, b := w.vec(here, from), w.vec(here, w.edges[e].other(here))
	a, b = a.Sub(n.Mul(a.Dot(n))), b.Sub(n.Mul(b.Dot(n)))
	return geom.Wrap(math.Atan2(a.Cross(b).Dot(n), a.Dot(b)))
}

func (w *boundaryWalk) vec(a, b int32) r3.Vector {
	return w.s.Offsets[b].R3().Sub(w.s.Offsets[a].R3())
}

// tidy turns r along the winding of most of its edges and begins a closed one
// with its lowest vertex.
func (r *BoundaryLoop) tidy(vote int) {
	if vote < 0 {
		slices.Reverse(r.Points)
	}
	if !r.Closed {
		return
	}
	first := slices.Index(r.Points, slices.Min(r.Points))
	r.Points = slices.Concat(r.Points[first:], r.Points[:first])
}
