package fit

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/geom"
	"spotface/mesh/scansim/trials"
)

// Points of a patch that all share one error, besides noise of their own, have the
// plane's height as unsure as that error: its variance and σ²/n. With nothing shared
// Cov comes back.
func TestSharedOfOneCommonError(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	var pts []r3.Vector
	for range 600 {
		pts = append(pts, r3.Vector{X: 10 * rng.Float64(), Y: 8 * rng.Float64(), Z: 0.01 * rng.NormFloat64()})
	}
	f, err := PlaneTo(pts, Options{})
	require.NoError(t, err)
	assert.Equal(t, f.Cov, sharedOf(f, pts, func(float64) float64 { return 0 }))
	cov := sharedOf(f, pts, func(float64) float64 { return 4e-4 })
	assert.InDelta(t, 4e-4+f.Cov[0][0], cov[0][0], 0.02*4e-4) // the half thousand pairs left out
	// A common shift tilts nothing.
	assert.InDelta(t, f.Cov[1][1], cov[1][1], 1e-3*4e-4)
}

func sharedOf(f PlaneFit, pts []r3.Vector, c Covariance) matrix {
	f.set(newClusters(f).shared(pts, c))
	return f.Cov
}

// Clusters and what is shared: the larger variance counts, and it is known.
func TestClusteredKnowsWhatIsShared(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 6))
	var pts []r3.Vector
	for range 100 { // too few for clusters
		pts = append(pts, r3.Vector{X: 3 * rng.Float64(), Y: 3 * rng.Float64(), Z: 0.01 * rng.NormFloat64()})
	}
	f, err := PlaneTo(pts, Options{})
	require.NoError(t, err)
	wide, known := Clustered(f, pts, 0.3, nil)
	assert.False(t, known)
	assert.Equal(t, f, wide)
	share := func(d2 float64) float64 { return 1e-4 * math.Exp(-d2/8) }
	wide, known = Clustered(f, pts, 0.3, share)
	assert.True(t, known)
	cov := wide.(PlaneFit).Cov
	want := sharedOf(f, pts, share)
	for i := range 3 {
		assert.InEpsilon(t, want[i][i], cov[i][i], 1e-9)
		assert.Greater(t, cov[i][i], f.Cov[i][i])
	}
}

// Heights and tilts of simulated patches whose errors are sums of waves about as long as
// the patch, with the covariance exp(-d²/2L²): their scatter is that of shared within 7 %,
// for finitely many waves and the pairs left out. False-alarm rate: 1e-4 each.
func TestSharedIsTheScatterOfHeightsAndTilts(t *testing.T) {
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
		cov := sharedOf(f, pts, func(d2 float64) float64 { return sigma * sigma * math.Exp(-d2/(2*l*l)) })
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
