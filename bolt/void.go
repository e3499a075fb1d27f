package bolt

import (
	"context"
	"math"
	"slices"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// hollow is the largest disc free of the face's points about a place: where a
// hole, a slot, a boss or a gap in the scan may be.
type hollow struct {
	x, y, r float64
	long    oblong
}

// hollows finds the discs free of the face's points that are too large to be
// chance and have the face around at least half of their circumference,
// largest first, none with its middle in a larger one.
//
// Method: exact Euclidean distance transform of the cells that hold points
// (Felzenszwalb and Huttenlocher, Theory of Computing 8 (2012) 415-428,
// section 2), local maxima of it.
func (f *face) hollows(ctx context.Context, g grain, jobs int) []hollow {
	m := &f.map2
	nx, ny := m.nx, m.ny
	if nx*ny == 0 {
		return nil
	}
	dist := slices.Clone(m.empty)
	if distanceTransform(ctx, dist, nx, ny, jobs) != nil {
		return nil // the caller looks at ctx
	}
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
			x: m.x0 + (float64(c%nx)+0.5)*m.cell,
			y: m.y0 + (float64(c/nx)+0.5)*m.cell,
			r: (math.Sqrt(dist[c]) - 0.5) * m.cell,
		}
		if slices.ContainsFunc(out, func(o hollow) bool { return math.Hypot(o.x-h.x, o.y-h.y) < o.r }) {
			continue
		}
		if f.around(h.x, h.y, 0, h.r+max(3*m.cell, 2*g.spacing)) >= 0.5 {
			h.long = m.oblongIn(dist, c)
			out = append(out, h)
		}
	}
	return out
}

// raster is the sheet in square cells: 0 where the face covers one, +Inf where
// it does not.
type raster struct {
	x0, y0, cell float64
	nx, ny       int
	empty        []float64
}

// at returns the cell of a point, the nearest for one outside.
func (m *raster) at(p [2]float64) int {
	ix := min(max(int((p[0]-m.x0)/m.cell), 0), m.nx-1)
	iy := min(max(int((p[1]-m.y0)/m.cell), 0), m.ny-1)
	return iy*m.nx + ix
}

// covered reports whether the face covers the cell at (x, y).
func (m *raster) covered(x, y float64) bool {
	ix, iy := int(math.Floor((x-m.x0)/m.cell)), int(math.Floor((y-m.y0)/m.cell))
	return ix >= 0 && ix < m.nx && iy >= 0 && iy < m.ny && m.empty[iy*m.nx+ix] == 0
}

// cover marks the cells that hold a point of the face and, on a mesh, those
// under its triangles. Cells are half a spacing, on a cloud wide enough to hold
// four points each; wider where there would be more than a million of them. own
// is room for 1 + the place in f.pts of each of the scan's points, all 0 before
// and after; tris are the triangles that may lie in the face.
func (f *face) cover(ctx context.Context, s *mesh.Scan, own []int32, tris [][3]int32, gr grain) raster {
	cell := gr.spacing / 2
	switch {
	case gr.drawn():
		cell = math.Sqrt(f.extent() / 2e5)
	case !s.IsMesh():
		coarse := newGrid2(f.pts, 5*gr.spacing*f.thinned())
		n := 0
		for c := 1; c < len(coarse.start); c++ {
			if coarse.start[c] > coarse.start[c-1] {
				n++
			}
		}
		cell = 2 * coarse.cell * math.Sqrt(float64(n)/float64(max(len(f.plane.Points), 1)))
	}
	if len(f.pts) == 0 {
		return raster{}
	}
	g := frameOf(f.pts, cell)
	if n := float64(g.nx) * float64(g.ny); n > 1e6 {
		g = frameOf(f.pts, cell*math.Sqrt(n/1e6))
	}
	m := raster{x0: g.x0, y0: g.y0, cell: g.cell, nx: g.nx, ny: g.ny, empty: make([]float64, g.nx*g.ny)}
	for c := range m.empty {
		m.empty[c] = math.Inf(1)
	}
	if !s.IsMesh() {
		for lo := 0; lo < len(f.plane.Points) && ctx.Err() == nil; lo += lookEvery {
			for _, i := range f.plane.Points[lo:min(lo+lookEvery, len(f.plane.Points))] {
				m.empty[m.at(f.flat.xy(s.Point(int(i))))] = 0
			}
		}
		return m
	}
	for _, p := range f.pts {
		m.empty[m.at(p)] = 0
	}
	for k, i := range f.plane.Points {
		own[i] = int32(k + 1)
	}
	for k, t := range tris {
		if k%lookEvery == 0 && ctx.Err() != nil {
			break
		}
		a, b, c := own[t[0]], own[t[1]], own[t[2]]
		if a > 0 && b > 0 && c > 0 {
			m.fill(f.pts[a-1], f.pts[b-1], f.pts[c-1])
		}
	}
	for _, i := range f.plane.Points {
		own[i] = 0
	}
	return m
}

// fill marks the cells under a triangle by points of it a cell apart or less.
func (m *raster) fill(a, b, c [2]float64) {
	for q := range 2 { // in cells
		lo := [2]float64{m.x0, m.y0}[q]
		a[q], b[q], c[q] = (a[q]-lo)/m.cell, (b[q]-lo)/m.cell, (c[q]-lo)/m.cell
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
			m.empty[iy*m.nx+ix] = 0
		}
	}
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
