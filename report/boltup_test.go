package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/bolt"
	"spotface/mesh/scansim"
	"spotface/report/internal/testpart"
)

// patternOf is the part's pattern as a scan of it shows, and the same as its saved report does.
func patternOf(t *testing.T, p testpart.Part, name string) *Pattern {
	rep := reportOf(t, p)
	fresh, err := PatternOf(name, rep)
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, WriteJSON(&b, rep))
	back, err := ReadJSON(&b)
	require.NoError(t, err)
	saved, err := PatternOf(name, back)
	require.NoError(t, err)
	require.Equal(t, fresh, saved)
	return saved
}

// mates returns the part that meets p, whose pattern is its mirror image seen from its own
// mating face.
func mates(p testpart.Part) testpart.Part {
	p.Angles = slices.Clone(p.Angles)
	for i, a := range p.Angles {
		p.Angles[i] = 360 - a
	}
	slices.Sort(p.Angles)
	p.Turn += 40
	p.Origin.X += 200
	return p
}

// odd has a pattern that goes on one way only, and never mirrored.
func odd() testpart.Part {
	p := testpart.Kettle()
	p.Angles, p.Nominal = []float64{20, 80, 140, 212, 260, 320}, []float64{0, 60, 120, 192, 240, 300}
	return p
}

// regular has no hole off.
func regular() testpart.Part {
	p := testpart.Kettle()
	p.Angles[2] = 120
	return p
}

func TestBoltUp(t *testing.T) {
	for _, c := range []struct {
		name      string
		a, b      testpart.Part
		opt       BoltUpOptions
		verdict   Verdict
		ways      int
		spare     float64 // mm
		sentences []string
	}{
		// Holes of 6.61 for fasteners of 6 leave 0.61 mm; one hole 0.4 degrees off of the
		// other part's ring, 0.293 mm, can be shared by both sides of it.
		{name: "one hole off, regular ring", a: testpart.Kettle(), b: regular(),
			verdict: Conforming, ways: 6, spare: 0.61 - 0.293/2, sentences: []string{"bolt up with 6 fasteners of 6 mm", "also go together at 5 other clockings"}},
		{name: "odd pattern on its mirror image", a: odd(), b: mates(odd()), verdict: Conforming, ways: 1, spare: 0.61,
			sentences: []string{"at this clocking alone"}},
		{name: "both from the back", a: odd(), b: mates(odd()), opt: BoltUpOptions{AFromBack: true, BFromBack: true},
			verdict: Conforming, ways: 1, spare: 0.61},
		{name: "one from the back by mistake", a: odd(), b: mates(odd()), opt: BoltUpOptions{BFromBack: true},
			verdict: Nonconforming, ways: 2, spare: -4, sentences: []string{"do NOT bolt up with 6 fasteners of 6 mm (M6)"}},
		// One hole 1.8 degrees off of the other's ring, 1.319 mm, is 0.1 mm more than both
		// clearances on both sides, 4 x 0.305 mm, less what turning shares out: M6 does not go
		// through, M5 does, which has 1 mm more.
		{name: "one hole too far off", a: func() testpart.Part { p := testpart.Kettle(); p.Angles[2] = 121.8; return p }(), b: regular(),
			verdict: Conforming, ways: 6, spare: 1,
			sentences: []string{"6 fasteners of 5 mm (M5)", "For fasteners of 6 mm (M6), open in adapter.stl: H"}},
		{name: "fastener that hardly clears", a: odd(), b: mates(odd()), opt: BoltUpOptions{Fastener: 6.6},
			verdict: Indeterminate, ways: 1, spare: 0.01},
		{name: "fastener too large", a: odd(), b: mates(odd()), opt: BoltUpOptions{Fastener: 6.65},
			verdict: Nonconforming, ways: 1, spare: -0.04, sentences: []string{"do NOT bolt up", "Fasteners up to 6.61 mm"}},
		{name: "another pitch circle", a: odd(), b: func() testpart.Part { p := mates(odd()); p.Pitch = 60; return p }(),
			verdict: Nonconforming, ways: 0, sentences: []string{"at no clocking"}},
		{name: "holes side by side", a: odd(), b: func() testpart.Part { p := mates(odd()); p.Pitch = 70; return p }(),
			verdict: Nonconforming, ways: 0, sentences: []string{"at no clocking"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			up, err := NewBoltUp(t.Context(), patternOf(t, c.a, "port.stl"), patternOf(t, c.b, "adapter.stl"), c.opt)
			require.NoError(t, err)
			var b bytes.Buffer
			require.NoError(t, WriteBoltUp(&b, up, ViewOptions{}))
			t.Log("\n" + b.String())
			assert.Equal(t, c.verdict, up.Verdict)
			require.Len(t, up.Ways, c.ways)
			if c.ways > 0 {
				// Places lie within a few micrometres of their ring.
				assert.InDelta(t, c.spare, up.Ways[0].Spare, max(0.02, -0.5*c.spare))
			}
			for _, s := range c.sentences {
				assert.Contains(t, b.String(), s)
			}
			var j bytes.Buffer
			require.NoError(t, WriteJSON(&j, up))
			var back BoltUp
			require.NoError(t, json.Unmarshal(j.Bytes(), &back))
			assert.Equal(t, *up, back)
		})
	}
}

func TestBoltUpWithAPlan(t *testing.T) {
	var ids []string
	var places [][2]float64
	var diameter []float64
	for i := range 6 {
		ids, diameter = append(ids, fmt.Sprintf("B1/H%d", i+1)), append(diameter, 6.6)
		sin, cos := math.Sincos(float64(i) * math.Pi / 3)
		places = append(places, [2]float64{42 * cos, 42 * sin})
	}
	b := NewPattern("adapter.yaml", ids, places, diameter)
	a := patternOf(t, testpart.Kettle(), "port.stl")
	up, err := NewBoltUp(t.Context(), a, b, BoltUpOptions{})
	require.NoError(t, err)
	assert.Equal(t, Conforming, up.Verdict)
	assert.InDelta(t, 0.605-0.293/2, up.Ways[0].Spare, 0.02)

	damaged := reportOf(t, testpart.Kettle())
	damaged.Holes = damaged.Holes[1:]
	_, err = PatternOf("damaged.json", damaged)
	assert.ErrorContains(t, err, "damaged.json: hole H1 of the pattern")
	_, err = PatternOf("empty.json", &Report{})
	assert.ErrorContains(t, err, "empty.json: fewer than two round holes")
}

// What was made in Go may be no pattern.
func TestBoltUpRefusesWhatIsNoPattern(t *testing.T) {
	good := NewPattern("good", []string{"a", "b"}, [][2]float64{{-20, 0}, {20, 0}}, []float64{6.6, 6.6})
	_, err := NewBoltUp(t.Context(), good, good, BoltUpOptions{})
	require.NoError(t, err)
	for name, p := range map[string]*Pattern{
		"no hole":       NewPattern("x", nil, nil, nil),
		"no place":      NewPattern("x", []string{"a", "b"}, nil, []float64{6.6, 6.6}),
		"not a place":   NewPattern("x", []string{"a", "b"}, [][2]float64{{math.NaN(), 0}, {20, 0}}, []float64{6.6, 6.6}),
		"no diameter":   NewPattern("x", []string{"a", "b"}, [][2]float64{{-20, 0}, {20, 0}}, []float64{0, 6.6}),
		"not a number":  NewPattern("x", []string{"a", "b"}, [][2]float64{{-20, 0}, {20, 0}}, []float64{6.6, math.NaN()}),
		"a huge number": NewPattern("x", []string{"a", "b"}, [][2]float64{{-20, 0}, {math.Inf(1), 0}}, []float64{6.6, 6.6}),
	} {
		_, err := NewBoltUp(t.Context(), good, p, BoltUpOptions{})
		assert.ErrorContains(t, err, "x: a pattern to bolt up needs", name)
	}
}

// Holes that were measured otherwise may have no diameter: then none is printed, and two of one
// name are refused.
func TestOfHolesWithoutDiameters(t *testing.T) {
	rep, err := OfHoles("cmm", bolt.Ideal(6, 50, 0))
	require.NoError(t, err)
	v, err := NewView(rep, ViewOptions{})
	require.NoError(t, err)
	assert.Zero(t, v.Drill[0].Items[0].Diameter, "absent")
	two := bolt.Ideal(6, 50, 0)
	two[3].ID = two[0].ID
	_, err = OfHoles("cmm", two)
	assert.ErrorContains(t, err, "two holes are called H1")
}

// A flange of two holes: the text says how far apart they are, and it bolts up by them, not
// by its bore, whether that is among the holes (only its rim was seen) or not.
func TestTwoBoltFlange(t *testing.T) {
	p := scansim.Flange(scansim.FlangeSpec{Diameter: 60, Thickness: 8, Bore: 18, PitchDiameter: 40, HoleDiameter: 6.6, Holes: 2})
	s, _, err := scansim.Fused(t.Context(), p, scansim.FusedOptions{Seed: 3, Voxel: 0.6, Noise: 0.02})
	require.NoError(t, err)
	rep, err := Measure(t.Context(), s, MeasureOptions{})
	require.NoError(t, err)
	assert.Regexp(t, `G1: 2 holes of 6\.\d+ mm, (39\.9|40\.0)\d+ \+-0\.0\d+ mm apart, centre to centre\.\n`, textOf(t, rep))
	for range 2 {
		a, err := PatternOf("a", rep)
		require.NoError(t, err)
		assert.Equal(t, []string{"H1", "H2"}, a.IDs)
		require.NotNil(t, a.Bore)
		rep.Holes = append(rep.Holes, *rep.Bore)
	}
}
