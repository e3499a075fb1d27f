package bolt

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"pgregory.net/rapid"

	"spotface/bolt/pattern"
	"spotface/mesh/geom"
	"spotface/mesh/scansim/trials"
)

func ExampleClock() {
	holes := Ideal(6, 140, 2*s1.Degree) // holes, pitch diameter mm, clocking
	// Hole 3 stands 0.4 degrees further round.
	a := 122.4 * math.Pi / 180
	holes[2].Centre = r3.Vector{X: 70 * math.Cos(a), Y: 70 * math.Sin(a)}

	c, err := Clock(holes, pattern.Reading{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d x %.0f degrees on %.2f mm\n", c.Nominal.Positions, c.Nominal.Step.Degrees(), c.PitchDiameter)
	for _, k := range c.Clocking {
		fmt.Printf("%s at %7.3f, %+.3f from nominal, %+.3f from the others\n", k.Hole,
			k.Angle.Degrees(), k.Deviation.Degrees(), k.FromOthers.Degrees())
	}
	// Output:
	// 6 x 60 degrees on 140.00 mm
	// H1 at   0.000, -0.067 from nominal, -0.080 from the others
	// H2 at  60.000, -0.067 from nominal, -0.080 from the others
	// H3 at 120.400, +0.333 from nominal, +0.400 from the others
	// H4 at 180.000, -0.067 from nominal, -0.080 from the others
	// H5 at 240.000, -0.067 from nominal, -0.080 from the others
	// H6 at 300.000, -0.067 from nominal, -0.080 from the others
}

func withSigma(holes []Hole, sigma float64) []Hole {
	for i := range holes {
		holes[i].CentreCov = [2][2]float64{{sigma * sigma, 0}, {0, sigma * sigma}}
	}
	return holes
}

// A covariance has no negative eigenvalue; one of rank 1, and one that is not known, are let be.
func TestClockRefusesNoCovariance(t *testing.T) {
	for _, c := range []struct {
		cov  [2][2]float64
		says string
	}{
		{[2][2]float64{{-1e-4, 0}, {0, 1e-4}}, "H2 has a negative variance"},
		{[2][2]float64{{1e-4, 2e-4}, {2e-4, 1e-4}}, "H2 has a negative variance"},
		{[2][2]float64{{1e-4, 1e-4}, {1e-4, 1e-4}}, ""},
		{[2][2]float64{{math.NaN(), 0}, {0, 1e-4}}, ""},
	} {
		holes := withSigma(Ideal(6, 84, 0), 0.01)
		holes[1].CentreCov = c.cov
		_, err := Clock(holes, pattern.Reading{})
		if c.says == "" {
			assert.NoError(t, err, "%v", c.cov)
		} else {
			assert.ErrorContains(t, err, c.says)
		}
	}
}

// formulas.json, "clocking-variances" (derived there, checked there by
// simulation): variances as multiples of sigma²/R².
func TestUncertaintyClosedForms(t *testing.T) {
	const sigma, radius = 0.02, 50.0
	for _, n := range []int{4, 5, 6, 8, 12} {
		c, err := Clock(withSigma(Ideal(n, 2*radius, 0.3), sigma), pattern.Reading{})
		require.NoError(t, err)
		unit := sigma * sigma / radius / radius
		// "hole angle about LS circle centre" 1 + 2/n, less the pattern's
		// clocking, with which it correlates by 1/n (any centre): the mean of
		// all angles is free of the centre.
		devVar := 1 + 2/float64(n) - 1/float64(n)
		sin := math.Sin(math.Pi / float64(n))
		spacingVar := 2 + 8*sin*sin/float64(n)
		// Others: the left-out angle about the others' centre has more; at
		// least the hole's own 1 plus the others' turn 1/(n-1).
		for _, k := range c.Clocking {
			assert.InEpsilon(t, devVar, k.U.Radians()*k.U.Radians()/unit, 1e-9, "%d holes", n)
			assert.Greater(t, k.FromOthersU.Radians()*k.FromOthersU.Radians()/unit, 1+1/float64(n-1))
		}
		for _, s := range c.Spacing {
			assert.InEpsilon(t, spacingVar, s.U.Radians()*s.U.Radians()/unit, 1e-9, "%d holes", n)
		}
		assert.InEpsilon(t, 2/float64(n)*sigma*sigma, c.CentreCov[0][0], 1e-9)
		assert.InEpsilon(t, 2/float64(n)*sigma*sigma, c.CentreCov[1][1], 1e-9)
		assert.InEpsilon(t, 2*sigma/math.Sqrt(float64(n)), c.PitchU, 1e-9)
	}
}

// The same rows as formulas.json gives them in numbers, for six holes.
func TestUncertaintyTable(t *testing.T) {
	var ref struct {
		Formulas []struct {
			ID    string
			Check json.RawMessage
		}
	}
	readReference(t, "formulas.json", &ref)
	var check struct {
		N        int
		R, Sigma float64
		Rows     map[string]struct {
			Formula float64 `json:"formula_times_R2_over_sigma2"`
		}
		Centre map[string][2]float64
	}
	for _, f := range ref.Formulas {
		if f.ID == "clocking-variances" {
			require.NoError(t, json.Unmarshal(f.Check, &check))
		}
	}
	require.Equal(t, 6, check.N)
	l, err := layHoles(withSigma(Ideal(check.N, 2*check.R, 0.1), check.Sigma))
	require.NoError(t, err)
	unit := check.Sigma * check.Sigma / check.R / check.R
	row := l.turns
	assert.InEpsilon(t, check.Rows["hole angle about least-squares circle centre of the n holes"].Formula, l.places.Joint(row[2], row[2])/unit, 1e-9)
	d := slices.Clone(row[3])
	floats.Sub(d, row[2])
	assert.InEpsilon(t, check.Rows["adjacent spacing about least-squares circle centre"].Formula, l.places.Joint(d, d)/unit, 1e-9)
	mean := make([]float64, len(d))
	for _, r := range row {
		floats.AddScaled(mean, 1/float64(check.N), r)
	}
	assert.InEpsilon(t, check.Rows["pattern clocking (mean of n hole angles), any centre"].Formula, l.places.Joint(mean, mean)/unit, 1e-9)
	assert.InEpsilon(t, check.Centre["ls_circle"][0], l.places.Joint(l.ring.DX, l.ring.DX)/check.Sigma/check.Sigma, 1e-9)
}

// Holes of unlike, correlated uncertainty on irregularly wrong places: the
// stated uncertainty of every figure against simulated measurements. False-alarm rate:
// 1e-5 for each of 25 figures.
func TestUncertaintyByMonteCarlo(t *testing.T) {
	n := trials.Of(1000, 200)
	rng := rand.New(rand.NewPCG(1, 2))
	holes := Ideal(6, 90, 0.4)
	root := make([][2][2]float64, len(holes)) // lower square root of each covariance
	for i := range holes {
		holes[i].Centre.X += 0.3 * rng.NormFloat64()
		holes[i].Centre.Y += 0.3 * rng.NormFloat64()
		a, b, c := 0.01+0.02*rng.Float64(), 0.02*rng.NormFloat64(), 0.01+0.01*rng.Float64()
		root[i] = [2][2]float64{{a, 0}, {b, c}}
		holes[i].CentreCov = [2][2]float64{{a * a, a * b}, {a * b, b*b + c*c}}
	}
	base, err := Clock(holes, pattern.Reading{})
	require.NoError(t, err)
	figures := func(c Circle) (v, u []float64) {
		for _, k := range c.Clocking {
			v = append(v, k.Deviation.Radians(), k.FromOthers.Radians(), k.Radial)
			u = append(u, k.U.Radians(), k.FromOthersU.Radians(), k.RadialU)
		}
		for _, s := range c.Spacing {
			v = append(v, s.Deviation.Radians())
			u = append(u, s.U.Radians())
		}
		return append(v, c.PitchDiameter), append(u, c.PitchU)
	}
	truth, stated := figures(base)
	sum := make([]float64, len(truth))
	e1, e2 := newFlat(r3.Vector{}, r3.Vector{Z: 1}).e1, newFlat(r3.Vector{}, r3.Vector{Z: 1}).e2
	for range n {
		h := make([]Hole, len(holes))
		copy(h, holes)
		for i := range h {
			z0, z1 := rng.NormFloat64(), rng.NormFloat64()
			h[i].Centre = h[i].Centre.Add(e1.Mul(root[i][0][0] * z0)).Add(e2.Mul(root[i][1][0]*z0 + root[i][1][1]*z1))
		}
		c, err := Clock(h, base.Nominal)
		require.NoError(t, err)
		v, _ := figures(c)
		for k := range v {
			sum[k] += (v[k] - truth[k]) * (v[k] - truth[k])
		}
	}
	for k := range truth {
		low, high := trials.RMS(n, trials.Rate)
		ratio := math.Sqrt(sum[k]/float64(n)) / stated[k]
		assert.True(t, low < ratio && ratio < high, "figure %d: %g is not from %g to %g", k, ratio, low, high)
	}
}

// A shared radius makes centres err together: the part in common cancels or
// adds up as the Jacobian says.
func TestUncertaintySharedRadius(t *testing.T) {
	holes := Ideal(4, 100, 0)
	e1, e2 := newFlat(r3.Vector{}, r3.Vector{Z: 1}).e1, newFlat(r3.Vector{}, r3.Vector{Z: 1}).e2
	for i := range holes {
		// Every hole open to the outside: a radius 1 sd too large moves each
		// centre 0.05 mm outwards.
		out := holes[i].Centre.Normalize().Mul(0.05)
		v := [2]float64{out.Dot(e1), out.Dot(e2)}
		holes[i].shared, holes[i].common = 1, v
		holes[i].CentreCov = [2][2]float64{{v[0] * v[0], v[0] * v[1]}, {v[1] * v[0], v[1] * v[1]}}
	}
	c, err := Clock(holes, pattern.Reading{})
	require.NoError(t, err)
	assert.InDelta(t, 0.1, c.PitchU, 1e-12)
	for _, k := range c.Clocking {
		assert.InDelta(t, 0, k.U.Radians(), 1e-9, "clocking does not feel it")
	}
}

// Turn, move and turn over the part: only what should change does.
func TestClockRigidMotion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(4, 10).Draw(t, "n")
		seed := rapid.Uint64().Draw(t, "seed")
		rng := rand.New(rand.NewPCG(seed, 1))
		holes := withSigma(Ideal(n, 80+40*rng.Float64(), 0.2), 0.02)
		for i := range holes {
			holes[i].Centre.X += 0.1 * rng.NormFloat64()
			holes[i].Centre.Y += 0.1 * rng.NormFloat64()
		}
		z := r3.Vector{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Normalize()
		x := z.Ortho()
		y := z.Cross(x)
		shift := r3.Vector{X: 300 * rng.NormFloat64(), Y: 300 * rng.NormFloat64(), Z: 300 * rng.NormFloat64()}
		moved := make([]Hole, n)
		copy(moved, holes)
		for i, h := range holes {
			moved[i].Centre = shift.Add(x.Mul(h.Centre.X)).Add(y.Mul(h.Centre.Y)).Add(z.Mul(h.Centre.Z))
			moved[i].Axis = z
		}
		// Any order after the clocking hole.
		rng.Shuffle(n-1, func(i, j int) { moved[i+1], moved[j+1] = moved[j+1], moved[i+1] })
		a, err := Clock(holes, pattern.Reading{})
		require.NoError(t, err)
		b, err := Clock(moved, pattern.Reading{})
		require.NoError(t, err)
		assert.Equal(t, a.Holes, b.Holes)
		assert.InDelta(t, a.PitchDiameter, b.PitchDiameter, 1e-10)
		assert.InDelta(t, a.PitchU, b.PitchU, 1e-10)
		var sum float64
		for i := range a.Clocking {
			assert.InDelta(t, a.Clocking[i].Deviation.Degrees(), b.Clocking[i].Deviation.Degrees(), 1e-9)
			assert.InDelta(t, a.Clocking[i].FromOthers.Degrees(), b.Clocking[i].FromOthers.Degrees(), 1e-9)
			assert.InDelta(t, a.Clocking[i].U.Degrees(), b.Clocking[i].U.Degrees(), 1e-9)
			sum += a.Clocking[i].Deviation.Degrees()
		}
		assert.InDelta(t, 0, sum, 1e-10, "the deviations' mean is zero")
		assert.Equal(t, a.Clocking[0].Deviation, a.DatumOffset)
	})
}

func TestClockRefuses(t *testing.T) {
	_, err := Clock(Ideal(2, 50, 0), pattern.Reading{})
	assert.ErrorContains(t, err, "at least 3")
	_, err = Clock(Ideal(4, 50, 0), pattern.Reading{Angles: make([]s1.Angle, 3)})
	assert.ErrorContains(t, err, "3 nominal angles for 4 holes")
	_, err = Clock(holesAt([][2]float64{{0, 0}, {1, 0}, {2, 0}}), pattern.Reading{})
	assert.Error(t, err, "holes on a line make no circle")
}

// Across a missing hole the nominal is a multiple; a partial ring has one
// spacing fewer and does not wrap.
func TestSpacing(t *testing.T) {
	c, err := Clock(holesAtDegrees(50, 0, 60, 120, 240, 300), pattern.Reading{})
	require.NoError(t, err)
	require.Len(t, c.Spacing, 5)
	for i, want := range []float64{60, 60, 120, 60, 60} {
		assert.InDelta(t, want, c.Spacing[i].Nominal.Degrees(), 1e-9)
		assert.InDelta(t, 0, c.Spacing[i].Deviation.Degrees(), 1e-9)
	}
	assert.Equal(t, "H5", c.Spacing[4].From)
	assert.Equal(t, "H1", c.Spacing[4].To)

	c, err = Clock(holesAtDegrees(50, 0, 60, 120), pattern.Reading{})
	require.NoError(t, err)
	require.Len(t, c.Spacing, 2)
	for _, k := range c.Clocking {
		assert.False(t, k.HasOthers, "two others make no circle")
	}
}

func TestWrap(t *testing.T) {
	assert.Equal(t, 0.0, Wrap(s1.Angle(-1e-300)).Radians())
	assert.Equal(t, 0.0, Wrap(s1.Angle(2*math.Pi)).Radians())
	assert.InDelta(t, 350, Wrap(-10*s1.Degree).Degrees(), 1e-12)
	assert.InDelta(t, 10, Wrap(730*s1.Degree).Degrees(), 1e-12)
	assert.InDelta(t, -170*math.Pi/180, geom.WrapHalf(190*math.Pi/180), 1e-12)
}

func holesAtDegrees(radius float64, deg ...float64) []Hole {
	var xy [][2]float64
	for _, a := range deg {
		sin, cos := math.Sincos((a + 11) * math.Pi / 180)
		xy = append(xy, [2]float64{radius * cos, radius * sin})
	}
	return withSigma(holesAt(xy), 0.01)
}
