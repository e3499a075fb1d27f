package fit

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/noise"
	"spotface/mesh/geom"
	"spotface/mesh/scansim/trials"
)

// Points of a patch that all share one error, besides noise of their own, have the
// plane's height as unsure as that error: its variance and σ²/n. With nothing shared
// Cov comes back, nearly.
func TestCorrelatedOfOneCommonError(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	var pts []r3.Vector
	for range 600 {
		pts = append(pts, r3.Vector{X: 10 * rng.Float64(), Y: 8 * rng.Float64(), Z: 0.01 * rng.NormFloat64()})
	}
	f, err := PlaneTo(pts, Options{})
	require.NoError(t, err)
	none := sharedOf(f, pts, 0, 1)
	for i := range 3 { // the cells' means lose what a tilt has within a cell
		assert.InEpsilon(t, f.Cov[i][i], none[i][i], 0.05)
	}
	cov := sharedOf(f, pts, 4e-4, 1e9)
	assert.InDelta(t, 4e-4+f.Cov[0][0], cov[0][0], 0.02*4e-4) // the half thousand pairs left out
	// A common shift tilts nothing.
	assert.InDelta(t, f.Cov[1][1], cov[1][1], 1e-3*4e-4)
}

func sharedOf(f PlaneFit, pts []r3.Vector, variance, length float64) matrix {
	s2 := f.Residuals.Sigma * f.Residuals.Sigma
	m := &noise.Model{Length: []float64{length}, Variance: []float64{variance}, Nugget: s2}
	return Correlated(f, pts, m, s2).(PlaneFit).Cov
}

// Heights and tilts of simulated patches whose errors are sums of waves about as long as
// the patch, with the covariance exp(-d²/2L²): their scatter is that of shared within 7 %,
// for finitely many waves and the pairs left out. False-alarm rate: 1e-4 each.
func TestCorrelatedIsTheScatterOfHeightsAndTilts(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 5))
	const l, sigma, own = 6.0, 0.02, 0.005
	var flat []r3.Vector
	for range 300 {
		flat = append(flat, r3.Vector{X: 10*rng.Float64() - 5, Y: 8*rng.Float64() - 4})
	}
	const waves, draws = 60, 150
	var got, want [3]float64
	for range draws {
		pts := append([]r3.Vector(nil), flat...)
		for range waves { // spectral method: random frequencies of the kernel
			kx, ky, phase := rng.NormFloat64()/l, rng.NormFloat64()/l, 2*math.Pi*rng.Float64()
			for i := range pts {
				pts[i].Z += sigma * math.Sqrt(2.0/waves) * math.Cos(kx*pts[i].X+ky*pts[i].Y+phase)
			}
		}
		for i := range pts {
			pts[i].Z += own * rng.NormFloat64()
		}
		f, err := PlaneTo(pts, Options{})
		require.NoError(t, err)
		n := f.Normal.Mul(math.Copysign(1, f.Normal.Z))
		h := f.Point.Dot(n) / n.Z // over the origin
		for i, v := range []float64{h, n.X / n.Z, n.Y / n.Z} {
			got[i] += v * v / draws
		}
		e1, e2 := geom.Basis(f.Normal)
		cov := sharedOf(f, pts, sigma*sigma, l)
		want[0] += cov[0][0] / draws
		tilt := func(d r3.Vector) float64 {
			a, b := e1.Dot(d), e2.Dot(d)
			return a*a*cov[1][1] + 2*a*b*cov[1][2] + b*b*cov[2][2]
		}
		want[1] += tilt(r3.Vector{X: 1}) / draws
		want[2] += tilt(r3.Vector{Y: 1}) / draws
	}
	for i := range got {
		low, high := trials.RMS(draws, 1e-4)
		ratio := math.Sqrt(got[i] / want[i])
		assert.True(t, low-0.07 < ratio && ratio < high+0.07, "parameter %d: %g", i, ratio)
	}
}
