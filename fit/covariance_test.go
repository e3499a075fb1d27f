package fit_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"spotface/fit"
	"spotface/mesh/geom"
	"spotface/mesh/scansim/trials"
)

// tally compares stated covariances with what estimates really scatter.
type tally struct {
	n               int
	stated, squares []float64
	mahalanobis     float64
}

// note adds one trial: how far the estimate is off the truth, and its stated
// covariance.
func (y *tally) note(t *testing.T, off []float64, cov func(i, j int) float64) {
	p := len(off)
	if y.stated == nil {
		y.stated, y.squares = make([]float64, p), make([]float64, p)
	}
	y.n++
	c := mat.NewSymDense(p, nil)
	for i := range p {
		y.stated[i] += cov(i, i)
		y.squares[i] += off[i] * off[i]
		for j := i; j < p; j++ {
			c.SetSym(i, j, cov(i, j))
		}
	}
	var ch mat.Cholesky
	require.True(t, ch.Factorize(c), "covariance not positive definite: %v", mat.Formatted(c))
	x := mat.NewVecDense(p, nil)
	d := mat.NewVecDense(p, off)
	require.NoError(t, ch.SolveVecTo(x, d))
	y.mahalanobis += mat.Dot(d, x)
}

// check asserts the ratio of observed to stated standard deviation, and the mean
// of d'C⁻¹d, which with ν degrees of freedom is p ν/(ν - 2) and knows of
// correlations too. False-alarm rate: 1e-5 for each figure.
func (y *tally) check(t *testing.T, free int, names ...string) {
	t.Helper()
	low, high := trials.RMS(y.n, trials.Rate)
	s := ""
	within := func(ratio float64, name string) {
		assert.True(t, low < ratio && ratio < high, "%s: %g is not from %g to %g", name, ratio, low, high)
		s += fmt.Sprintf("%s %.4f  ", name, ratio)
	}
	for i, name := range names {
		within(math.Sqrt(y.squares[i]/y.stated[i]), name)
	}
	p, nu := float64(len(names)), float64(free)
	within(math.Sqrt(y.mahalanobis/float64(y.n)/(p*nu/(nu-2))), "Mahalanobis")
	t.Log("observed over stated: " + s)
}

func TestCovariancesAgreeWithScatter(t *testing.T) {
	t.Parallel()
	draws := trials.Draws(500, 12000)
	const n, noise = 40, 0.003 // mm, on a radius of 10
	axis := r3.Vector{X: 2, Y: 3, Z: 6}.Mul(1.0 / 7)
	u, v := geom.Basis(axis)
	at := r3.Vector{X: 12, Y: -5, Z: 40}
	on := func(phi, r, h float64) r3.Vector {
		s, c := math.Sincos(phi)
		return at.Add(u.Mul(r * c)).Add(v.Mul(r * s)).Add(axis.Mul(h))
	}
	along := func(d r3.Vector) (a, b, c float64) { return d.Dot(u), d.Dot(v), d.Dot(axis) }
	mean := func(pts []r3.Vector) (m r3.Vector) {
		for _, p := range pts {
			m = m.Add(p.Mul(1.0 / float64(len(pts))))
		}
		return m
	}
	for _, arc := range []float64{360, 180, 90} {
		arc := arc * math.Pi / 180
		phis := make([]float64, n)
		hs := make([]float64, n)
		rng := rand.New(rand.NewPCG(20, uint64(1000*arc)))
		for i := range n {
			phis[i], hs[i] = arc*float64(i)/n, 12*rng.Float64()-6
		}
		name := fmt.Sprintf("%.0f°", arc*180/math.Pi)
		run := func(shape string, free int, names []string, trial func(rng *rand.Rand, y *tally)) {
			t.Run(shape+" "+name, func(t *testing.T) {
				var y tally
				for i := range draws {
					trial(rand.New(rand.NewPCG(21, uint64(i))), &y)
				}
				y.check(t, free, names...)
			})
		}
		run("circle in the plane", n-3, []string{"x", "y", "r"}, func(rng *rand.Rand, y *tally) {
			xy := make([]r3.Vector, n)
			for i, p := range phis {
				s, c := math.Sincos(p)
				r := 10 + noise*rng.NormFloat64()
				xy[i] = r3.Vector{X: 3 + r*c, Y: 4 + r*s}
			}
			f, err := fit.Circle2DTo(xy, fit.Options{})
			require.NoError(t, err)
			y.note(t, []float64{f.Centre.X - 3, f.Centre.Y - 4, f.Radius - 10}, func(i, j int) float64 { return f.Cov[i][j] })
		})
		run("circle in space", 2*n-6, []string{"u", "v", "w", "a", "b", "r"}, func(rng *rand.Rand, y *tally) {
			pts := make([]r3.Vector, n)
			for i, p := range phis {
				pts[i] = on(p, 10+noise*rng.NormFloat64(), noise*rng.NormFloat64())
			}
			f, err := fit.CircleTo(pts, fit.Options{})
			require.NoError(t, err)
			cu, cv, cw := along(f.Centre.Sub(at))
			a, b, _ := along(f.Normal)
			y.note(t, []float64{cu, cv, cw, a, b, f.Radius - 10}, func(i, j int) float64 { return f.Cov[i][j] })
		})
		run("sphere", n-4, []string{"x", "y", "z", "r"}, func(rng *rand.Rand, y *tally) {
			pts := make([]r3.Vector, n)
			for i, p := range phis {
				z := hs[i] / 7
				r := 10 + noise*rng.NormFloat64()
				pts[i] = on(p, r*math.Sqrt(1-z*z), r*z)
			}
			f, err := fit.SphereTo(pts, fit.Options{})
			require.NoError(t, err)
			d := f.Centre.Sub(at)
			y.note(t, []float64{d.X, d.Y, d.Z, f.Radius - 10}, func(i, j int) float64 { return f.Cov[i][j] })
		})
		run("cylinder", n-5, []string{"u", "v", "a", "b", "r"}, func(rng *rand.Rand, y *tally) {
			pts := make([]r3.Vector, n)
			for i, p := range phis {
				pts[i] = on(p, 10+noise*rng.NormFloat64(), hs[i])
			}
			f, err := fit.CylinderTo(pts, fit.Options{Start: fit.Cylinder{Point: at, Axis: axis, Radius: 10}})
			require.NoError(t, err)
			m := mean(pts).Sub(at).Dot(axis)
			cu, cv, _ := along(f.Point.Sub(at.Add(axis.Mul(m))))
			a, b, _ := along(f.Axis)
			y.note(t, []float64{cu, cv, a, b, f.Radius - 10}, func(i, j int) float64 { return f.Cov[i][j] })
		})
		run("cylinder along a held axis", n-3, []string{"u", "v", "r"}, func(rng *rand.Rand, y *tally) {
			pts := make([]r3.Vector, n)
			for i, p := range phis {
				pts[i] = on(p, 10+noise*rng.NormFloat64(), hs[i])
			}
			f, err := fit.CylinderTo(pts, fit.Options{Direction: axis})
			require.NoError(t, err)
			cu, cv, _ := along(f.Point.Sub(at))
			to := [3]int{0, 1, 4}
			y.note(t, []float64{cu, cv, f.Radius - 10}, func(i, j int) float64 { return f.Cov[to[i]][to[j]] })
		})
		run("cone", n-6, []string{"u", "v", "w", "a", "b", "φ"}, func(rng *rand.Rand, y *tally) {
			pts := make([]r3.Vector, n)
			for i, p := range phis {
				l, e := 12+hs[i], noise*rng.NormFloat64()
				pts[i] = on(p, l*math.Sin(0.7)+e*math.Cos(0.7), l*math.Cos(0.7)-e*math.Sin(0.7))
			}
			f, err := fit.ConeTo(pts, fit.Options{Start: fit.Cone{Apex: at, Axis: axis, HalfAngle: s1.Angle(0.7)}})
			require.NoError(t, err)
			cu, cv, cw := along(f.Apex.Sub(at))
			a, b, _ := along(f.Axis)
			y.note(t, []float64{cu, cv, cw, a, b, f.HalfAngle.Radians() - 0.7}, func(i, j int) float64 { return f.Cov[i][j] })
		})
	}
	t.Run("plane", func(t *testing.T) {
		var y tally
		rng := rand.New(rand.NewPCG(22, 0))
		for range draws {
			pts := make([]r3.Vector, 30)
			for i := range pts {
				pts[i] = on(float64(i), 10+float64(i%3), noise*rng.NormFloat64())
			}
			f, err := fit.PlaneTo(pts, fit.Options{})
			require.NoError(t, err)
			a, b, _ := along(f.Normal)
			_, _, h := along(f.Point.Sub(at))
			y.note(t, []float64{h, a, b}, func(i, j int) float64 { return f.Cov[i][j] })
		}
		y.check(t, 27, "h", "a", "b")
	})
	t.Run("line", func(t *testing.T) {
		var y tally
		rng := rand.New(rand.NewPCG(23, 0))
		for range draws {
			pts := make([]r3.Vector, 20)
			for i := range pts {
				pts[i] = at.Add(u.Mul(noise * rng.NormFloat64())).Add(v.Mul(noise * rng.NormFloat64())).Add(axis.Mul(float64(i * i)))
			}
			f, err := fit.LineTo(pts, fit.Options{})
			require.NoError(t, err)
			cu, cv, _ := along(f.Point.Sub(at))
			a, b, _ := along(f.Direction)
			y.note(t, []float64{cu, cv, a, b}, func(i, j int) float64 { return f.Cov[i][j] })
		}
		y.check(t, 36, "u", "v", "a", "b")
	})
}

// The closed form for a circle seen over an arc (testdata/references/
// formulas.json, circle-fit-covariance-arc; Chan & Thomas 1995): the covariance
// that comes with a fit to points evenly over the arc, in its limit of many.
func TestCircleCovarianceMeetsTheClosedForm(t *testing.T) {
	for _, deg := range []float64{20, 45, 90, 180, 360} {
		const n = 20000
		al := deg / 2 * math.Pi / 180
		xy := make([]r3.Vector, n)
		for i := range xy {
			phi := al * (2*(float64(i)+0.5)/n - 1)
			r := 50 + 0.01*float64(1-2*(i&1)) // ±0.01 by turns
			xy[i] = r3.Vector{X: r * math.Cos(phi), Y: r * math.Sin(phi)}
		}
		f, err := fit.Circle2DTo(xy, fit.Options{})
		require.NoError(t, err)
		c1, c2, s2 := math.Sin(al)/al, 0.5+math.Sin(2*al)/(4*al), 0.5-math.Sin(2*al)/(4*al)
		d := c2 - c1*c1
		unit := f.Residuals.Sigma * f.Residuals.Sigma / n
		require.InEpsilon(t, 0.01, f.Residuals.Sigma, 1e-3)
		assert.InEpsilon(t, 1/d, f.Cov[0][0]/unit, 1e-3, "%v°", deg)
		assert.InEpsilon(t, 1/s2, f.Cov[1][1]/unit, 1e-3, "%v°", deg)
		assert.InEpsilon(t, c2/d, f.Cov[2][2]/unit, 1e-3, "%v°", deg)
		if deg < 360 {
			assert.InEpsilon(t, -c1/d, f.Cov[0][2]/unit, 1e-3, "%v°", deg)
		}
	}
}

// The factors are those of any table of chi-squared; the worst direction is taken for all.
func TestExpanded(t *testing.T) {
	u, k := fit.Expanded(mat.NewSymDense(1, []float64{0.01}))
	assert.InDelta(t, 0.2, u, 1e-15)
	assert.InDelta(t, 2, k, 0)
	u, k = fit.Expanded(mat.NewSymDense(2, []float64{5, 4, 4, 5})) // eigenvalues 1 and 9
	assert.InDelta(t, 3*math.Sqrt(5.99146), u, 2e-4)
	assert.InDelta(t, math.Sqrt(5.99146), k, 1e-4)
	_, k = fit.Expanded(mat.NewDiagDense(3, []float64{1, 2, 3}))
	assert.InDelta(t, math.Sqrt(7.81473), k, 1e-4)
}

// Worked by hand: y = 0.1, -0.1, -0.1, 0.1 at x = -3, -1, 1, 3, orthogonal to 1 and x, so
// σ² = 0.04/2, var offset = σ²/4, var tilt = σ²/20.
func TestLineInAPlane(t *testing.T) {
	f, err := fit.Line2DTo([]r3.Vector{{X: -3, Y: 0.1}, {X: -1, Y: -0.1}, {X: 1, Y: -0.1}, {X: 3, Y: 0.1}}, fit.Options{})
	require.NoError(t, err)
	assert.InDelta(t, 0.2, f.Residuals.FormError, 1e-15)
	assert.InDelta(t, math.Sqrt(0.02), f.Residuals.Sigma, 1e-15)
	assert.InDelta(t, 0.02/4, f.Cov[0][0], 1e-16)
	assert.InDelta(t, 0.02/20, f.Cov[2][2], 1e-17)
	assert.Zero(t, f.Cov[1][1]+f.Cov[3][3])
}
