package scansim

import (
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestKernels(t *testing.T) {
	assert.InDelta(t, math.Exp(-0.5), Kernel{Length: 2}.At(1), 1e-15)
	assert.InDelta(t, math.Exp(-0.125), Kernel{Shape: Gaussian, Length: 2}.At(1), 1e-15)
	two := Kernel{Length: 1, Second: 10, SecondShare: 0.25, White: 0.2}
	assert.InDelta(t, 0.8*(0.75*math.Exp(-2)+0.25*math.Exp(-0.2)), two.At(2), 1e-15)
	assert.Equal(t, 1.0, two.At(0))
	assert.Zero(t, Kernel{}.At(0.1))
}

// Over many draws the products of two points have the kernel as their mean.
func TestFieldHasTheCovarianceAsked(t *testing.T) {
	kernels := map[string]Kernel{
		"white":       {},
		"exponential": {Length: 1.5},
		"gaussian":    {Shape: Gaussian, Length: 1.5},
		"two scales":  {Length: 0.7, Second: 4, SecondShare: 0.4, White: 0.1},
	}
	for name, k := range kernels {
		g, err := NewPatch(PatchSpec{Length: 11 * 0.5, Width: 6 * 0.8, Nu: 12, Nv: 7, Sigma: 1, Kernel: k})
		require.NoError(t, err)
		// 1500 draws; the product of two unit normals has the variance 1+ρ² <= 2,
		// so its mean the deviation 0.037 at most; five of them, 20 checks in all: false alarm 1e-5.
		const draws = 1500
		pairs := [][4]int{{0, 0, 0, 0}, {2, 3, 4, 3}, {0, 0, 0, 3}, {3, 1, 5, 3}, {0, 0, 11, 6}}
		sum := make([]float64, len(pairs))
		rng := rand.New(rand.NewPCG(4, 4))
		for range draws {
			f := g.Draw(rng)
			for i, p := range pairs {
				sum[i] += f[p[1]*12+p[0]].Z * f[p[3]*12+p[2]].Z / draws
			}
		}
		for i, p := range pairs {
			d := math.Hypot(0.5*float64(p[2]-p[0]), 0.8*float64(p[3]-p[1]))
			assert.InDelta(t, k.At(d), sum[i], 5*math.Sqrt((1+k.At(d)*k.At(d))/draws), "%s, pair %d", name, i)
		}
	}
}

func TestWallNoise(t *testing.T) {
	for name, spec := range map[string]WallSpec{
		"rim, all round":   {Around: 48},
		"rim, a third":     {Around: 30, Arc: 2 * math.Pi / 3, Start: 1},
		"wall, all round":  {Around: 40, Rows: 5, Depth: 4},
		"wall, 224° of it": {Around: 25, Rows: 4, Depth: 3, Arc: 224.0 / 180 * math.Pi},
	} {
		spec.Radius, spec.Sigma = 5, 0.03
		for _, k := range []Kernel{{Length: 2.5}, {Shape: Gaussian, Length: 2.5}, {Length: 1, Second: 5, SecondShare: 0.5}} {
			spec.Kernel = k
			w, err := NewWall(spec)
			require.NoError(t, err, name)
			n := len(w.ideal)
			const draws = 400
			rng := rand.New(rand.NewPCG(1, 9))
			a, b := n/3, n/3+4
			var ca, cab float64
			for range draws {
				p := w.Draw(rng)
				require.Len(t, p, n)
				da := math.Hypot(p[a].X, p[a].Y) - 5
				db := math.Hypot(p[b].X, p[b].Y) - 5
				ca += da * da / draws
				cab += da * db / draws
			}
			// As above; 24 checks.
			want := k.At(w.ideal[a].Distance(w.ideal[b]))
			assert.InDelta(t, 1, ca/(0.03*0.03), 5*math.Sqrt(2.0/draws), name)
			assert.InDelta(t, want, cab/(0.03*0.03), 5*math.Sqrt((1+want*want)/draws), name)
		}
	}
}

func TestRimLiesWhereItShould(t *testing.T) {
	draw := func(spec WallSpec) []r3.Vector {
		w, err := NewWall(spec)
		require.NoError(t, err)
		return w.Draw(rand.New(rand.NewPCG(1, 0)))
	}
	pts := draw(WallSpec{Radius: 5, Around: 91, Arc: math.Pi / 2, Start: math.Pi / 2})
	require.Len(t, pts, 91)
	assert.InDelta(t, 0, pts[0].Distance(r3.Vector{Y: 5}), 1e-12)
	assert.InDelta(t, 0, pts[90].Distance(r3.Vector{X: -5}), 1e-12)
	pts = draw(WallSpec{Radius: 5, Around: 4, Rows: 3, Depth: 6})
	require.Len(t, pts, 12)
	assert.InDelta(t, 0, pts[5].Distance(r3.Vector{Y: 5, Z: -3}), 1e-12)
	face, err := NewPatch(PatchSpec{Length: 20, Width: 10, Nu: 5, Nv: 3})
	require.NoError(t, err)
	pts = face.Draw(rand.New(rand.NewPCG(1, 0)))
	assert.InDelta(t, 0, pts[0].Distance(r3.Vector{X: -10, Y: -5}), 1e-12)
	assert.InDelta(t, 0, pts[7].Norm(), 1e-12)
}

func TestLatticeHasTheCorrelationAsked(t *testing.T) {
	// One value a seed: 10,000 of them, five deviations of at most 0.014, and
	// 0.03 for the B-spline's autocorrelation being only close to a Gaussian.
	const n, length = 10_000, 3.0
	p := r3.Vector{X: 4.1, Y: -7.7, Z: 2.2}
	for _, d := range []float64{0, 0.5, 1, 1.5, 2, 3} {
		dir := r3.Vector{X: 1, Y: 2, Z: -0.5}.Normalize()
		sum, mean := 0.0, 0.0
		for seed := range uint64(n) {
			l := newLattice(seed, length)
			a, b := l.at(p), l.at(p.Add(dir.Mul(d*length)))
			sum += a * b / n
			mean += a / n
		}
		assert.InDelta(t, math.Exp(-d*d/2), sum, 0.07+0.03, "at %v lengths", d)
		assert.InDelta(t, 0, mean, 5/math.Sqrt(n))
	}
}

func TestFieldSameFromManyGoroutines(t *testing.T) {
	w, err := NewWall(WallSpec{Radius: 3, Around: 36, Rows: 4, Depth: 2, Sigma: 0.02, Kernel: Kernel{Length: 1}})
	require.NoError(t, err)
	const n = 40
	want := make([][]r3.Vector, n)
	for i := range n {
		want[i] = w.Draw(rand.New(rand.NewPCG(1, uint64(i))))
	}
	got := make([][]r3.Vector, n)
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() { got[i] = w.Draw(rand.New(rand.NewPCG(1, uint64(i)))) })
	}
	wg.Wait()
	assert.Equal(t, want, got)
}

func TestNoiseRefuses(t *testing.T) {
	for name, spec := range map[string]WallSpec{
		"no radius":     {Around: 10},
		"no points":     {Radius: 1},
		"over a turn":   {Radius: 1, Around: 10, Arc: 7},
		"share too big": {Radius: 1, Around: 10, Kernel: Kernel{White: 1.5}},
	} {
		_, err := NewWall(spec)
		assert.Error(t, err, name)
	}
	_, err := NewPatch(PatchSpec{})
	assert.Error(t, err)
}

func BenchmarkRim(b *testing.B) {
	w, err := NewWall(WallSpec{Radius: 5, Around: 200, Sigma: 0.03, Kernel: Kernel{Length: 1.25}})
	require.NoError(b, err)
	rng := rand.New(rand.NewPCG(1, 1))
	for b.Loop() {
		w.Draw(rng)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/200, "ns/pt")
}

func BenchmarkWall(b *testing.B) {
	w, err := NewWall(WallSpec{Radius: 5, Around: 200, Rows: 20, Depth: 5, Sigma: 0.03, Kernel: Kernel{Length: 1.25}})
	require.NoError(b, err)
	rng := rand.New(rand.NewPCG(1, 1))
	for b.Loop() {
		w.Draw(rng)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/4000, "ns/pt")
}
