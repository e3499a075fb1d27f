package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// The smoothed edge is the level set of the smoothed distance field: checked
// against the mean of max(-d - w x, h + w y) over 400,000 draws of normal x, y.
// The mean's standard error is about w/√400000 = 0.0016 w; 5 of them are
// allowed, for 6 places a false alarm of 3e-6.
func TestEdgeProfileIsSmoothedField(t *testing.T) {
	const w, draws = 0.2, 400_000
	rng := rand.New(rand.NewPCG(5, 6))
	for _, p := range [][2]float64{{0.1128, -0.1128}, {0.05, -0.2}, {0.3, -0.02}, {0, -0.5}, {0.5, 0}, {-0.1, -0.3}} {
		var sum float64
		for range draws {
			sum += max(-p[0]+w*rng.NormFloat64(), p[1]+w*rng.NormFloat64())
		}
		e, s := edgeDistance(p[0], p[1], w)
		up := distuv.UnitNormal.CDF((p[0] + p[1]) / (math.Sqrt2 * w))
		f := -e * math.Hypot(up, 1-up)
		assert.InDelta(t, sum/draws, f, 5*w/math.Sqrt(draws), "at %v", p)
		assert.InDelta(t, (1-up)/math.Hypot(up, 1-up), s, 1e-12)
	}
	// By symmetry the edge's middle lies at d = -h = θ φ(0).
	e, s := edgeDistance(w*math.Sqrt2*distuv.UnitNormal.Prob(0), -w*math.Sqrt2*distuv.UnitNormal.Prob(0), w)
	assert.InDelta(t, 0, e, 1e-12)
	assert.InDelta(t, math.Sqrt2/2, s, 1e-12)
}

// Points of a rounded rim down to half of w, no wall: the wall's radius comes
// back though the points read large. 60 rims, white noise of 0.1 w; the mean
// error of the radius has a standard error near 0.0005, and 2 um are asked
// beyond 4 of them.
func TestFitEdgeFindsTheWall(t *testing.T) {
	const r0, w, noise = 4, 0.2, 0.02
	rng := rand.New(rand.NewPCG(9, 9))
	var sum, sum2, large float64
	const trials = 60
	for range trials {
		var pts []edgePoint
		for range 600 {
			d := 0.05 + 0.75*rng.Float64()
			h := edgeHeight(d, w)
			if h < -0.5*w {
				continue
			}
			a := 2 * math.Pi * rng.Float64()
			_, s := edgeDistance(d, h, w)
			e := noise * rng.NormFloat64()
			d, h = d-e*s, h+e*math.Sqrt(1-s*s)
			sin, cos := math.Sincos(a)
			at := smoothed(r0, w) + d
			pts = append(pts, edgePoint{[2]float64{1 + at*cos, 2 + at*sin}, h})
			large += d / 600 / trials
		}
		f, ok := fitEdge(pts, 1.05, 1.97, r0+0.1, w, 0.2, 1e-9)
		require.True(t, ok)
		sum += f.r - r0
		sum2 += (f.r - r0) * (f.r - r0)
		// 4 standard deviations of the centre are about 0.04.
		assert.InDelta(t, 1, f.x, 0.06)
		assert.InDelta(t, 2, f.y, 0.06)
	}
	mean := sum / trials
	sd := math.Sqrt(sum2/trials - mean*mean)
	assert.InDelta(t, 0, mean, 4*sd/math.Sqrt(trials)+0.002)
	assert.Less(t, sd, 0.01)
	assert.Greater(t, large, 0.2, "the points themselves lie far outside the wall")
}

// edgeHeight solves f(d, h) = 0 for h by bisection.
func edgeHeight(d, w float64) float64 {
	lo, hi := -20*w, 5*w
	for range 80 {
		mid := (lo + hi) / 2
		if e, _ := edgeDistance(d, mid, w); e > 0 { // inside: the surface is higher
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
