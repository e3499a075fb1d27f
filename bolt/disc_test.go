package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim/trials"
)

// sheetCloud throws points evenly on a face of 80 x 60, but for where cut says
// so, and lays a few points of a boss on it.
func sheetCloud(t *testing.T, seed uint64, cut func(x, y float64) bool, boss float64) (*mesh.Scan, *segment.Segmentation) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 3))
	s := &mesh.Scan{}
	var idx []int32
	for range 60_000 {
		x, y := 80*rng.Float64(), 60*rng.Float64()
		if cut(x, y) {
			continue
		}
		idx = append(idx, int32(len(s.Offsets)))
		s.Offsets = append(s.Offsets, mesh.Vec32{float32(x), float32(y), float32(0.03 * rng.NormFloat64())})
	}
	if boss > 0 {
		for range 600 {
			r, a := boss*math.Sqrt(rng.Float64()), 2*math.Pi*rng.Float64()
			s.Offsets = append(s.Offsets, mesh.Vec32{float32(60 + r*math.Cos(a)), float32(45 + r*math.Sin(a)), 5})
		}
	}
	pf, err := fit.PlaneTo(pointsOf(s, idx), fit.Options{})
	require.NoError(t, err)
	if pf.Normal.Z < 0 {
		pf.Normal = pf.Normal.Mul(-1)
	}
	face := segment.Surface{ID: "P1", Points: idx, Fit: pf}
	return s, numbered(&segment.Segmentation{Surfaces: []segment.Surface{face}, Noise: 0.03, Spacing: 0.15}, s)
}

// On a cloud without walls holes are empty discs; obrounds, squares with
// rounded corners and the footprint of a boss are not holes, nor is chance.
func TestDiscsOfACloud(t *testing.T) {
	in := func(x, y, cx, cy, r float64) bool { return math.Hypot(x-cx, y-cy) < r }
	s, seg := sheetCloud(t, 1, func(x, y float64) bool {
		return in(x, y, 15, 15, 3) || in(x, y, 40, 15, 2) || in(x, y, 15, 45, 4) ||
			in(x, y, 60, 45, 4) || // the boss
			math.Abs(y-40) < 3 && math.Abs(x-38) < 2 || in(x, y, 36, 40, 3) || in(x, y, 40, 40, 3) || // an obround
			math.Max(math.Abs(x-65), math.Abs(y-15)) < 3.5 // a square
	}, 4)
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	require.Len(t, m.Holes, 3)
	for _, h := range m.Holes {
		var want [3]float64
		for _, w := range [][3]float64{{15, 15, 3}, {40, 15, 2}, {15, 45, 4}} {
			if h.Centre.Distance(r3.Vector{X: w[0], Y: w[1]}) < 0.5 {
				want = w
			}
		}
		require.NotZero(t, want[2])
		assert.Equal(t, Rim, h.From)
		assert.InDelta(t, 2*want[2], h.Diameter, 4*h.DiameterU)
		assert.InDelta(t, want[0], h.Centre.X, 4*math.Sqrt(h.CentreCov[0][0]))
		assert.InDelta(t, want[1], h.Centre.Y, 4*math.Sqrt(h.CentreCov[1][1]))
		assert.Less(t, h.DiameterU, 0.2)
	}
}

// Faces of 60,000 points without holes show none; each at less than 1e-5.
func TestDiscsNotInvented(t *testing.T) {
	for seed := range uint64(trials.Of(2, 1)) {
		s, seg := sheetCloud(t, seed, func(x, y float64) bool { return false }, 0)
		m, err := Measure(t.Context(), s, seg, Options{})
		require.NoError(t, err)
		assert.Empty(t, m.Holes)
	}
}

// pointsOf returns the named points of a scan.
func pointsOf(s *mesh.Scan, idx []int32) []r3.Vector {
	out := make([]r3.Vector, len(idx))
	for k, i := range idx {
		out[k] = s.Point(int(i))
	}
	return out
}
