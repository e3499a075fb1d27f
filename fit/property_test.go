package fit_test

import (
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/mesh/geom"
)

// answer is a fit of any shape as lengths, a place and a direction.
type answer struct {
	at, dir r3.Vector
	length  float64 // radius; a cone's half angle in rad
	rms     float64
}

// shapes are the fits and a noisy feature of each, of size about 10 mm with its
// centroid within some millimetres of the origin.
var shapes = []struct {
	name string
	draw func(rng *rand.Rand) r3.Vector
	fit  func(pts []r3.Vector) (answer, error)
}{
	{"plane", func(rng *rand.Rand) r3.Vector {
		return r3.Vector{X: 20 * rng.Float64(), Y: 30 * rng.Float64(), Z: 1 + 0.02*rng.NormFloat64()}
	}, func(pts []r3.Vector) (answer, error) {
		f, err := fit.PlaneTo(pts, fit.Options{})
		return answer{f.Point, f.Normal, 0, f.Residuals.RMS}, err
	}},
	{"line", func(rng *rand.Rand) r3.Vector {
		return r3.Vector{X: 0.02 * rng.NormFloat64(), Y: 30 * rng.Float64(), Z: 1 + 0.02*rng.NormFloat64()}
	}, func(pts []r3.Vector) (answer, error) {
		f, err := fit.LineTo(pts, fit.Options{})
		return answer{f.Point, f.Direction, 0, f.Residuals.RMS}, err
	}},
	{"circle, 200° of arc", func(rng *rand.Rand) r3.Vector {
		s, c := math.Sincos(3.5 * rng.Float64())
		r := 10 + 0.02*rng.NormFloat64()
		return r3.Vector{X: r * c, Y: r * s, Z: 0.02 * rng.NormFloat64()}
	}, func(pts []r3.Vector) (answer, error) {
		f, err := fit.CircleTo(pts, fit.Options{})
		return answer{f.Centre, f.Normal, f.Radius, f.Residuals.RMS}, err
	}},
	{"sphere, half", func(rng *rand.Rand) r3.Vector {
		v := randomUnit(rng).Mul(10 + 0.02*rng.NormFloat64())
		return r3.Vector{X: v.X, Y: v.Y, Z: math.Abs(v.Z)}
	}, func(pts []r3.Vector) (answer, error) {
		f, err := fit.SphereTo(pts, fit.Options{})
		return answer{f.Centre, r3.Vector{}, f.Radius, f.Residuals.RMS}, err
	}},
	{"cylinder, 120° of arc", func(rng *rand.Rand) r3.Vector {
		s, c := math.Sincos(2 * math.Pi / 3 * rng.Float64())
		r := 10 + 0.02*rng.NormFloat64()
		return r3.Vector{X: r * c, Y: r * s, Z: 15 * rng.Float64()}
	}, func(pts []r3.Vector) (answer, error) {
		f, err := fit.CylinderTo(pts, fit.Options{})
		return answer{f.Point, f.Axis, f.Radius, f.Residuals.RMS}, err
	}},
	{"cone of 45°, full", func(rng *rand.Rand) r3.Vector {
		s, c := math.Sincos(2 * math.Pi * rng.Float64())
		h := 3 + 10*rng.Float64()
		r := h + 0.02*rng.NormFloat64()
		return r3.Vector{X: r * c, Y: r * s, Z: h}
	}, func(pts []r3.Vector) (answer, error) {
		f, err := fit.ConeTo(pts, fit.Options{})
		return answer{f.Apex, f.Axis, f.HalfAngle.Radians(), f.Residuals.RMS}, err
	}},
}

// same asserts that got is want moved by move, lengths times scale, to tol mm
// (at scale one) and tol/10 rad.
func same(t *testing.T, want, got answer, move func(r3.Vector) r3.Vector, scale, tol float64, what string) {
	t.Helper()
	dir := move(want.dir).Sub(move(r3.Vector{}))
	if n := dir.Norm(); n > 0 {
		dir = dir.Mul(1 / n)
	}
	off := min(dir.Sub(got.dir).Norm(), dir.Add(got.dir).Norm())
	require.Less(t, off, tol/10+1e-300, "%s: direction", what)
	require.Less(t, move(want.at).Sub(got.at).Norm(), tol*scale, "%s: place", what)
	if want.length < 2 { // an angle
		require.InDelta(t, want.length, got.length, tol/10, "%s: angle", what)
	} else {
		require.InDelta(t, want.length*scale, got.length, tol*scale, "%s: radius", what)
	}
	require.InDelta(t, want.rms*scale, got.rms, tol*scale, "%s: rms", what)
}

func TestFitsMoveWithThePoints(t *testing.T) {
	t.Parallel()
	for _, s := range shapes {
		t.Run(s.name, func(t *testing.T) {
			for i := range 8 {
				rng := rand.New(rand.NewPCG(8, uint64(i)))
				pts := make([]r3.Vector, 20+rng.IntN(200))
				for k := range pts {
					pts[k] = s.draw(rng)
				}
				want, err := s.fit(pts)
				require.NoError(t, err)
				stay := func(p r3.Vector) r3.Vector { return p }
				apply := func(move func(r3.Vector) r3.Vector) answer {
					q := make([]r3.Vector, len(pts))
					for k, p := range pts {
						q[k] = move(p)
					}
					got, err := s.fit(q)
					require.NoError(t, err)
					return got
				}

				// Any order.
				q := append([]r3.Vector(nil), pts...)
				rng.Shuffle(len(q), func(a, b int) { q[a], q[b] = q[b], q[a] })
				got, err := s.fit(q)
				require.NoError(t, err)
				same(t, want, got, stay, 1, 1e-11, "another order")

				// A turn and a move: the moved points are rounded at 1e-14 mm.
				w := randomUnit(rng)
				u, v := geom.Basis(w)
				d := randomUnit(rng).Mul(50)
				turn := func(p r3.Vector) r3.Vector {
					return u.Mul(p.X).Add(v.Mul(p.Y)).Add(w.Mul(p.Z)).Add(d)
				}
				same(t, want, apply(turn), turn, 1, 1e-11, "turned")

				// Scales.
				for _, f := range []float64{1e-3, 0.1, 25.4, 1e3} {
					grow := func(p r3.Vector) r3.Vector { return p.Mul(f) }
					same(t, want, apply(grow), grow, f, 1e-11, "scaled")
				}

				// A shift by 1e6 mm rounds each coordinate to 6e-11 mm; the
				// narrow arcs here pass on some ten times that.
				far := randomUnit(rng).Mul(1e6)
				shift := func(p r3.Vector) r3.Vector { return p.Add(far) }
				same(t, want, apply(shift), shift, 1, 3e-9, "shifted by 1e6")

				// A shift that rounds nothing, on coordinates with room for it,
				// must change nothing but the last digits of the new place.
				grid := func(p r3.Vector) r3.Vector {
					g := func(x float64) float64 { return math.Round(x*(1<<20)) / (1 << 20) }
					return r3.Vector{X: g(p.X), Y: g(p.Y), Z: g(p.Z)}
				}
				onGrid := apply(grid)
				gridShift := func(p r3.Vector) r3.Vector { return grid(p).Add(r3.Vector{X: 1 << 20, Y: -1 << 20, Z: 1 << 19}) }
				got = apply(gridShift)
				got.at = got.at.Sub(r3.Vector{X: 1 << 20, Y: -1 << 20, Z: 1 << 19})
				same(t, onGrid, got, stay, 1, 1e-9, "shifted exactly")
				require.InDelta(t, onGrid.rms, got.rms, 1e-12)
				require.InDelta(t, onGrid.length, got.length, 1e-11)
			}
		})
	}
}

// Weights of zero leave points out; whole weights repeat them.
func TestWeights(t *testing.T) {
	for _, s := range shapes {
		rng := rand.New(rand.NewPCG(9, 0))
		var pts, twice []r3.Vector
		var w []float64
		for i := range 60 {
			p := s.draw(rng)
			n := i % 3
			if n == 0 {
				p = p.Add(r3.Vector{X: 5, Y: 3, Z: 4}) // would spoil it
			}
			pts, w = append(pts, p), append(w, 2.5*float64(n))
			for range n {
				twice = append(twice, p)
			}
		}
		opt := fit.Options{Weights: w}
		want, err := s.fit(twice)
		require.NoError(t, err)
		var got answer
		switch s.name[:4] {
		case "plan":
			f, e := fit.PlaneTo(pts, opt)
			got, err = answer{f.Point, f.Normal, 0, 0}, e
		case "line":
			f, e := fit.LineTo(pts, opt)
			got, err = answer{f.Point, f.Direction, 0, 0}, e
		case "circ":
			f, e := fit.CircleTo(pts, opt)
			got, err = answer{f.Centre, f.Normal, f.Radius, 0}, e
		case "sphe":
			f, e := fit.SphereTo(pts, opt)
			got, err = answer{f.Centre, r3.Vector{}, f.Radius, 0}, e
		case "cyli":
			f, e := fit.CylinderTo(pts, opt)
			got, err = answer{f.Point, f.Axis, f.Radius, 0}, e
		case "cone":
			f, e := fit.ConeTo(pts, opt)
			got, err = answer{f.Apex, f.Axis, f.HalfAngle.Radians(), 0}, e
		}
		require.NoError(t, err, s.name)
		want.rms = 0
		same(t, want, got, func(p r3.Vector) r3.Vector { return p }, 1, 1e-11, s.name)
	}
}

// The same bits out at any number of cores, and the same answer from a large
// cloud as the chunks make it.
func TestManyPointsSameBits(t *testing.T) {
	rng := rand.New(rand.NewPCG(10, 0))
	pts := make([]r3.Vector, 100_000)
	for i := range pts {
		pts[i] = shapes[4].draw(rng)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	a, err := fit.CylinderTo(pts, fit.Options{})
	require.NoError(t, err)
	for _, cores := range []int{2, 3, 5} {
		runtime.GOMAXPROCS(cores)
		b, err := fit.CylinderTo(pts, fit.Options{})
		require.NoError(t, err)
		require.Equal(t, a, b)
	}
	require.InDelta(t, 10, a.Radius, 5*math.Sqrt(a.Cov[4][4]))
}
