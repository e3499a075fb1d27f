package scansim

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// turned is a disc with a round groove in its face and a wavy underside.
func turned() *Part {
	z := r3.Vector{Z: 1}
	body := Meet(
		HalfSpace("mounting", r3.Vector{}, z),
		Rod("outer", r3.Vector{}, z, 30),
		Waves("wavy", r3.Vector{Z: -12}, z.Mul(-1), 1.5, 20),
	)
	groove := Ring("groove", r3.Vector{}, z, 20, 4)
	return NewPart("turned", Minus(body, groove), r3.Vector{X: -30, Y: -30, Z: -14}, r3.Vector{X: 30, Y: 30}, nil, nil)
}

func TestBlendsAreDistances(t *testing.T) {
	disc := Disc("mounting", "bottom", "side", r3.Vector{}, 30, 12)
	p := NewPart("grooved", Minus(disc, Ring("groove", r3.Vector{}, r3.Vector{Z: 1}, 20, 4)),
		r3.Vector{X: -30, Y: -30, Z: -12}, r3.Vector{X: 30, Y: 30}, nil, nil)
	require.NoError(t, p.err)
	rng := rand.New(rand.NewPCG(3, 1))
	row, scratch := make([]float64, 5), [][]float64{make([]float64, 5), make([]float64, 5), make([]float64, 5), make([]float64, 5)}
	for range 2000 {
		q, step := randomIn(rng, p), RandomRotation(rng).Turn(r3.Vector{X: 0.5})
		v := p.solid.at(q)
		assert.LessOrEqual(t, math.Abs(p.solid.at(q.Add(step))-v), step.Norm()+1e-12)
		p.solid.fill(q, step, row, scratch)
		for i, got := range row {
			assert.InDelta(t, p.solid.at(q.Add(step.Mul(float64(i)))), got, 1e-11)
		}
		groove := p.FaceNamed("groove")
		n := groove.Normal(q)
		assert.InDelta(t, 1e-6, groove.Signed(q.Add(n.Mul(1e-6)))-groove.Signed(q), 1e-11)
	}
}

func TestBlendsAreCoveredByArea(t *testing.T) {
	p := turned()
	const n = 60_000
	_, truth, err := Cloud(t.Context(), p, CloudOptions{Seed: 12, Points: n, ShowHidden: true, EdgeMargin: 1e-9})
	require.NoError(t, err)
	// By hand: the groove is the lower half of a torus, by Pappus π 4 * 2π 20
	// (the section's centroid stays at 20 mm). The wavy face is covered as the
	// plane that it waves about.
	want := map[string]float64{
		"mounting": math.Pi * (30*30 - 24*24 + 16*16),
		"groove":   math.Pi * 4 * 2 * math.Pi * 20,
		"wavy":     math.Pi * 30 * 30,
	}
	// The side's lower edge waves: leave it out and compare the other three.
	total, seen := 0.0, 0.0
	for role, a := range want {
		total += a
		seen += float64(truth.Count[p.FaceNamed(role).ID])
	}
	chi2 := 0.0
	for role, a := range want {
		e := seen * a / total
		d := float64(truth.Count[p.FaceNamed(role).ID]) - e
		chi2 += d * d / e
	}
	// 2 degrees of freedom: above 20 with the probability 5e-5.
	assert.Less(t, chi2, 20.0)
}

func TestBlendsFused(t *testing.T) {
	p := turned()
	s, truth, err := Fused(t.Context(), p, FusedOptions{Seed: 1, Voxel: 0.6, ShowHidden: true, Smooth: -1})
	require.NoError(t, err)
	for _, f := range truth.Faces {
		mean, sd, n := residuals(s, &truth, f)
		require.Greater(t, n, 500, f.Role)
		if f.Shape == Freeform {
			assert.InDelta(t, 1.5/2, sd, 0.03, "rms of a product of two sines of amplitude 1.5 mm")
			continue
		}
		// Nets sag by some tenth of h²/r; the tightest radius is 4 mm.
		assert.InDelta(t, 0, mean, 0.3*0.6*0.6/4, f.Role)
		assert.Less(t, sd, 0.2*0.6*0.6/4, f.Role)
	}
	for i, l := range truth.Labels {
		if l != LabelEdge {
			q := truth.Pose.Inverse().Apply(s.Point(int(s.Triangles[i][0])))
			require.InDelta(t, 0, p.solid.at(q), 0.03, "curvature of at most 1/4 mm, chords of a voxel")
		}
	}
}
