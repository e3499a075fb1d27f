package bolt

import (
	"math"
	"slices"
)

// arcBins is the number of bins round a circle.
const arcBins = 48

// arcSeries is what a circle's residuals look like round it.
type arcSeries struct {
	radius float64
	depth  float64   // of the wall that each bin is the mean of, mm; 0: a rim
	theta  []float64 // mean angle of each bin's points, rad
	y      []float64 // mean residual, outwards, mm
	n      []float64 // points
}

// newArcSeries bins the radial residuals of pts from the circle, with the
// weights w of Tukey's biweight (nil for ones; zero leaves a point out).
//
// Where a bin's points are shifted together, their weighted mean shows less of
// the shift than there is: the biweight ψ(e) = e w(e), w = (1 - u²)², pulls large
// residuals in. The shift is Σψ/Σψ', ψ' = (1 - u²)(1 - 5u²), to first order
// (Huber, Robust Statistics, 1981, eq. 3.2.13), so means are taken by Σψ'; one
// Σψ'/Σw for all bins, since a bin alone scatters.
func newArcSeries(pts [][2]float64, w []float64, x, y, r float64) arcSeries {
	var t, e, n [arcBins]float64
	var sumW, sumSlope float64
	for i, p := range pts {
		wi := 1.0
		if w != nil {
			wi = w[i]
		}
		if wi == 0 {
			continue
		}
		qx, qy := p[0]-x, p[1]-y
		a := wrap(math.Atan2(qy, qx))
		b := min(int(a/(2*math.Pi)*arcBins), arcBins-1)
		t[b] += wi * a
		e[b] += wi * (math.Hypot(qx, qy) - r)
		n[b] += wi
		v := math.Sqrt(wi) // 1 - u²
		sumW += wi
		sumSlope += v * (5*v - 4)
	}
	shrink := 1.0
	if sumW > 0 {
		shrink = max(0.5, sumSlope/sumW)
	}
	s := arcSeries{radius: r}
	for b := range n {
		if n[b] > 0 {
			s.theta = append(s.theta, t[b]/n[b])
			s.y = append(s.y, e[b]/n[b]/shrink)
			s.n = append(s.n, n[b])
		}
	}
	return s
}

// coarse returns the series in bins three times as wide.
func (s arcSeries) coarse() arcSeries {
	const bins = arcBins / 3
	var t, y, n [bins]float64
	for i, w := range s.n {
		b := min(int(s.theta[i]/(2*math.Pi)*bins), bins-1)
		t[b] += w * s.theta[i]
		y[b] += w * s.y[i]
		n[b] += w
	}
	out := arcSeries{radius: s.radius, depth: s.depth}
	for b := range n {
		if n[b] > 0 {
			out.theta = append(out.theta, t[b]/n[b])
			out.y = append(out.y, y[b]/n[b])
			out.n = append(out.n, n[b])
		}
	}
	return out
}

// white is the mean over the bins of 1/n.
func (s arcSeries) white() float64 {
	var w float64
	for _, n := range s.n {
		w += 1 / n / float64(len(s.n))
	}
	return w
}

// median returns the middle value of v, the lower of two; 0 of none.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(v))
	return s[(len(s)-1)/2]
}
