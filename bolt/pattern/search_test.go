package pattern

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"spotface/mesh/scansim/trials"
)

// features are places that are known to u, mm, each way.
func features(u, size float64, xy ...[2]float64) Features {
	var f Features
	for _, p := range xy {
		f.XY = append(f.XY, p)
		f.Size, f.SizeU, f.Kind = append(f.Size, size), append(f.SizeU, 0.01), append(f.Kind, "round")
	}
	f.Cov = mat.NewSymDense(2*len(xy), nil)
	for i := range 2 * len(xy) {
		f.Cov.SetSym(i, i, u*u)
	}
	return f
}

func both(a, b Features) Features {
	f := features(0.01, 0, append(append([][2]float64{}, a.XY...), b.XY...)...)
	f.Size = append(append([]float64{}, a.Size...), b.Size...)
	f.Kind = append(append([]string{}, a.Kind...), b.Kind...)
	return f
}

func onRing(x, y, radius float64, deg ...float64) (out [][2]float64) {
	for _, a := range deg {
		sin, cos := math.Sincos((a + 11) * math.Pi / 180)
		out = append(out, [2]float64{x + radius*cos, y + radius*sin})
	}
	return out
}

func steps(n int, first float64) (deg []float64) {
	for i := range n {
		deg = append(deg, first+360*float64(i)/float64(n))
	}
	return deg
}

func onGrid(columns, rows int, a, b float64) (out [][2]float64) {
	sin, cos := math.Sincos(0.3)
	for j := range rows {
		for i := range columns {
			x, y := a*float64(i), b*float64(j)
			out = append(out, [2]float64{cos*x - sin*y, sin*x + cos*y})
		}
	}
	return out
}

// anywhere puts features on a plate of 150 by 150.
func anywhere(rng *rand.Rand, n int) (out [][2]float64) {
	for range n {
		out = append(out, [2]float64{150 * rng.Float64(), 150 * rng.Float64()})
	}
	return out
}

// says lists what was found in a few words each, other readings in brackets.
func says(found []Found) (out []string) {
	for _, f := range found {
		s := f.What()
		if f.Also >= 0 {
			s = "(" + s + ")"
		}
		out = append(out, s)
	}
	return out
}

func TestSearch(t *testing.T) {
	ring6 := onRing(0, 0, 42, steps(6, 0)...)
	off := onRing(0, 0, 42, 0, 60, 120.4, 180, 240, 300)
	odd := [][2]float64{{10, 3}, {-18, 25}, {70, 12}}
	for name, c := range map[string]struct {
		f    Features
		want []string
	}{
		"six":              {features(0.01, 6.6, ring6...), []string{"6 positions at 60 degrees"}},
		"six, one off":     {features(0.01, 6.6, off...), []string{"6 positions at 60 degrees"}},
		"six and odd ones": {features(0.01, 6.6, append(odd, ring6...)...), []string{"6 positions at 60 degrees"}},
		"six, two of them slots": {both(features(0.01, 6.6, onRing(0, 0, 42, 60, 120, 240, 300)...),
			Features{Places: Places{XY: onRing(0, 0, 42, 0, 180)}, Size: []float64{7, 7}, Kind: []string{"slot", "slot"}}),
			[]string{"6 positions at 60 degrees"}},
		"three sizes on one circle": {both(features(0.01, 6.6, onRing(0, 0, 42, 0, 120, 240)...),
			both(features(0.01, 5, onRing(0, 0, 42, 60, 180)...), features(0.01, 8, onRing(0, 0, 42, 300)...))), []string{"6 positions at 60 degrees"}},
		"concentric": {both(both(features(0.01, 6, onRing(5, 5, 40, steps(6, 6)...)...), features(0.01, 6, onRing(5, 5, 60, steps(8, 12)...)...)),
			features(0.01, 9, onRing(5, 5, 50, steps(4, 40)...)...)),
			[]string{"8 positions at 45 degrees", "6 positions at 60 degrees", "4 positions at 90 degrees", "(2 x 2 rectangle)"}},
		"interleaved": {both(features(0.01, 6, onRing(0, 0, 50, steps(4, 0)...)...), features(0.01, 6, onRing(0, 0, 50, steps(4, 33)...)...)),
			[]string{"4 positions at 90 degrees", "(2 x 2 rectangle)", "4 positions at 90 degrees", "(2 x 2 rectangle)"}},
		"three interleaved": {both(both(features(0.01, 6, onRing(0, 0, 50, steps(5, 0)...)...), features(0.01, 8, onRing(0, 0, 50, steps(5, 23)...)...)),
			features(0.01, 10, onRing(0, 0, 50, steps(5, 41)...)...)),
			[]string{"5 positions at 72 degrees", "5 positions at 72 degrees", "5 positions at 72 degrees"}},
		"one missing":                 {features(0.01, 6, onRing(0, 0, 42, 0, 60, 120, 240, 300)...), []string{"6 positions at 60 degrees, 1 without a hole"}},
		"part of a ring, odd one":     {both(features(0.02, 7.2, onRing(0, 0, 47, 0, 60, 120)...), features(0.02, 10, [2]float64{-20, 10})), []string{"3 positions at 60 degrees, part of a ring"}},
		"part of a ring about a bore": {both(features(0.02, 7.93, onRing(0, 0, 28, -60, 0, 60)...), features(0.02, 14.7, [2]float64{0.03, -0.02})), []string{"3 positions at 60 degrees, part of a ring"}},
		"45, 45, 90":                  {features(0.01, 6, onRing(0, 0, 42, 0, 45, 90, 180, 225, 270)...), []string{"8 positions at 45 degrees, 2 without a hole"}},
		"offset on purpose":           {features(0.01, 6, onRing(0, 0, 42, 0, 60, 130, 180, 240, 300)...), []string{"6 positions at 60 degrees, one offset on purpose"}},
		"rectangle":                   {features(0.01, 6, onGrid(2, 2, 60, 40)...), []string{"2 x 2 rectangle"}},
		"rectangle of 60 degrees":     {features(0.01, 6, onRing(0, 0, 42, 0, 60, 180, 240)...), []string{"2 x 2 rectangle"}},
		"three of its corners":        {features(0.01, 6, onRing(0, 0, 42, 0, 60, 180)...), nil},
		"square":                      {features(0.01, 6, onGrid(2, 2, 50, 50)...), []string{"4 positions at 90 degrees", "(2 x 2 rectangle)"}},
		"board":                       {features(0.05, 6, onGrid(3, 3, 32.7, 32.7)...), []string{"3 x 3 grid", "(4 positions at 90 degrees)", "(4 positions at 90 degrees)"}},
		"grid of two pitches":         {features(0.01, 6, onGrid(4, 3, 20, 35)...), []string{"3 x 4 grid"}},
		"line":                        {features(0.01, 6, onGrid(5, 1, 25, 0)...), []string{"5 in a line"}},
		"rectangle round a ring":      {both(features(0.01, 6, ring6...), features(0.01, 6, [2]float64{-60, -50}, [2]float64{60, -50}, [2]float64{-60, 50}, [2]float64{60, 50})), []string{"6 positions at 60 degrees", "2 x 2 rectangle"}},
		"near a square":               {features(0.01, 6, onGrid(2, 2, 50, 52)...), []string{"2 x 2 rectangle"}},
		"ring with one in its middle": {features(0.01, 6, append([][2]float64{{0, 0}}, ring6...)...), []string{"6 positions at 60 degrees"}},
	} {
		t.Run(name, func(t *testing.T) {
			if c.f.Cov == nil {
				c.f = both(c.f, Features{})
			}
			c.f.SizeU = make([]float64, len(c.f.XY))
			assert.Equal(t, c.want, says(Search(c.f)))
		})
	}
}

// Two holes of a ring and the bore in its middle, all that a scan with gaps shows, are three
// corners of a square, or three in a line.
func TestTwoHolesAboutABore(t *testing.T) {
	for _, second := range []float64{90, 180} {
		f := both(features(0, 8, onRing(0, 0, 28.6, 0, second)...), features(0, 16, [2]float64{}))
		f.Cov, f.SizeU, f.Area = features(0.02, 0, f.XY...).Cov, make([]float64, 3), 7500
		assert.Empty(t, says(Search(f)))
	}
}

// Two holes are a pair where each is like no other hole, and no others are two alike.
func TestPair(t *testing.T) {
	for _, c := range []struct {
		sizes []float64
		want  []int
	}{
		{[]float64{6.6, 30, 6.6}, []int{0, 2}}, // a flange and its bore
		{[]float64{6.6, 6.7, 9, 30}, []int{0, 1}},
		{[]float64{6.6, 6.6, 6.6}, nil},
		{[]float64{6.6, 6.8, 7.05}, nil}, // the second is like the third, too
		{[]float64{7.05, 6.6, 6.8}, nil},
		{[]float64{6.6, 9, 6.6, 9}, nil}, // which of the two?
		{[]float64{6.6, 9, 30}, nil},
		{nil, nil},
	} {
		f := Features{Size: c.sizes, SizeU: make([]float64, len(c.sizes)), Kind: make([]string, len(c.sizes))}
		got, ok := Pair(f)
		assert.Equal(t, c.want != nil, ok, "%v", c.sizes)
		assert.Equal(t, c.want, got.Members, "%v", c.sizes)
	}
}

// Of random layouts of 3 to 8 holes under 1 % are called a bolt circle.
// False-alarm rate: 1e-3.
func TestRandomLayouts(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	n := trials.Of(300, 100)
	rings, grids := 0, 0
	for range n {
		ring, grid := false, false
		for _, f := range Search(features(0.01, 6, anywhere(rng, 3+rng.IntN(6))...)) {
			ring, grid = ring || f.Kind == Ring, grid || f.Kind != Ring
		}
		if ring {
			rings++
		}
		if grid {
			grids++
		}
	}
	t.Log(rings, grids)
	assert.LessOrEqual(t, rings, trials.Most(n, 0.01, 1e-3))
}

// No rectangle but a square is called a bolt circle.
func TestRectanglesAreNoBoltCircles(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range trials.Of(100, 30) {
		a, b := 15+100*rng.Float64(), 15+100*rng.Float64()
		if math.Abs(a-b) < 1.5 {
			continue
		}
		xy := onGrid(2, 2, a, b)
		for i := range xy {
			xy[i][0] += 0.1 * rng.NormFloat64()
			xy[i][1] += 0.1 * rng.NormFloat64()
		}
		require.Equal(t, []string{"2 x 2 rectangle"}, says(Search(features(0.01, 6, xy...))), "%g x %g", a, b)
	}
}

// A hole about as wide as the ring's radius is none of the ring that the holes beside it make.
func TestBoreOnTheCircle(t *testing.T) {
	f := both(features(0.01, 4, onRing(0, 0, 10, 130, 230, 295)...), features(0.01, 10.3, onRing(0, 0, 10, 0)...))
	for _, r := range Search(f) {
		assert.NotContains(t, r.Members, 3)
	}
}

// Four holes wider than the radius of their circle are a ring: none reaches its middle.
func TestRingOfWideHoles(t *testing.T) {
	got := Search(features(0.01, 26, onRing(0, 0, 23, steps(4, 0)...)...))
	require.NotEmpty(t, got)
	assert.Len(t, got[0].Members, 4)
	assert.Equal(t, Ring, got[0].Reading.Kind)
}
