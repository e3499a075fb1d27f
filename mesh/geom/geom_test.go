package geom

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

func ExampleMoments() {
	var m Moments
	for _, p := range []r3.Vector{{X: 0, Y: 0, Z: 2}, {X: 4, Y: 0, Z: 2}, {X: 0, Y: 3, Z: 2}, {X: 4, Y: 3, Z: 2}} {
		m.Add(p)
	}
	n, d, variance, ok := m.Plane()
	fmt.Printf("plane %.0f, %.0f from the origin, variance %.0f, %v\n", n.Z*n.Z, math.Abs(d), variance, ok)
	// Output: plane 1, 2 from the origin, variance 0, true
}

func randomUnit(rng *rand.Rand) r3.Vector {
	return Unit(r3.Vector{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()})
}

// The reference is gonum's symmetric eigenvalue decomposition.
func TestEigenAgreesWithReference(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for trial := range 3_000 {
		// A random scatter, of any flatness and size.
		scale := math.Pow(10, 8*rng.Float64()-4)
		thin := math.Pow(10, -8*rng.Float64())
		n := randomUnit(rng)
		e1, e2 := Basis(n)
		var s Sym3
		s.AddOuter(e1, scale*(1+rng.Float64()))
		s.AddOuter(e2, scale*(0.1+0.8*rng.Float64()))
		s.AddOuter(n, scale*0.09*thin)
		var eig mat.EigenSym
		require.True(t, eig.Factorize(mat.NewSymDense(3, []float64{s.XX, s.XY, s.XZ, 0, s.YY, s.YZ, 0, 0, s.ZZ}), true))
		want := eig.Values(nil)
		var vecs mat.Dense
		eig.VectorsTo(&vecs)

		v, lambda, ok := s.Smallest()
		require.True(t, ok, "trial %d", trial)
		w := r3.Vector{X: vecs.At(0, 0), Y: vecs.At(1, 0), Z: vecs.At(2, 0)}
		assert.Less(t, v.Cross(w).Norm(), 1e-9, "trial %d: angle", trial)
		assert.InDelta(t, want[0], lambda, 1e-12*scale, "trial %d", trial)

		val, vec := s.Eigen()
		for k := range val {
			assert.InDelta(t, want[k], val[k], 1e-12*scale, "trial %d", trial)
			assert.InDelta(t, 1, vec[k].Norm(), 1e-13, "trial %d", trial)
			assert.Less(t, s.Mul(vec[k]).Sub(vec[k].Mul(val[k])).Norm(), 1e-13*scale, "trial %d", trial)
		}
	}
}

func TestSmallestSaysWhereThereIsNoPlane(t *testing.T) {
	for name, m := range map[string]Sym3{
		"one place": {},
		"a line":    {XX: 1},
		"a ball":    {XX: 1, YY: 1, ZZ: 1},
		"NaN":       {XX: math.NaN(), YY: 1, ZZ: 1},
	} {
		_, _, ok := m.Smallest()
		assert.False(t, ok, name)
	}
}

func TestCholeskySolves(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for n := 1; n <= 9; n++ {
		// A = M Mᵀ + I, b = A x
		a, x, b := make([]float64, n*n), make([]float64, n), make([]float64, n)
		m := mat.NewDense(n, n, nil)
		for i := range n {
			x[i] = rng.NormFloat64()
			for j := range n {
				m.Set(i, j, rng.NormFloat64())
			}
		}
		for i := range n {
			for j := range n {
				a[i*n+j] = mat.Dot(m.RowView(i), m.RowView(j))
				if i == j {
					a[i*n+j]++
				}
				b[i] += a[i*n+j] * x[j]
			}
		}
		require.True(t, Cholesky(a, n, 1e-12))
		CholeskySolve(a, b)
		assert.InDeltaSlice(t, x, b, 1e-11)
	}
	assert.False(t, Cholesky([]float64{1, 0, 1, 1}, 2, 1e-12), "two equal rows")
	assert.False(t, Cholesky([]float64{1, 0, 2, 1}, 2, 1e-12), "not positive")
	assert.False(t, Cholesky([]float64{math.NaN()}, 1, 1e-12), "NaN")
}

func TestQuadricIsFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	want := Quadric{0.3, -0.2, 0.5, 0.11, -0.7, 0.4}
	var s QuadricSums
	for k := range 40 {
		if k == 5 {
			_, ok := s.Fit()
			assert.False(t, ok, "five points")
		}
		u, v := rng.NormFloat64(), rng.NormFloat64()
		s.Add(u, v, want.At(u, v))
	}
	got, ok := s.Fit()
	require.True(t, ok)
	assert.InDeltaSlice(t, want[:], got[:], 1e-12)
}

func TestCircleAndSphereThroughPoints(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for range 200 {
		c := randomUnit(rng).Mul(100)
		r := 1 + 10*rng.Float64()
		on := func() r3.Vector { return c.Add(randomUnit(rng).Mul(r)) }
		centre, radius, ok := Sphere(on(), on(), on(), on())
		require.True(t, ok)
		assert.InDelta(t, 0, centre.Distance(c), 1e-6)
		assert.InDelta(t, r, radius, 1e-6)

		e1, e2 := Basis(randomUnit(rng))
		arc := func(a float64) r3.Vector { return c.Add(e1.Mul(r * math.Cos(a))).Add(e2.Mul(r * math.Sin(a))) }
		centre, radius, ok = Circle(arc(0), arc(1+rng.Float64()), arc(4))
		require.True(t, ok)
		assert.InDelta(t, 0, centre.Distance(c), 1e-11)
		assert.InDelta(t, r, radius, 1e-11)
	}
	x := r3.Vector{X: 1}
	_, _, ok := Circle(x, x.Mul(2), x.Mul(5))
	assert.False(t, ok, "points on a line")
	_, _, ok = Sphere(x, x.Mul(2), r3.Vector{Y: 1}, r3.Vector{Y: 7})
	assert.False(t, ok, "points in a plane")
}

func TestBasisIsOrthonormal(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	ns := []r3.Vector{{Z: 1}, {Z: -1}, {X: 1}, {Y: -1}, Unit(r3.Vector{X: 1e-9, Z: -1})}
	for range 100 {
		ns = append(ns, randomUnit(rng))
	}
	for _, n := range ns {
		e1, e2 := Basis(n)
		assert.InDelta(t, 1, e1.Norm(), 1e-14)
		assert.InDelta(t, 0, e1.Dot(n), 1e-14)
		assert.Less(t, e1.Cross(e2).Sub(n).Norm(), 1e-14, "%v", n)
	}
}

func TestOrderStatistics(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for _, n := range []int{1, 2, 3, 16, 17, 100, 1001, 5000} {
		for _, distinct := range []float64{1, 7, 1e9} {
			a := make([]float64, n)
			for i := range a {
				a[i] = math.Floor(distinct * rng.Float64())
			}
			want := slices.Sorted(slices.Values(a))
			for _, k := range []int{0, n / 3, n - 1} {
				got := Nth(a, k)
				require.Equal(t, want[k], got, "%d of %d", k, n)
				require.LessOrEqual(t, slices.Max(a[:k+1]), got)
				require.GreaterOrEqual(t, slices.Min(a[k:]), got)
			}
			require.Equal(t, (want[(n-1)/2]+want[n/2])/2, Median(a), "of %d", n)
		}
	}
	assert.Zero(t, Median([]float32{}))
}

func TestBoundsAndFinite(t *testing.T) {
	lo, hi := Bounds([]r3.Vector{{X: 1, Y: 5}, {X: -1, Z: 2}})
	assert.Equal(t, []r3.Vector{{X: -1}, {X: 1, Y: 5, Z: 2}}, []r3.Vector{lo, hi})
	lo, hi = Bounds(nil)
	assert.Equal(t, lo, hi)
	assert.True(t, Finite(hi))
	assert.False(t, Finite(r3.Vector{Y: math.Inf(-1)}))
	assert.False(t, Finite(r3.Vector{Z: math.NaN()}))
}

// Eigenvalues and quadratic forms are as those of the matrix (gonum's eigenvalues), for any
// order, zeros and multiples of the unit matrix among them.
func TestTridiagonal(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for n := 1; n < 12; n++ {
		for _, scale := range []float64{0, 1e-9, 1, 1e6} {
			a, z := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
			for i := range n {
				z.SetVec(i, rng.NormFloat64())
				for j := range i + 1 {
					a.SetSym(i, j, scale*rng.NormFloat64())
				}
			}
			turned := slices.Clone(z.RawVector().Data)
			lower := mat.DenseCopyOf(a).RawMatrix().Data
			diag, beside := Tridiagonal(lower, n, [][]float64{turned})
			b := mat.NewSymDense(n, nil)
			for k, d := range diag {
				if b.SetSym(k, k, d); k > 0 {
					b.SetSym(k, k-1, beside[k-1])
				}
			}
			var of, as mat.EigenSym
			require.True(t, of.Factorize(a, false))
			require.True(t, as.Factorize(b, false))
			assert.InDeltaSlice(t, of.Values(nil), as.Values(nil), 1e-14*float64(n)*scale+1e-300)
			y := mat.NewVecDense(n, turned)
			assert.InDelta(t, mat.Inner(z, a, z), mat.Inner(y, b, y), 1e-13*scale*mat.Dot(z, z)*float64(n)+1e-300)
		}
	}
}
