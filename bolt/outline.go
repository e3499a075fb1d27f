package bolt

import "math"

// outline is the line round a slot on the sheet.
type outline struct {
	oblong
	r float64
}

// off is the distance of p outwards from the outline, and the direction, a unit
// vector, in which it lies from the middle line.
func (o *outline) off(p [2]float64) (d, nx, ny float64) {
	dx, dy := p[0]-o.x, p[1]-o.y
	t := max(-o.half, min(o.half, dx*o.ux+dy*o.uy))
	dx, dy = dx-t*o.ux, dy-t*o.uy
	l := math.Hypot(dx, dy)
	if l == 0 {
		return -o.r, 0, 0
	}
	return l - o.r, dx / l, dy / l
}

// end returns the middle of the end against u (0) or along it (1), and the
// window of its half circle.
func (o *outline) end(k int) (x, y float64, w window) {
	side := float64(2*k - 1)
	return o.x + side*o.half*o.ux, o.y + side*o.half*o.uy, window{math.Atan2(side*o.uy, side*o.ux), endHalf}
}

// fit fits both ends to points about the outline and moves the outline to them.
// of are the numbers of the points of each end.
func (o *outline) fit(pts [][2]float64, g grain) (ends [2]disc, of [2][]int32, ok bool) {
	for k := range ends {
		x, y, w := o.end(k)
		var its [][2]float64
		for i, p := range pts {
			if w.has(p[0]-x, p[1]-y) {
				of[k], its = append(of[k], int32(i)), append(its, p)
			}
		}
		if len(its) < rimPoints {
			return ends, of, false
		}
		d, err := robustDisc(its, &disc{x: x, y: y, r: o.r}, g.noise/4)
		if err != nil || d.used < rimPoints || 3*d.used < 2*len(its) ||
			math.Hypot(d.x-x, d.y-y)+math.Abs(d.r-o.r) > 0.3*o.r+2*g.spacing {
			return ends, of, false
		}
		ends[k] = d
	}
	dx, dy := ends[1].x-ends[0].x, ends[1].y-ends[0].y
	l := math.Hypot(dx, dy)
	if l == 0 {
		return ends, of, false
	}
	o.x, o.y, o.half = (ends[0].x+ends[1].x)/2, (ends[0].y+ends[1].y)/2, l/2
	o.ux, o.uy, o.r = dx/l, dy/l, (ends[0].r+ends[1].r)/2
	return ends, of, true
}

// flanked reports whether points about the outline run along both flanks: in at
// least half of the pieces of each, where they lie on it within tol.
func (o *outline) flanked(pts [][2]float64, g grain, tol float64) bool {
	n := min(int(2*o.half/(1.5*g.spacing)), 16)
	if n < 2 {
		return true // next to none
	}
	off := [2][][]float64{make([][]float64, n), make([][]float64, n)}
	for _, p := range pts {
		dx, dy := p[0]-o.x, p[1]-o.y
		t, across := dx*o.ux+dy*o.uy, dy*o.ux-dx*o.uy
		if i := int(math.Floor((t/o.half + 1) / 2 * float64(n))); i >= 0 && i < n {
			side := 0
			if across > 0 {
				side = 1
			}
			off[side][i] = append(off[side][i], math.Abs(across)-o.r)
		}
	}
	for _, side := range off {
		on := 0
		for _, piece := range side {
			if len(piece) > 0 && math.Abs(median(piece)) < tol {
				on++
			}
		}
		if 2*on < n {
			return false
		}
	}
	return true
}

// cornered returns how far short of the half width the radius of its corners
// falls, mm, if points about the outline make an oblong with four rounded corners:
// 0 for a slot, negative for pointed ends. A corner smaller by c, length and width
// kept, stands out by c (|cos φ| + |sin φ| - 1) in the direction φ from the end's
// axis; least squares with place, direction, length and width.
func (o *outline) cornered(pts [][2]float64, tol float64) float64 {
	q := newEquations(6)
	for _, p := range pts {
		e, nx, ny := o.off(p)
		if math.Abs(e) > tol {
			continue
		}
		along, across := math.Abs(nx*o.ux+ny*o.uy), math.Abs(ny*o.ux-nx*o.uy)
		q.add(1, e, nx, ny, (p[0]-o.x)*ny-(p[1]-o.y)*nx, along, 1, along+across-1)
	}
	beta, _, ok := q.solve()
	if !ok {
		return math.Inf(1)
	}
	return beta[5]
}
