package noise

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"spotface/mesh/scansim/trials"
)

// A rough kernel is exp(-d/L) but for what the ladder leaves out of the scale mixture: the
// shortest lengths, so that it is short of it near zero, and the longest.
func TestRoughKernel(t *testing.T) {
	lengths := ladder(1)
	for m := below + 5; m < len(lengths)-above; m += 5 {
		w := rough(lengths, m)
		for _, d := range []float64{0.3, 1, 2, 3} {
			sum := 0.0
			for k, l := range lengths {
				x := d * lengths[m] / l
				sum += w[k] * math.Exp(-x*x/2)
			}
			assert.InDelta(t, math.Exp(-d), sum, 0.03, "%g of %g", d, lengths[m])
		}
	}
}

// ring returns cells of a circle about the origin, seen over an arc, rad, as bolt makes
// them of rims (height 0) and walls.
func ring(radius, height, arc float64, cells int) Patch {
	p := Patch{Axis: r3.Vector{Z: 1}, Width: arc * radius / float64(cells), Height: height}
	for i := range cells {
		sin, cos := math.Sincos(arc * (float64(i) + 0.5) / float64(cells))
		p.At = append(p.At, r3.Vector{X: radius * cos, Y: radius * sin})
		p.Terms = append(p.Terms, []float64{cos, sin, 1})
		p.N = append(p.N, float64(4+i%3))
	}
	return p
}

// Covariances of cells' means by brute force, in parts of the variance.
func TestCellsHaveTheMeanCovariance(t *testing.T) {
	const fine = 12
	p := ring(4, 3, 2*math.Pi, 24)
	k := mat.NewSymDense(24, nil)
	for _, length := range []float64{0.6, 1.5, 4} {
		p.lay(k, length)
		for _, j := range []int{0, 1, 2, 5, 12} {
			want := 0.0
			for a := range fine * fine {
				for b := range fine * fine {
					at := func(cell, i, j int) r3.Vector {
						sin, cos := math.Sincos(2 * math.Pi / 24 * (float64(cell) + (float64(i)+0.5)/fine))
						return r3.Vector{X: 4 * cos, Y: 4 * sin, Z: 3 * (float64(j) + 0.5) / fine}
					}
					d2 := at(0, a%fine, a/fine).Sub(at(j, b%fine, b/fine)).Norm2()
					want += math.Exp(-d2/(2*length*length)) / math.Pow(fine, 4)
				}
			}
			assert.InDelta(t, want, k.At(0, j), 0.025, "length %g, %d apart", length, j)
		}
	}
}

// brute is the covariance of the cells, σ² = 1.
func (p *Patch) brute(kern kernel, lengths []float64, q float64) *mat.SymDense {
	n := len(p.At)
	v, k := mat.NewSymDense(n, nil), mat.NewSymDense(n, nil)
	for m, w := range kern.weight {
		if w != 0 {
			p.lay(k, lengths[m])
			k.ScaleSym(q*w, k)
			v.AddSym(v, k)
		}
	}
	for i, n := range p.N {
		v.SetSym(i, i, v.At(i, i)+1/n)
	}
	return v
}

// A restricted likelihood without the terms against the same by whole matrices: with
// P = V⁻¹ - V⁻¹X(XᵀV⁻¹X)⁻¹XᵀV⁻¹, log |V| + log |XᵀV⁻¹X| and yᵀPy (Harville, J. Am. Stat.
// Assoc. 72 (1977) 320-338, section 5), up to a constant.
func TestRestrictedLikelihood(t *testing.T) {
	rng := rand.New(rand.NewPCG(51, 1))
	p := ring(4, 0, 4, 20)
	y := make([]float64, 20)
	for i := range y {
		y[i] = rng.NormFloat64()
	}
	p.Y = [][]float64{y}
	lengths := ladder(4)
	tried := kernels(lengths, 4)
	r, ok := reduce(&p, lengths, 0)
	require.True(t, ok)
	x := mat.NewDense(20, 3, nil)
	for i, row := range p.Terms {
		x.SetRow(i, row)
	}
	var last float64
	for i, k := range []int{3, 8, 15} {
		for j, q := range []float64{0.1, 5} {
			var chol mat.Cholesky
			require.True(t, chol.Factorize(p.brute(tried[k], lengths, q)))
			var vx, a, beta mat.Dense
			require.NoError(t, chol.SolveTo(&vx, x))
			a.Mul(x.T(), &vx)
			var vy, fit mat.VecDense
			yv := mat.NewVecDense(20, y)
			require.NoError(t, chol.SolveVecTo(&vy, yv))
			var xvy mat.Dense
			xvy.Mul(x.T(), &vy)
			require.NoError(t, beta.Solve(&a, &xvy))
			fit.MulVec(x, beta.ColView(0))
			fit.SubVec(yv, &fit)
			quad := mat.Dot(&fit, &vy)
			logDet, _ := mat.LogDet(&a)
			want := -(chol.LogDet()+logDet)/2 - 17.0/2*math.Log(quad)
			got, sigma2, free := likelihood(mix([]reduced{r}, tried[k].weight), q)
			assert.Equal(t, 17.0, free)
			assert.InEpsilon(t, quad/15, sigma2, 1e-9)
			if i+j > 0 {
				assert.InDelta(t, last, got-want, 1e-8, "the constant")
			}
			last = got - want
		}
	}
}

// Of patches of a group whose last terms are known to be the same, the likelihood is that
// of all cells with one such term.
func TestSharedTerm(t *testing.T) {
	rng := rand.New(rand.NewPCG(51, 2))
	lengths := ladder(4)
	tried := kernels(lengths, 4)[:3]
	n := 16
	whole := Patch{Axis: r3.Vector{Z: 1}, Width: 1, Y: [][]float64{nil}}
	var parts []reduced
	for g := range 2 {
		p := ring(4, 0, 4, n)
		p.Width, p.Group, p.Spread = 1, 1, 1e-9
		y := make([]float64, n)
		for i := range y {
			y[i] = rng.NormFloat64()
			row := make([]float64, 5)
			copy(row[2*g:], p.Terms[i][:2])
			row[4] = 1
			whole.Terms = append(whole.Terms, row)
			whole.At = append(whole.At, p.At[i].Add(r3.Vector{X: 1000 * float64(g)}))
		}
		p.Y = [][]float64{y}
		whole.N, whole.Y[0] = append(whole.N, p.N...), append(whole.Y[0], y...)
		r, ok := reduce(&p, lengths, 0)
		require.True(t, ok)
		parts = append(parts, r)
	}
	r, ok := reduce(&whole, lengths, 0)
	require.True(t, ok)
	all := []reduced{r}
	var last float64
	for i, q := range []float64{0, 0.2, 8} {
		a, sa, fa := likelihood(mix(parts, tried[2].weight), q)
		b, sb, fb := likelihood(mix(all, tried[2].weight), q)
		assert.Equal(t, fb, fa)
		assert.InEpsilon(t, sb, sa, 1e-6)
		if i > 0 {
			assert.InDelta(t, last, a-b, 1e-6, "the constant")
		}
		last = a - b
	}
}

// draw draws residuals of the covariance v.
func draw(rng *rand.Rand, v *mat.SymDense, sigma float64) []float64 {
	var chol mat.Cholesky
	chol.Factorize(v)
	z := mat.NewVecDense(v.SymmetricDim(), nil)
	for i := range z.Len() {
		z.SetVec(i, sigma*rng.NormFloat64())
	}
	z.MulVec(chol.RawU().T(), z)
	return z.RawVector().Data
}

// Six rims of 0.02 mm noise, three quarters of it shared: their fits scatter by what Fit
// states, whatever the kernel. The noise is learned once a part, so that the twelve
// coordinates of a part count as four. False-alarm rate: 1e-4 a kernel. Independent points
// would be stated as 0.4 of it.
func TestFitStatesItsScatter(t *testing.T) {
	parts := trials.Of(12, 8)
	lengths := ladder(4)
	for _, k := range []int{4, 11, 18, 21} {
		kern := kernels(lengths, 4)[k]
		rng := rand.New(rand.NewPCG(51, 3))
		var z2, n float64
		for range parts {
			var patches []Patch
			for range 6 {
				p := ring(4, 0, 2*math.Pi, 24)
				p.Y = [][]float64{draw(rng, p.brute(kern, lengths, 3), 0.01)}
				patches = append(patches, p)
			}
			m, err := Learn(t.Context(), patches, nil, 4, 1)
			require.NoError(t, err)
			for _, p := range patches {
				f, ok := m.Fit(&p, p.Terms)
				require.True(t, ok)
				for i := range 2 {
					z2 += f.Beta[i] * f.Beta[i] / f.Cov.At(i, i)
					n++
				}
			}
		}
		low, high := trials.RMS(4*parts, 1e-4)
		assert.True(t, 0.85*low < math.Sqrt(z2/n) && math.Sqrt(z2/n) < 1.05*high, "kernel %d: %g", k, math.Sqrt(z2/n))
	}
}

// grid returns points of a face of 60 x 60 mm in noise of a normal kernel, a quarter white:
// a sum of plane waves (Rasmussen and Williams 2006, section 4.2.1).
func grid(rng *rand.Rand, length float64) (pts []r3.Vector, height []float64) {
	const waves, step = 120, 0.8
	var k [waves]r3.Vector
	var phase [waves]float64
	for i := range k {
		k[i] = r3.Vector{X: rng.NormFloat64() / length, Y: rng.NormFloat64() / length}
		phase[i] = 2 * math.Pi * rng.Float64()
	}
	for i := range 75 * 75 {
		p := r3.Vector{X: step * float64(i%75), Y: step * float64(i/75)}
		if p.Distance(r3.Vector{X: 30, Y: 30}) < 8 {
			continue // a bore
		}
		h := 0.01*rng.NormFloat64() + 1e-4*p.X*p.Y // and twist
		for i := range k {
			h += 0.0173 * math.Sqrt(2.0/waves) * math.Cos(k[i].Dot(p)+phase[i])
		}
		pts, height = append(pts, p), append(height, h)
	}
	return pts, height
}

// A face says how long its noise is, twisted as it is, and that of holes which show little
// of it follows. Bounds: twice the scatter of 20 such faces.
func TestFaceShowsItsNoise(t *testing.T) {
	for _, length := range []float64{1.5, 3} {
		pts, height := grid(rand.New(rand.NewPCG(51, 4)), length)
		tiles := Face(pts, height, 3400, 4)
		require.NotEmpty(t, tiles)
		m, err := Learn(t.Context(), tiles, nil, 4, 0)
		require.NoError(t, err)
		assert.InEpsilon(t, math.Sqrt2*length, m.CorrelationLength(), 0.3)
		assert.InEpsilon(t, 0.0173, math.Sqrt(m.Total()), 0.25)
		assert.InEpsilon(t, 0.01, math.Sqrt(m.Nugget), 0.2)
	}
	assert.Empty(t, Face(nil, nil, 0, 4))
}

// Six rims of white noise show nothing long; a large face shows that there is nothing.
func TestHidden(t *testing.T) {
	rng := rand.New(rand.NewPCG(51, 6))
	var rims []Patch
	for range 6 {
		p := ring(4, 0, 2*math.Pi, 24)
		p.Y = [][]float64{draw(rng, p.brute(kernel{}, nil, 0), 0.01)}
		rims = append(rims, p)
	}
	m, err := Learn(t.Context(), rims, nil, 4, 1)
	require.NoError(t, err)
	assert.True(t, m.Hidden)
	assert.Zero(t, m.CorrelationLength())
	pts, height := grid(rng, 3)
	for i := range height {
		height[i] = 0.01 * rng.NormFloat64()
	}
	m, err = Learn(t.Context(), rims, Face(pts, height, 3400, 4), 4, 1)
	require.NoError(t, err)
	assert.False(t, m.Hidden)
}
