package bolt

import (
	"math"

	"spotface/fit"
	"spotface/mesh/geom"
)

// disc is a circle on a face's sheet fitted to points, and how they took it.
type disc struct {
	x, y, r float64
	weight  []float64 // of each point, 0 for one left out
	scale   float64   // robust standard deviation of the residuals, mm
	used    int       // points with weight
}

// tuning is that of Tukey's biweight, in standard deviations, at which it has 95 %
// of the mean's efficiency on normal noise.
const tuning = 4.685

// robustDisc fits a circle to pts so that up to a third of them may be off it:
// least squares re-weighted by Tukey's biweight (Beaton and Tukey,
// Technometrics 16 (1974) 147-185) at 4.685 times the scale, the scale the
// median absolute residual over 0.6745 but not below floor. Many points are
// begun with a sample of them.
func robustDisc(pts [][2]float64, start *disc, floor float64) (disc, error) {
	const sample = 600
	var d disc
	if start != nil {
		d.x, d.y, d.r = start.x, start.y, start.r
	} else {
		some := pts
		if len(pts) > sample {
			some = nil
			for k := range sample {
				some = append(some, pts[k*len(pts)/sample])
			}
		}
		c, err := fit.Circle2DTo(some, fit.Options{})
		if err != nil && c.Radius == 0 {
			return d, err
		}
		d.x, d.y, d.r = c.X, c.Y, c.Radius
		if len(some) < len(pts) {
			d.settle(some, floor)
		}
	}
	return d, d.settle(pts, floor)
}

// settle repeats re-weighting and a Gauss-Newton step until the circle rests.
func (d *disc) settle(pts [][2]float64, floor float64) error {
	e := make([]float64, len(pts))
	abs := make([]float64, len(pts))
	d.weight = make([]float64, len(pts))
	for round := range 40 {
		for i, p := range pts {
			e[i] = math.Hypot(p[0]-d.x, p[1]-d.y) - d.r
			abs[i] = math.Abs(e[i])
		}
		if round < 8 || round%8 == 0 { // then the scale has settled
			d.scale = max(geom.Nth(abs, len(abs)/2)/0.6745, floor)
		}
		var a [3][3]float64
		var b [3]float64
		d.used = 0
		for i, p := range pts {
			u := e[i] / (tuning * d.scale)
			d.weight[i] = 0
			if u <= -1 || u >= 1 {
				continue
			}
			w := (1 - u*u) * (1 - u*u)
			d.weight[i] = w
			d.used++
			q := d.r + e[i]
			cos, sin := (p[0]-d.x)/q, (p[1]-d.y)/q
			// e = |p - c| - r: ∂e/∂c = -(cos, sin), ∂e/∂r = -1
			a[0][0] += w * cos * cos
			a[0][1] += w * cos * sin
			a[0][2] += w * cos
			a[1][1] += w * sin * sin
			a[1][2] += w * sin
			a[2][2] += w
			b[0] += w * e[i] * cos
			b[1] += w * e[i] * sin
			b[2] += w * e[i]
		}
		a[1][0], a[2][0], a[2][1] = a[0][1], a[0][2], a[1][2]
		step, _, ok := solveSPD(a, b)
		if !ok {
			return fit.ErrDegenerate
		}
		d.x, d.y, d.r = d.x+step[0], d.y+step[1], d.r+step[2]
		if !(d.r > 0) {
			return fit.ErrNoConvergence
		}
		if math.Abs(step[0])+math.Abs(step[1])+math.Abs(step[2]) < 1e-7*d.r {
			return nil
		}
	}
	return nil
}

// solveSPD solves a x = b and returns a's inverse too.
func solveSPD(a [3][3]float64, b [3]float64) (x [3]float64, inv [3][3]float64, ok bool) {
	inv, ok = invert3(a)
	if !ok {
		return x, inv, false
	}
	for i := range 3 {
		x[i] = dot3(inv[i], b)
	}
	return x, inv, true
}

func dot3(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
