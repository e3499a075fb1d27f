package bolt

import (
	"math"
	"slices"

	"spotface/fit"
)

// disc is a circle on a face's sheet fitted to points, and how they took it.
type disc struct {
	x, y, r float64
	weight  []float64 // of each point, 0 for one left out
	scale   float64   // robust standard deviation of the residuals, mm
	used    int       // points with weight
}

// robustDisc fits a circle to pts so that up to a third of them may be off it:
// least squares re-weighted by Tukey's biweight (Beaton and Tukey,
// Technometrics 16 (1974) 147-185) at 4.685 times the scale, the scale the
// median absolute residual over 0.6745 but not below floor.
func robustDisc(pts [][2]float64, start *disc, floor float64) (disc, error) {
	d := disc{weight: make([]float64, len(pts))}
	for i := range d.weight {
		d.weight[i] = 1
	}
	if start != nil {
		d.x, d.y, d.r = start.x, start.y, start.r
		d.reweigh(pts, floor)
	}
	for range 30 {
		c, err := fit.Circle2To(pts, fit.Options{Weights: d.weight})
		if err != nil && c.Radius == 0 {
			return d, err
		}
		move := math.Hypot(c.X-d.x, c.Y-d.y) + math.Abs(c.Radius-d.r)
		d.x, d.y, d.r = c.X, c.Y, c.Radius
		d.reweigh(pts, floor)
		if move < 1e-9*d.r {
			break
		}
	}
	return d, nil
}

// reweigh sets scale and weights from the residuals.
func (d *disc) reweigh(pts [][2]float64, floor float64) {
	e := make([]float64, len(pts))
	abs := make([]float64, len(pts))
	for i, p := range pts {
		e[i] = math.Hypot(p[0]-d.x, p[1]-d.y) - d.r
		abs[i] = math.Abs(e[i])
	}
	slices.Sort(abs)
	d.scale = max(abs[len(abs)/2]/0.6745, floor)
	d.used = 0
	for i := range e {
		u := e[i] / (4.685 * d.scale)
		d.weight[i] = 0
		if u > -1 && u < 1 {
			d.weight[i] = (1 - u*u) * (1 - u*u)
			d.used++
		}
	}
}
