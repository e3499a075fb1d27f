package report

import (
	"context"
	"math"
	"slices"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// The form of a surface is not that of its noise: the range of a perfect face's
// residuals is some nine times the scan's noise. So the residuals are averaged
// over cells of the surface, the slow part of the averages (bow and twist of a
// plane; ovality, lobes, taper, barrel and bend of a cylinder) is fitted, and the
// form is the range of that, together with any cell that stands out of it by
// itself, such as a dent. How the cells scatter about the slow part, and how
// alike neighbours are, says how sure it is (slowform.go, cellnoise.go).
const (
	cellsAcross = 10   // along the longer side of a plane
	cellsRound  = 18   // round a cylinder
	cellsUp     = 8    // along a cylinder, at most
	cellPoints  = 8    // a cell with fewer points, or a quarter of the median's, says nothing
	cellsLeast  = 3    // cells for each fitted term, at least
	shortCells  = 3    // for each length of form that is shorter than the surface
	shortUnseen = 0.15 // of the range, what the mean over a cell takes off the tops of form
	dentRatio   = 5    // a cell this many times the scatter off is form, not noise
)

// How far noise may reach, in cells, to be told from form: a quarter of a face,
// 0.7 of a cylinder's radius (by simulation: less calls form noise, more noise form).
const (
	mostReachFlat  = 2.4
	mostReachRound = 2
)

// cell is the mean residual, mm, of the points in one cell.
type cell struct {
	row, col int
	u, v     float64 // mean place of its points, -1 to 1 over the surface (a cylinder: angle, rad, and height)
	lo, hi   [2]float64
	mean     float64
	n        int
}

// grid gathers points into cells.
type grid struct {
	cols  int
	cells []cell
}

func newGrid(rows, cols int) *grid {
	g := &grid{cols: cols, cells: make([]cell, rows*cols)}
	for i := range g.cells {
		g.cells[i].row, g.cells[i].col = i/cols, i%cols
	}
	return g
}

func (g *grid) add(row, col int, u, v, residual float64) {
	c := &g.cells[row*g.cols+col]
	if c.n == 0 {
		c.lo, c.hi = [2]float64{u, v}, [2]float64{u, v}
	}
	c.lo[0], c.hi[0] = min(c.lo[0], u), max(c.hi[0], u)
	c.lo[1], c.hi[1] = min(c.lo[1], v), max(c.hi[1], v)
	c.u, c.v, c.mean, c.n = c.u+u, c.v+v, c.mean+residual, c.n+1
}

// filled returns the cells that say something, averaged.
func (g *grid) filled() []cell {
	few := func(least int) func(cell) bool { return func(c cell) bool { return c.n < least } }
	out := slices.DeleteFunc(slices.Clone(g.cells), few(cellPoints))
	if len(out) > 0 {
		counts := make([]int, len(out))
		for i, c := range out {
			counts[i] = c.n
		}
		slices.Sort(counts)
		out = slices.DeleteFunc(out, few(counts[len(counts)/2]/4))
	}
	for i := range out {
		c, n := &out[i], float64(out[i].n)
		c.u, c.v, c.mean = c.u/n, c.v/n, c.mean/n
	}
	return out
}

// sampled returns the points away from the surface's edge, which inner tells (nil:
// all of them) and scanners round, where they are at least a third of it; of many
// evenly some: the mean of a cell is then known to a thirtieth of the noise or
// better.
func sampled(points []int32, inner []bool) []int32 {
	const most = 100_000
	step := 1 + len(points)/most
	if step == 1 && inner == nil {
		return points
	}
	all := make([]int32, 0, len(points)/step+1)
	var in []int32
	for k := 0; k < len(points); k += step {
		all = append(all, points[k])
		if inner != nil && inner[points[k]] {
			in = append(in, points[k])
		}
	}
	if inner == nil || 3*len(in) < len(all) {
		return all
	}
	return in
}

// formOf is the form of one surface, mm, with its expanded uncertainty; ok is false
// where too little of it was scanned to tell.
type formOf struct {
	mm, expanded float64
	ok           bool
	orNoise      bool // it may all be noise
}

// formsOf calls f for each of n surfaces, on all cores, until ctx is done.
func formsOf(ctx context.Context, n int, f func(k int) formOf) []formOf {
	out := make([]formOf, n)
	_ = parallel.Chunks(ctx, 0, n, 1, func(k, _ int) { out[k] = f(k) }) // the caller looks at ctx
	return out
}

// flatness returns that of a face.
func flatness(s *mesh.Scan, p *segment.Plane, inner []bool) formOf {
	e1, e2 := geom.Basis(p.Normal)
	var lo, hi [2]float64
	at := func(i int32) (x, y, r float64) {
		d := s.Point(int(i)).Sub(p.Point)
		return d.Dot(e1), d.Dot(e2), d.Dot(p.Normal)
	}
	some := sampled(p.Points, inner)
	for _, i := range some {
		x, y, _ := at(i)
		lo[0], hi[0] = min(lo[0], x), max(hi[0], x)
		lo[1], hi[1] = min(lo[1], y), max(hi[1], y)
	}
	size := max(hi[0]-lo[0], hi[1]-lo[1])
	if !(size > 0) {
		return formOf{}
	}
	across := cellsAcross
	short := p.Form.Kind == segment.Texture
	if short {
		most := math.Sqrt(float64(len(some)) / cellPoints) // cells with enough points
		across = max(across, int(min(most, shortCells*size/p.Form.Length)))
	}
	side := size / float64(across)
	index := func(v, lo, hi float64) int { return min(int((v-lo)/side), int((hi-lo)/side)) }
	g := newGrid(across+1, across+1)
	for _, i := range some {
		x, y, r := at(i)
		g.add(index(y, lo[1], hi[1]), index(x, lo[0], hi[0]), 2*x/size, 2*y/size, r)
	}
	if short {
		noise := math.Sqrt(max(0, p.Residuals.RMS*p.Residuals.RMS-p.Form.RMS*p.Form.RMS))
		return shortForm(g.filled(), noise)
	}
	return slowForm(g.filled(), func(a, b cell) float64 {
		return math.Hypot(a.u-b.u, a.v-b.v) / 2 * cellsAcross
	}, func(u, v float64) []float64 {
		return []float64{1, u, v, u * u, u * v, v * v}
	}, 3, mostReachFlat)
}

// shortForm is the range of the cells' means where form changes within the surface,
// over more than a cell, and is more than the noise of a cell: of m means of n points with noise s it has the range
// that m normal deviates of s/√n have, 2 s √(2 ln m / n).
func shortForm(cells []cell, noise float64) formOf {
	if len(cells) < cellsLeast*cellsAcross {
		return formOf{}
	}
	low, high, points := math.Inf(1), math.Inf(-1), 0
	for _, c := range cells {
		low, high, points = min(low, c.mean), max(high, c.mean), points+c.n
	}
	m := float64(len(cells))
	s := noise * math.Sqrt(m/float64(points))
	byNoise := 2 * s * math.Sqrt(2*math.Log(m))
	span := high - low
	// The cells do not show the very top of the form.
	return formOf{mm: math.Sqrt(max(0, span*span-byNoise*byNoise)), ok: true,
		expanded: math.Hypot(shortUnseen*span, Coverage*math.Sqrt2*s)}
}

// cylindricity returns that of a cylinder, of which 270 degrees were scanned or more.
func cylindricity(s *mesh.Scan, k *segment.Cylinder, inner []bool) formOf {
	long := k.Extent[1] - k.Extent[0]
	if k.Arc.Degrees() < 270 || !(long > 0) {
		return formOf{}
	}
	e1, e2 := geom.Basis(k.Axis)
	wide := 2 * math.Pi * k.Radius / cellsRound // a cell
	rows := min(cellsUp, max(3, int(math.Round(long/wide))))
	g := newGrid(rows, cellsRound)
	for _, i := range sampled(k.Points, inner) {
		d := s.Point(int(i)).Sub(k.Point)
		x, y := d.Dot(e1), d.Dot(e2)
		a := math.Atan2(y, x)
		h := (d.Dot(k.Axis) - k.Extent[0]) / long
		row := min(max(int(h*float64(rows)), 0), rows-1)
		col := min(int((a+math.Pi)/(2*math.Pi)*cellsRound), cellsRound-1)
		g.add(row, col, a, 2*h-1, math.Hypot(x, y)-k.Radius)
	}
	return slowForm(g.filled(), func(a, b cell) float64 {
		return math.Hypot(2*k.Radius*math.Sin((a.u-b.u)/2), (a.v-b.v)/2*long) / wide
	}, func(u, v float64) []float64 {
		s1, c1 := math.Sincos(u)
		s2, c2 := math.Sincos(2 * u)
		s3, c3 := math.Sincos(3 * u)
		row := []float64{1, s1, c1, v * s1, v * c1, // radius, place and tilt: the fit's own
			v, v * v, s2, c2, s3, c3}
		if long > 4*k.Radius { // a short one cannot bend
			row = append(row, v*v*s1, v*v*c1)
		}
		return row
	}, 5, mostReachRound)
}
