package hole

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// Edge is where a mesh leaves a face downwards: where its triangles pass a depth, and the
// open edges of the scan that end between half of that and it.
type Edge struct {
	Pts    [][2]float64 // on the face's sheet
	Vertex []bool       // on an edge of the mesh, not within a triangle
	Open   int          // how many of Pts, the first, are vertices of open edges
	Grid   Grid
}

// EdgeOf sections the mesh parallel to the face, sink below it. xy lays a point on the
// face's sheet and height is that over it; step is the most that two of the points may be
// apart along a triangle.
func EdgeOf(s *mesh.Scan, open []mesh.BoundaryLoop, xy func(r3.Vector) [2]float64,
	height func(r3.Vector) float64, sink, step float64) *Edge {
	e := &Edge{}
	h := make([]float64, s.Len())
	for i := range h {
		h[i] = height(s.Point(i))
	}
	for _, l := range open {
		for _, i := range l.Points {
			if h[i] < -sink/2 && h[i] > -sink {
				e.add(xy(s.Point(int(i))), true)
			}
		}
	}
	e.Open = len(e.Pts)
	for _, t := range s.Triangles {
		if up := countUp(h, t, -sink); up == 0 || up == 3 ||
			max(h[t[0]], h[t[1]], h[t[2]]) > edgeHighest*sink {
			continue
		}
		var down, back [2]float64 // where it passes downwards, and upwards again
		for k := range 3 {
			i, j := t[k], t[(k+1)%3]
			if (h[i] > -sink) == (h[j] > -sink) {
				continue
			}
			u := (h[i] + sink) / (h[i] - h[j])
			p, q := xy(s.Point(int(i))), xy(s.Point(int(j)))
			at := [2]float64{p[0] + u*(q[0]-p[0]), p[1] + u*(q[1]-p[1])}
			if h[i] > -sink {
				down = at // the next triangle passes it upwards
			} else {
				back = at
			}
		}
		e.add(down, true)
		dx, dy := back[0]-down[0], back[1]-down[1]
		n := min(int(math.Hypot(dx, dy)/step), edgeMost)
		for k := 1; k <= n; k++ {
			f := float64(k) / float64(n+1)
			e.add([2]float64{down[0] + f*dx, down[1] + f*dy}, false)
		}
	}
	return e
}

func countUp(h []float64, t [3]int32, level float64) (n int) {
	for _, i := range t {
		if h[i] > level {
			n++
		}
	}
	return n
}

func (e *Edge) add(p [2]float64, vertex bool) {
	e.Pts, e.Vertex = append(e.Pts, p), append(e.Vertex, vertex)
}

// Sort makes the grid by which points are found.
func (e *Edge) Sort(cell float64) {
	e.Grid = NewGrid(len(e.Pts), func(i int32) [2]float64 { return e.Pts[i] }, cell)
}

// Near returns the numbers of the points within r of (x, y), ascending.
func (e *Edge) Near(x, y, r float64) []int32 {
	var out []int32
	e.Grid.Within(x, y, r, func(i int32) { out = append(out, i) })
	slices.Sort(out)
	return out
}

// OfMesh returns those of idx that are points of the mesh, not within its triangles.
func (e *Edge) OfMesh(idx []int32) [][2]float64 {
	var out [][2]float64
	for _, i := range idx {
		if e.Vertex[i] {
			out = append(out, e.Pts[i])
		}
	}
	return out
}

// Of returns the points of those numbers.
func (e *Edge) Of(idx []int32) [][2]float64 {
	out := make([][2]float64, len(idx))
	for k, i := range idx {
		out[k] = e.Pts[i]
	}
	return out
}

// Chains divides the points that are free into stretches: what is no farther apart than
// link is one stretch.
func (e *Edge) Chains(free []bool, link float64) [][]int32 {
	var out [][]int32
	for i := range free {
		if !free[i] {
			continue
		}
		free[i] = false
		chain := []int32{int32(i)}
		for k := 0; k < len(chain); k++ {
			p := e.Pts[chain[k]]
			e.Grid.Within(p[0], p[1], link, func(j int32) {
				if free[j] {
					free[j] = false
					chain = append(chain, j)
				}
			})
		}
		slices.Sort(chain)
		out = append(out, chain)
	}
	return out
}

// Count is how many points of the mesh lie along those of idx: a row of triangles is
// passed twice for each.
func (e *Edge) Count(idx []int32) (n float64) {
	for _, i := range idx {
		switch {
		case int(i) < e.Open:
			n++
		case e.Vertex[i]:
			n += 0.5
		}
	}
	return n
}
