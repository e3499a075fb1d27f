package mesh

import (
	"math"
	"slices"
)

// Rim is a chain of open edges of a mesh: vertex numbers in order, the surface
// on the left seen from outside. Closed means that the last joins the first,
// which is not repeated.
type Rim struct {
	Points []int32
	Closed bool
}

// Rims returns the loops of open edges of a mesh, ordered by their lowest
// vertex, each beginning with it.
//
// An edge is open that exactly one triangle uses; where three meet none is. A
// rim passes no vertex twice: where holes touch in a vertex each has its own
// rim, and where surfaces touch in one (a bow tie) each keeps its own. Where
// several ways lead on, the one is taken that keeps close to the gap. A rim
// runs along its triangles' winding; where the winding changes along it, as on
// a surface with one side, most of its edges decide. A rim is not closed only
// where it ends at an edge in which three or more triangles meet.
func Rims(s *Scan) []Rim {
	edges := openEdges(s)
	if len(edges) == 0 {
		return nil
	}
	w := newRimWalk(s, edges)
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
	for i := range w.rims {
		w.rims[i].tidy(w.votes[i])
	}
	slices.SortFunc(w.rims, func(a, b Rim) int { return slices.Compare(a.Points, b.Points) })
	return w.rims
}

// rimWalk follows open edges.
type rimWalk struct {
	s     *Scan
	edges []openEdge
	used  []bool
	verts []int32   // vertices on open edges, ascending
	at    [][]int32 // edges at each of verts
	place map[int32]int
	rims  []Rim
	votes []int // edges of each rim run along their winding, less those against
}

func newRimWalk(s *Scan, edges []openEdge) *rimWalk {
	w := &rimWalk{s: s, edges: edges, used: make([]bool, len(edges)), place: map[int32]int{}}
	for _, e := range edges {
		w.verts = append(w.verts, e.from, e.to)
	}
	slices.Sort(w.verts)
	w.verts = slices.Compact(w.verts)
	for i, v := range w.verts {
		w.place[v] = i
	}
	w.at = make([][]int32, len(w.verts))
	for i, e := range edges {
		a, b := w.place[e.from], w.place[e.to]
		w.at[a] = append(w.at[a], int32(i))
		w.at[b] = append(w.at[b], int32(i))
	}
	return w
}

// free returns the number of edges at verts[v] not yet in a rim.
func (w *rimWalk) free(v int) (n int) {
	for _, e := range w.at[v] {
		if !w.used[e] {
			n++
		}
	}
	return n
}

// walk follows free edges from verts[v] until none leads on, cutting off a
// closed rim whenever it comes to a vertex it has passed.
func (w *rimWalk) walk(v int) {
	path := []int32{w.verts[v]}
	var along []int8 // +1 for an edge run along its winding, -1 against
	pos := map[int32]int{w.verts[v]: 0}
	for {
		e := w.next(path)
		if e < 0 {
			break
		}
		w.used[e] = true
		here, dir := path[len(path)-1], int8(1)
		there := w.edges[e].to
		if there == here {
			there, dir = w.edges[e].from, -1
		}
		along = append(along, dir)
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

func (w *rimWalk) keep(points []int32, along []int8, closed bool) {
	vote := 0
	for _, d := range along {
		vote += int(d)
	}
	w.rims = append(w.rims, Rim{slices.Clone(points), closed})
	w.votes = append(w.votes, vote)
}

// next returns the free edge that leads on from the end of path, or -1: one
// that leaves by its winding if there is one, and of several the first met
// turning counter-clockwise, seen from outside, from where the path came.
func (w *rimWalk) next(path []int32) int32 {
	here := path[len(path)-1]
	var best int32 = -1
	bestAngle, bestOut := 0.0, false
	edges := w.at[w.place[here]]
	for _, e := range edges {
		if w.used[e] {
			continue
		}
		out := w.edges[e].from == here
		if best < 0 {
			best, bestOut = e, out
			if len(edges) > 2 && len(path) > 1 {
				bestAngle = w.turn(path[len(path)-2], here, e)
			}
			continue
		}
		if bestOut && !out {
			continue
		}
		a := 0.0
		if len(edges) > 2 && len(path) > 1 {
			a = w.turn(path[len(path)-2], here, e)
		}
		if out && !bestOut || a < bestAngle {
			best, bestAngle, bestOut = e, a, out
		}
	}
	return best
}

// turn returns the angle in [0, 2π) from the direction here-from
// counter-clockwise about the surface's normal to that of edge e.
func (w *rimWalk) turn(from, here, e int32) float64 {
	var n [3]float64
	for _, k := range w.at[w.place[here]] {
		t := w.s.Triangles[w.edges[k].triangle]
		c := cross(w.vec(t[0], t[1]), w.vec(t[0], t[2]))
		for i := range n {
			n[i] += c[i]
		}
	}
	l := math.Sqrt(dot(n, n))
	if l == 0 {
		return 0
	}
	there := w.edges[e].to
	if there == here {
		there = w.edges[e].from
	}
	a, b := w.vec(here, from), w.vec(here, there)
	n = [3]float64{n[0] / l, n[1] / l, n[2] / l}
	an, bn := dot(a, n), dot(b, n)
	for i := range n {
		a[i] -= an * n[i]
		b[i] -= bn * n[i]
	}
	t := math.Atan2(dot(cross(a, b), n), dot(a, b))
	if t < 0 {
		t += 2 * math.Pi
	}
	return t
}

func (w *rimWalk) vec(a, b int32) [3]float64 {
	p, q := w.s.Offsets[a], w.s.Offsets[b]
	return [3]float64{float64(q[0] - p[0]), float64(q[1] - p[1]), float64(q[2] - p[2])}
}

// tidy turns r along the winding of most of its edges and begins a closed one
// with its lowest vertex.
func (r *Rim) tidy(vote int) {
	if vote < 0 {
		slices.Reverse(r.Points)
	}
	if !r.Closed {
		return
	}
	first := 0
	for i, p := range r.Points {
		if p < r.Points[first] {
			first = i
		}
	}
	r.Points = append(slices.Clone(r.Points[first:]), r.Points[:first]...)
}
