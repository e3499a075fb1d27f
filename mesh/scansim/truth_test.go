package scansim

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func degrees(a []s1.Angle) []float64 {
	out := make([]float64, len(a))
	for i, v := range a {
		out[i] = v.Degrees()
	}
	return out
}

func inDeltas(t *testing.T, want, got []float64, delta float64, msg string) {
	t.Helper()
	require.Len(t, got, len(want), msg)
	for i := range want {
		assert.InDelta(t, want[i], got[i], delta, "%s, hole %d", msg, i+1)
	}
}

func ringOf(spec FlangeSpec) Pattern { return Flange(spec).Patterns[0] }

func TestClockingByHand(t *testing.T) {
	// A hole turned about the centre stays on the circle, so the least-squares
	// circle is the design's; taking the mean 0.4/6 off leaves 0.4*5/6 and
	// -0.4/6.
	b := ringOf(FlangeSpec{Start: 17 * s1.Degree, Clocking: []s1.Angle{0, 0, 0.4 * s1.Degree}})
	c := -0.4 / 6
	inDeltas(t, []float64{c, c, 0.4 + c, c, c, c}, degrees(b.BestFit), 1e-10, "one hole turned")
	assert.InDelta(t, 84, b.FitPitchDiameter, 1e-10)

	b = ringOf(FlangeSpec{Clocking: []s1.Angle{0.3 * s1.Degree}})
	inDeltas(t, []float64{0.25, -0.05, -0.05, -0.05, -0.05, -0.05}, degrees(b.BestFit), 1e-10, "first hole turned")

	// A hole e outward on a ring of n = 6, radius r: to first order the centre
	// moves by 2e/n toward it and the radius grows by e/n. A hole at the angle
	// a from it then reads turned by 2e/(n r) sin a, away from that direction.
	// The mean of these is zero. Second order is e²/r², 2e-4 degrees here.
	const e, r = 0.08, 42.0
	b = ringOf(FlangeSpec{Radial: []float64{0, e}})
	var want []float64
	for i := range 6 {
		a := float64(i-1) * math.Pi / 3
		want = append(want, 2*e/(6*r)*math.Sin(a)*180/math.Pi)
	}
	inDeltas(t, want, degrees(b.BestFit), 2e-4, "one hole outward")
	assert.InDelta(t, 84+2*e/6, b.FitPitchDiameter, 1e-3)
	assert.InDelta(t, 2*e/6, b.FitCentre.Norm(), 1e-3)
}

// The figures were computed elsewhere, by another program, for a ring of pitch
// diameter 97.38 with hole 3 turned by 0.40 degrees and hole 5 moved 0.15 mm
// outward.
func TestClockingAgainstIndependentComputation(t *testing.T) {
	b := ringOf(FlangeSpec{
		Diameter: 131.46, PitchDiameter: 97.38, HoleDiameter: 10.57, Start: 23.9 * s1.Degree,
		Clocking: []s1.Angle{0, 0, 0.4 * s1.Degree}, Radial: []float64{0, 0, 0, 0, 0.15},
	})
	assert.InDelta(t, 97.42992478147399, b.FitPitchDiameter, 1e-9)
	inDeltas(t, []float64{
		-0.015575172059567896, -0.06652963981150369, 0.2822079542627189,
		-0.11774221750392873, -0.0667352660671104, -0.015625658820608145,
	}, degrees(b.BestFit), 1e-9, "two holes off")
}

func TestPartialRing(t *testing.T) {
	b := ringOf(FlangeSpec{Holes: 3, Spacing: 60 * s1.Degree, Clocking: []s1.Angle{0, 0.1 * s1.Degree}})
	// Any three points lie on a circle.
	assert.InDelta(t, 84, b.FitPitchDiameter, 1e-9)
	inDeltas(t, []float64{-0.1 / 3, 0.2 / 3, -0.1 / 3}, degrees(b.BestFit), 1e-9, "three of six")

	p := Flange(FlangeSpec{Missing: []int{1}})
	require.NoError(t, p.err)
	assert.Equal(t, "A3", p.Holes[p.Patterns[0].Holes[1]].Name)
	inDeltas(t, []float64{0, 120, 180, 240, 300}, degrees(p.Patterns[0].Nominal), 1e-10, "one missing")
}

func TestPoseIsProperAndUniform(t *testing.T) {
	var mean r3.Vector
	const n = 3000
	for seed := range uint64(n) {
		g := randomPose(rand.New(rand.NewPCG(seed, streamPose)))
		x, y, z := g.Turn(r3.Vector{X: 1}), g.Turn(r3.Vector{Y: 1}), g.Turn(r3.Vector{Z: 1})
		assert.InDelta(t, 1, x.Norm(), 1e-14)
		assert.InDelta(t, 0, x.Dot(y), 1e-14)
		assert.InDelta(t, 0, x.Cross(y).Distance(z), 1e-14, "a mirrored pose")
		p := r3.Vector{X: 3, Y: -20, Z: 7}
		assert.InDelta(t, 0, g.Inverse().Apply(g.Apply(p)).Distance(p), 1e-12)
		mean = mean.Add(z.Mul(1.0 / n))
	}
	// Each component of a uniform direction has the variance 1/3, its mean over
	// 3000 the deviation 0.0105; five of them: false alarm 2e-6 over three.
	for _, v := range []float64{mean.X, mean.Y, mean.Z} {
		assert.InDelta(t, 0, v, 5*0.0105)
	}
}
