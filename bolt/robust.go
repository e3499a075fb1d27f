package bolt

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/bolt/hole"
	"spotface/fit"
	"spotface/mesh/geom"
)

// disc is a circle on a face's sheet, or another outline, fitted to points.
type disc struct {
	hole.Outline
	scale float64 // robust standard deviation of the residuals, mm
	used  int     // points that are no outliers
}

// robustDisc fits a circle to pts so that up to a third of them may be off it, as
// hole.Outline.Fit does, its scale not below floor. Many points are begun with a sample.
func robustDisc(pts [][2]float64, start *disc, floor float64) (d disc, err error) {
	const sample = 600
	if start != nil {
		d = *start
		return d, d.settle(pts, floor)
	}
	some := pts
	if len(pts) > sample {
		some = nil
		for k := range sample {
			some = append(some, pts[k*len(pts)/sample])
		}
	}
	flat := make([]r3.Vector, len(some))
	for i, p := range some {
		flat[i] = r3.Vector{X: p[0], Y: p[1]}
	}
	c, err := fit.Circle2DTo(flat, fit.Options{})
	if err != nil && c.Radius == 0 {
		return d, err
	}
	d.Outline = hole.Circle(c.Centre.X, c.Centre.Y, c.Radius)
	if len(some) < len(pts) {
		d.settle(some, floor)
	}
	return d, d.settle(pts, floor)
}

// settle moves the circle to the points; the error says that they make no sense of it.
func (d *disc) settle(pts [][2]float64, floor float64) error {
	off := make([]float64, len(pts))
	for i, p := range pts {
		off[i] = math.Abs(d.Off(p))
	}
	band := hole.Tuning * max(geom.Median(off)/0.6745, floor)
	o, scale, ok := d.Fit(hole.Round, pts, band, floor, hole.Settled*d.B)
	if !ok {
		return fit.ErrDegenerate
	}
	*d = disc{Outline: o, scale: scale}
	for _, p := range pts {
		if math.Abs(d.Off(p)) < hole.Tuning*scale {
			d.used++
		}
	}
	return nil
}
