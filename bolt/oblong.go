package bolt

import "math"

// oblong is what a long hollow looks like: a stretch of its middle line, with
// half its length, from which the free space is as wide on either side.
type oblong struct {
	x, y   float64 // the middle
	ux, uy float64 // along, a unit vector
	half   float64 // of the middle line, mm; 0 where the hollow is not long
}

// oblongIn looks at the cells about cell c that are at least eight tenths as far
// from the face as c is: a slot eroded by that is a slot as long as its own middle
// line and four tenths of its radius, whatever gaps of the scan open into it.
// dist holds the squared distances from the face in cells.
func (m *raster) oblongIn(dist []float64, c int) oblong {
	const erode, longest = 0.8, 24 // radii
	r := math.Sqrt(dist[c])
	least := erode * erode * dist[c]
	most := int(2 * longest * r * r)
	seen := map[int]bool{c: true}
	cells := []int{c}
	for k := 0; k < len(cells); k++ {
		x, y := cells[k]%m.nx, cells[k]/m.nx
		if len(cells) > most || x == 0 || y == 0 || x == m.nx-1 || y == m.ny-1 {
			return oblong{} // the space beside the part, or a wide window in it
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
	sxx, sxy, syy = sxx/n-sx*sx, sxy/n-sx*sy, syy/n-sy*sy
	sin, cos := math.Sincos(math.Atan2(2*sxy, sxx-syy) / 2)
	var lo, hi [2]float64
	for _, k := range cells {
		x, y := float64(k%m.nx)-sx, float64(k/m.nx)-sy
		for i, t := range [2]float64{cos*x + sin*y, cos*y - sin*x} {
			lo[i], hi[i] = min(lo[i], t), max(hi[i], t)
		}
	}
	// As wide as a stadium of that variance, nearly; what is left of a bent or a
	// branched hollow is wider than it may be.
	wide := 2 * (1 - erode) * r
	if v := cos*cos*syy + sin*sin*sxx - 2*sin*cos*sxy; math.Sqrt(12*v) > 1.2*wide+2 {
		return oblong{}
	}
	half := (hi[0] - lo[0] - wide) / 2
	if half < max(1, 0.06*r) {
		return oblong{}
	}
	mid := [2]float64{(lo[0] + hi[0]) / 2, (lo[1] + hi[1]) / 2}
	return oblong{
		x: m.x0 + (sx+cos*mid[0]-sin*mid[1]+0.5)*m.cell, y: m.y0 + (sy+sin*mid[0]+cos*mid[1]+0.5)*m.cell,
		ux: cos, uy: sin, half: half * m.cell,
	}
}
