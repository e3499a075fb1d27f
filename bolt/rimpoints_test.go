package bolt_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/bolt"
)

// probed returns rims of n points on circles of radius r about the centres, on a face
// z = 5 of which 40 points were taken, all with noise sigma.
func probed(rng *rand.Rand, centres [][2]float64, r, sigma float64, n int) bolt.RimPoints {
	p := bolt.RimPoints{Out: r3.Vector{Z: -1}}
	for k := range 40 {
		p.Face = append(p.Face, r3.Vector{X: float64(k%8) * 20, Y: float64(k/8) * 30, Z: 5 + sigma*rng.NormFloat64()})
	}
	for _, c := range centres {
		var rim []r3.Vector
		for i := range n {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			d := r + sigma*rng.NormFloat64()
			rim = append(rim, r3.Vector{X: c[0] + d*cos, Y: c[1] + d*sin, Z: 5})
		}
		p.Rims = append(p.Rims, rim)
	}
	return p
}

// n points all round a circle with independent noise σ leave its centre σ √(2/n) each
// way, and the diameter 2 σ/√n (Chan and Thomas, Graphical Models and Image Processing
// 57 (1995) 527-532, for even spacing). Stated is more, since the points might share
// their noise: by a tenth to three tenths, and that they might is warned of, since 40
// points of a face do not show it.
//
// Twelve figures of four holes, each beyond 4.5 standard deviations with a chance of 7e-6,
// make 8e-5.
func TestMeasureRims(t *testing.T) {
	const sigma, n = 0.01, 200
	centres := [][2]float64{{20, 30}, {80, 30}, {50, 90}, {110, 70}}
	p := probed(rand.New(rand.NewPCG(3, 9)), centres, 4, sigma, n)
	m, err := bolt.MeasureRims(t.Context(), p, 0)
	require.NoError(t, err)
	require.Len(t, m.Holes, 4)
	for k, h := range m.Holes {
		u := sigma * math.Sqrt(2.0/n)
		assert.Equal(t, fmt.Sprintf("H%d", k+1), h.ID)
		assert.InDelta(t, centres[k][0], h.Centre.X, 4.5*u)
		assert.InDelta(t, centres[k][1], h.Centre.Y, 4.5*u)
		assert.InDelta(t, 8, h.Diameter, 4.5*2*sigma/math.Sqrt(n))
		assert.InDelta(t, -1, h.Axis.Z, 1e-3)
		assert.InDelta(t, 1.2*u, math.Sqrt(h.CentreCov[0][0]), 0.25*u)
	}
	require.Len(t, m.Warnings, 1)
	assert.Contains(t, m.Warnings[0], "seems to err by itself")
	p.Face = []r3.Vector{{Z: 5}, {X: 100, Z: 5}, {Y: 100, Z: 5}}
	three, err := bolt.MeasureRims(t.Context(), p, 0)
	require.NoError(t, err)
	assert.Equal(t, m.Warnings, three.Warnings, "a face of three points has no residuals")
	exact, err := bolt.MeasureRims(t.Context(), probed(rand.New(rand.NewPCG(3, 9)), centres, 4, 0, 24), 0)
	require.NoError(t, err)
	assert.Empty(t, exact.Warnings)
	for k, h := range exact.Holes {
		assert.InDelta(t, centres[k][0], h.Centre.X, 1e-9)
		assert.InDelta(t, centres[k][1], h.Centre.Y, 1e-9)
		assert.InDelta(t, 8, h.Diameter, 1e-9)
	}
}

func TestMeasureRimsRefuses(t *testing.T) {
	good := probed(rand.New(rand.NewPCG(3, 9)), [][2]float64{{20, 30}, {80, 30}}, 4, 0.01, 60)
	for want, spoil := range map[string]func(p *bolt.RimPoints){
		"rim 2 has 11 points": func(p *bolt.RimPoints) { p.Rims[1] = p.Rims[1][:11] },
		"rim 2 shows": func(p *bolt.RimPoints) {
			p.Rims[1] = probed(rand.New(rand.NewPCG(1, 1)), [][2]float64{{0, 0}}, 4, 0, 400).Rims[0][:40]
		},
		"too few places": func(p *bolt.RimPoints) {
			for k := range p.Rims { // twelve points at four places
				four := probed(rand.New(rand.NewPCG(1, 1)), [][2]float64{{20, 30}}, 4, 0, 4).Rims[0]
				p.Rims[k] = slices.Repeat(four, 3)
			}
		},
		"face: ":                        func(p *bolt.RimPoints) { p.Face = p.Face[:2] },
		"out: (0, 0, 0) does not point": func(p *bolt.RimPoints) { p.Out = r3.Vector{} },
		"out: (1, 0, 0) does not point": func(p *bolt.RimPoints) { p.Out = r3.Vector{X: 1} },
		"out: (NaN, 0, 1) does not":     func(p *bolt.RimPoints) { p.Out = r3.Vector{X: math.NaN(), Z: 1} },
	} {
		p := good
		p.Rims = append([][]r3.Vector{}, good.Rims...)
		spoil(&p)
		_, err := bolt.MeasureRims(t.Context(), p, 0)
		assert.ErrorContains(t, err, want)
	}
	none, err := bolt.MeasureRims(t.Context(), bolt.RimPoints{}, 0)
	require.NoError(t, err)
	assert.Empty(t, none.Holes)
	stopped, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = bolt.MeasureRims(stopped, good, 0)
	assert.ErrorIs(t, err, context.Canceled)
}

func ExampleMeasureRims() {
	// Points of a flat face and of six rims on a pitch circle of 90 mm, as a touch probe
	// would take them, with noise of 0.005 mm.
	rng := rand.New(rand.NewPCG(1, 2))
	noise := func() float64 { return 0.005 * rng.NormFloat64() }
	points := bolt.RimPoints{Out: r3.Vector{Z: 1}}
	for k := range 40 {
		points.Face = append(points.Face, r3.Vector{X: float64(k%8) * 20, Y: float64(k/8) * 30, Z: noise()})
	}
	for k := range 6 {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / 6)
		var rim []r3.Vector
		for i := range 48 {
			s, c := math.Sincos(2 * math.Pi * float64(i) / 48)
			r := 4 + noise()
			rim = append(rim, r3.Vector{X: 80 + 45*cos + r*c, Y: 60 + 45*sin + r*s})
		}
		points.Rims = append(points.Rims, rim)
	}
	m, err := bolt.MeasureRims(context.Background(), points, 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	c, err := bolt.Clock(m.Holes, bolt.Nominal{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d holes at %.0f degrees on %.1f mm\n", len(c.Holes), c.Nominal.Spacing.Degrees(), c.PitchDiameter)
	// Output: 6 holes at 60 degrees on 90.0 mm
}
