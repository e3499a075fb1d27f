package bolt

import (
	"math"

	"spotface/mesh"
)

// brink is where a face ends: points on its edge, as a mesh shows them.
type brink struct {
	pts  [][2]float64 // on the face's sheet
	drop []float64    // height over the face, mm; below it negative
	open int          // how many of pts, the first, are points of open edges
	grid grid2
}

// sink is how far below a face its edge is looked for: clear of the noise,
// little enough not to lose a rounded edge.
func (g grain) sink() float64 { return max(4*g.noise, 0.25*g.spacing) }

// brinkOf gathers the points of a mesh where the surface leaves the face: the
// vertices of open edges that lie near its height, and the places where
// triangles sink below it by g.sink().
func brinkOf(s *mesh.Scan, rims []mesh.BoundaryLoop, f *face, g grain, cell float64) brink {
	var b brink
	height := make([]float64, s.Len())
	o := f.flat.origin.Sub(s.Origin)
	n := f.flat.n
	shift := o.Dot(n)
	for i, p := range s.Offsets {
		height[i] = float64(p[0])*n.X + float64(p[1])*n.Y + float64(p[2])*n.Z - shift
	}
	t := g.sink()
	low := -max(2*t, 1.5*g.spacing)
	for _, r := range rims {
		for _, i := range r.Points {
			if h := height[i]; h < 4*g.noise && h > low {
				b.add(f.flat.xy(s.Point(int(i))), h)
			}
		}
	}
	b.open = len(b.pts)
	for _, tri := range s.Triangles {
		for k := range 3 {
			i, j := tri[k], tri[(k+1)%3]
			hi, hj := height[i], height[j]
			// Downwards once: the neighbour triangle runs the edge upwards.
			if !(hi > -t && hj <= -t) || hi > 2*t {
				continue
			}
			u := (hi + t) / (hi - hj)
			p, q := f.flat.xy(s.Point(int(i))), f.flat.xy(s.Point(int(j)))
			b.add([2]float64{p[0] + u*(q[0]-p[0]), p[1] + u*(q[1]-p[1])}, -t)
		}
	}
	b.grid = newGrid2(b.pts, cell)
	return b
}

func (b *brink) add(p [2]float64, drop float64) {
	b.pts, b.drop = append(b.pts, p), append(b.drop, drop)
}

// count returns how many points of the mesh there are along those of idx that
// have a weight: an edge that is crossed is half of one, as a row of triangles is
// crossed twice for every point.
func (b *brink) count(idx []int32, weight []float64) float64 {
	n := 0.0
	for k, i := range idx {
		switch {
		case weight[k] == 0:
		case int(i) < b.open:
			n++
		default:
			n += 0.5
		}
	}
	return n
}

// sectors returns, for n sectors of direction from (x, y), the number of the
// brink's nearest point between the radii lo and hi, or -1.
func (b *brink) sectors(x, y, lo, hi float64, n int) []int32 {
	near := make([]int32, n)
	dist := make([]float64, n)
	for k := range near {
		near[k] = -1
	}
	b.grid.within(x, y, hi, func(i int32) {
		dx, dy := b.pts[i][0]-x, b.pts[i][1]-y
		d := math.Hypot(dx, dy)
		if d < lo {
			return
		}
		k := min(int(wrap(math.Atan2(dy, dx))/(2*math.Pi)*float64(n)), n-1)
		if near[k] < 0 || d < dist[k] {
			near[k], dist[k] = i, d
		}
	})
	return near
}
