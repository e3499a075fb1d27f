package bolt

import (
	"math"
	"slices"
)

// hollow is the largest disc free of the face's points about a place: where a
// hole, a slot, a boss or a gap in the scan may be.
type hollow struct{ x, y, r float64 }

// hollows finds the discs free of the face's points that are too large to be
// chance and have the face around at least half of their circumference,
// largest first, none with its middle in a larger one.
//
// Method: exact Euclidean distance transform of the cells that hold points
// (Felzenszwalb and Huttenlocher, Theory of Computing 8 (2012) 415-428,
// section 2), local maxima of it.
func (f *face) hollows(cell float64) []hollow {
	g := newGrid2(f.pts, cell)
	if g.nx*g.ny == 0 {
		return nil
	}
	nx, ny := g.nx, g.ny
	dist := make([]float64, nx*ny)
	for c := range dist {
		if g.start[c+1] == g.start[c] {
			dist[c] = math.Inf(1)
		}
	}
	distanceTransform(dist, nx, ny)
	// Maxima, widest first; ties by place.
	const least = 2.0 // cells
	var peaks []int
	for c, d := range dist {
		if d < least*least || math.IsInf(d, 1) {
			continue
		}
		x, y := c%nx, c/nx
		top := true
		for dy := -1; dy <= 1 && top; dy++ {
			for dx := -1; dx <= 1; dx++ {
				if px, py := x+dx, y+dy; px >= 0 && px < nx && py >= 0 && py < ny && dist[py*nx+px] > d {
					top = false
					break
				}
			}
		}
		if top {
			peaks = append(peaks, c)
		}
	}
	slices.SortStableFunc(peaks, func(a, b int) int {
		switch {
		case dist[a] > dist[b]:
			return -1
		case dist[a] < dist[b]:
			return 1
		}
		return 0
	})
	var out []hollow
	for _, c := range peaks {
		h := hollow{
			x: g.x0 + (float64(c%nx)+0.5)*g.cell,
			y: g.y0 + (float64(c/nx)+0.5)*g.cell,
			r: (math.Sqrt(dist[c]) - 0.5) * g.cell,
		}
		if slices.ContainsFunc(out, func(o hollow) bool { return math.Hypot(o.x-h.x, o.y-h.y) < o.r }) {
			continue
		}
		if f.around(h.x, h.y, 0, h.r+3*g.cell) >= 0.5 {
			out = append(out, h)
		}
	}
	return out
}

// distanceTransform replaces 0 and +Inf by the squared distance, in cells, to
// the nearest 0.
func distanceTransform(d []float64, nx, ny int) {
	n := max(nx, ny)
	f, out := make([]float64, n), make([]float64, n)
	v, z := make([]int, n), make([]float64, n+1)
	for y := range ny {
		lowerEnvelope(d[y*nx:(y+1)*nx], out[:nx], v, z)
		copy(d[y*nx:(y+1)*nx], out[:nx])
	}
	for x := range nx {
		for y := range ny {
			f[y] = d[y*nx+x]
		}
		lowerEnvelope(f[:ny], out[:ny], v, z)
		for y := range ny {
			d[y*nx+x] = out[y]
		}
	}
}

// lowerEnvelope sets out[p] = min over q of (p - q)² + f[q].
func lowerEnvelope(f, out []float64, v []int, z []float64) {
	k := -1
	for q := range f {
		if math.IsInf(f[q], 1) {
			continue
		}
		s := math.Inf(-1)
		for k >= 0 {
			p := v[k]
			s = (f[q] + float64(q*q) - f[p] - float64(p*p)) / float64(2*(q-p))
			if s > z[k] {
				break
			}
			k--
		}
		if k < 0 {
			s = math.Inf(-1)
		}
		k++
		v[k], z[k], z[k+1] = q, s, math.Inf(1)
	}
	if k < 0 {
		for p := range out {
			out[p] = math.Inf(1)
		}
		return
	}
	j := 0
	for p := range out {
		for z[j+1] < float64(p) {
			j++
		}
		out[p] = float64((p-v[j])*(p-v[j])) + f[v[j]]
	}
}
