package hole

import (
	"cmp"
	"context"
	"math"
	"slices"

	"spotface/mesh/parallel"
)

// Cover is a sheet in square cells: which of them the face covers.
type Cover struct {
	x0, y0 float64
	Cell   float64 // mm
	nx, ny int
	gap    []float64 // 0 where the face covers a cell, +Inf where it does not
}

// NewCover returns the cells about pts, a million of them at most, covered where a point
// is.
func NewCover(pts [][2]float64, cell float64) Cover {
	if len(pts) == 0 {
		return Cover{}
	}
	place := func(i int32) [2]float64 { return pts[i] }
	g := frameOf(len(pts), place, cell)
	if n := float64(g.nx) * float64(g.ny); n > 1e6 {
		g = frameOf(len(pts), place, cell*math.Sqrt(n/1e6))
	}
	m := Cover{x0: g.x0, y0: g.y0, Cell: g.cell, nx: g.nx, ny: g.ny, gap: make([]float64, g.nx*g.ny)}
	for c := range m.gap {
		m.gap[c] = math.Inf(1)
	}
	for _, p := range pts {
		m.Mark(p)
	}
	return m
}

// Mark marks the cell of a point, the nearest for one outside, as covered.
func (m *Cover) Mark(p [2]float64) {
	ix := min(max(int((p[0]-m.x0)/m.Cell), 0), m.nx-1)
	iy := min(max(int((p[1]-m.y0)/m.Cell), 0), m.ny-1)
	m.gap[iy*m.nx+ix] = 0
}

// Covered reports whether the face covers the cell at (x, y).
func (m *Cover) Covered(x, y float64) bool {
	ix, iy := int(math.Floor((x-m.x0)/m.Cell)), int(math.Floor((y-m.y0)/m.Cell))
	return ix >= 0 && ix < m.nx && iy >= 0 && iy < m.ny && m.gap[iy*m.nx+ix] == 0
}

// Area is that of the covered cells, mm².
func (m *Cover) Area() float64 {
	n := 0
	for _, g := range m.gap {
		if g == 0 {
			n++
		}
	}
	return float64(n) * m.Cell * m.Cell
}

// Fill marks the cells under a triangle by points of it a cell apart or less.
func (m *Cover) Fill(a, b, c [2]float64) {
	for q := range 2 { // in cells
		lo := [2]float64{m.x0, m.y0}[q]
		a[q], b[q], c[q] = (a[q]-lo)/m.Cell, (b[q]-lo)/m.Cell, (c[q]-lo)/m.Cell
	}
	b[0], b[1], c[0], c[1] = b[0]-a[0], b[1]-a[1], c[0]-a[0], c[1]-a[1]
	long2 := max(b[0]*b[0]+b[1]*b[1], c[0]*c[0]+c[1]*c[1], (c[0]-b[0])*(c[0]-b[0])+(c[1]-b[1])*(c[1]-b[1]))
	n := int(math.Sqrt(long2)) + 1
	step := 1 / float64(n)
	for i := range n + 1 {
		u := float64(i) * step
		x0, y0 := a[0]+u*b[0], a[1]+u*b[1]
		for j := range n + 1 - i {
			v := float64(j) * step
			ix := min(max(int(x0+v*c[0]), 0), m.nx-1)
			iy := min(max(int(y0+v*c[1]), 0), m.ny-1)
			m.gap[iy*m.nx+ix] = 0
		}
	}
}

// Place is the largest disc free of the face about a place, and the oblong that the free
// space there is.
type Place struct {
	X, Y, R float64
	Long    Outline // a rectangle as long and wide as the space without its narrow branches
}

// Places finds the discs free of the face, two cells or more in radius, that have the face
// round half of their circumference at least: largest first, none with its middle in a
// larger one. around says over what share of the directions the face lies within r.
//
// Method: exact Euclidean distance transform of the cells (Felzenszwalb and
// Huttenlocher, Theory of Computing 8 (2012) 415-428, section 2), its local maxima.
func (m *Cover) Places(ctx context.Context, jobs int, around func(x, y, r float64) float64) []Place {
	nx, ny := m.nx, m.ny
	dist := slices.Clone(m.gap)
	if nx*ny == 0 || distanceTransform(ctx, dist, nx, ny, jobs) != nil {
		return nil // the caller looks at ctx
	}
	var peaks []int
	for c, d := range dist {
		if d < leastDisc*leastDisc || math.IsInf(d, 1) {
			continue
		}
		x, y, top := c%nx, c/nx, true
		for dy := max(y-1, 0); dy <= min(y+1, ny-1) && top; dy++ {
			for dx := max(x-1, 0); dx <= min(x+1, nx-1); dx++ {
				top = top && dist[dy*nx+dx] <= d
			}
		}
		if top {
			peaks = append(peaks, c)
		}
	}
	slices.SortStableFunc(peaks, func(a, b int) int { return cmp.Compare(dist[b], dist[a]) })
	var out []Place
	for _, c := range peaks {
		p := Place{X: m.x0 + (float64(c%nx)+0.5)*m.Cell, Y: m.y0 + (float64(c/nx)+0.5)*m.Cell, R: (math.Sqrt(dist[c]) - 0.5) * m.Cell}
		if slices.ContainsFunc(out, func(o Place) bool { return math.Hypot(o.X-p.X, o.Y-p.Y) < o.R }) ||
			around(p.X, p.Y, p.R) < leastAround {
			continue
		}
		p.Long = m.oblong(dist, c, p)
		out = append(out, p)
	}
	return out
}

// oblong is the free space about cell c without what is narrower than eroded of the disc
// there: gaps of the scan that open into a slot are, mostly.
func (m *Cover) oblong(dist []float64, c int, p Place) Outline {
	r := math.Sqrt(dist[c])
	least, most := eroded*eroded*dist[c], int(2*mostLong*r*r)
	out := Outline{X: p.X, Y: p.Y, A: p.R, B: p.R, C: p.R}
	seen := map[int]bool{c: true}
	cells := []int{c}
	for k := 0; k < len(cells); k++ {
		x, y := cells[k]%m.nx, cells[k]/m.nx
		if len(cells) > most || x == 0 || y == 0 || x == m.nx-1 || y == m.ny-1 {
			return out // the space beside the part, or a wide window in it
		}
		for _, n := range [4]int{cells[k] - 1, cells[k] + 1, cells[k] - m.nx, cells[k] + m.nx} {
			if !seen[n] && dist[n] >= least {
				seen[n] = true
				cells = append(cells, n)
			}
		}
	}
	var sx, sy, sxx, sxy, syy float64
	n := float64(len(cells))
	for _, k := range cells {
		x, y := float64(k%m.nx), float64(k/m.nx)
		sx, sy, sxx, sxy, syy = sx+x, sy+y, sxx+x*x, sxy+x*y, syy+y*y
	}
	sx, sy = sx/n, sy/n
	out.Angle = math.Atan2(2*(sxy/n-sx*sy), sxx/n-sx*sx-syy/n+sy*sy) / 2
	out.X, out.Y = m.x0+(sx+0.5)*m.Cell, m.y0+(sy+0.5)*m.Cell
	var lo, hi [2]float64
	for _, k := range cells {
		u, v := out.local([2]float64{m.x0 + (float64(k%m.nx)+0.5)*m.Cell, m.y0 + (float64(k/m.nx)+0.5)*m.Cell})
		for i, t := range [2]float64{u, v} {
			lo[i], hi[i] = min(lo[i], t), max(hi[i], t)
		}
	}
	mid := out.Global((lo[0]+hi[0])/2, (lo[1]+hi[1])/2)
	out.X, out.Y = mid[0], mid[1]
	out.A, out.B = (hi[0]-lo[0])/2+eroded*p.R, (hi[1]-lo[1])/2+eroded*p.R
	out.A = max(out.A, out.B)
	out.C = min(p.R, out.B)
	return out
}

// distanceTransform replaces 0 and +Inf by the squared distance, in cells, to
// the nearest 0 (see hollows): along the rows, then along the columns, a band of
// them at a time.
func distanceTransform(ctx context.Context, d []float64, nx, ny, jobs int) error {
	const band = 16
	n := max(nx, ny)
	err := parallel.Chunks(ctx, jobs, (ny+band-1)/band, 1, func(k, _ int) {
		out, v, z := make([]float64, n), make([]int, n), make([]float64, n+1)
		for y := k * band; y < min((k+1)*band, ny); y++ {
			lowerEnvelope(d[y*nx:(y+1)*nx], out[:nx], v, z)
			copy(d[y*nx:(y+1)*nx], out[:nx])
		}
	})
	if err != nil {
		return err
	}
	return parallel.Chunks(ctx, jobs, (nx+band-1)/band, 1, func(k, _ int) {
		f, out, v, z := make([]float64, band*ny), make([]float64, band*ny), make([]int, n), make([]float64, n+1)
		lo, hi := k*band, min((k+1)*band, nx)
		for y := range ny {
			for x, w := range d[y*nx+lo : y*nx+hi] {
				f[x*ny+y] = w
			}
		}
		for x := range hi - lo {
			lowerEnvelope(f[x*ny:(x+1)*ny], out[x*ny:(x+1)*ny], v, z)
		}
		for y := range ny {
			row := d[y*nx+lo : y*nx+hi]
			for x := range row {
				row[x] = out[x*ny+y]
			}
		}
	})
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
