package fit_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"spotface/fit"
	"spotface/mesh/geom"
)

// Fits with something held, of noisy points: what is held is kept, has no variance, and
// along all that is free the sum of squares is least: its gradient, the sum of
// residuals times derivatives, is zero to rounding. From a start off it, too.
func TestHeldFitsAreTheOptimum(t *testing.T) {
	w := geom.Unit(r3.Vector{X: 0.2, Y: -0.3, Z: 0.9})
	at := r3.Vector{X: 11, Y: -7, Z: 5}
	one := func(n int, at ...int) (rows [][]float64) {
		for _, k := range at {
			row := make([]float64, n)
			row[k] = 1
			rows = append(rows, row)
		}
		return rows
	}
	plane, cylinder := fit.Plane{Point: at, Normal: w}, fit.Cylinder{Point: at, Axis: w, Radius: 6}
	cone := fit.Cone{Apex: at, Axis: w, HalfAngle: 25 * s1.Degree}
	for _, row := range []struct {
		name string
		s    fit.Shape
		opt  fit.Options
		free [][]float64
	}{
		{"plane, direction", plane, fit.Options{Direction: w}, one(3, 0)},
		{"cylinder, direction", cylinder, fit.Options{Direction: w}, one(5, 0, 1, 4)},
		{"cylinder, direction and radius", cylinder, fit.Options{Direction: w, Radius: 6.01},
			one(5, 0, 1)},
		{"cone, direction", cone, fit.Options{Direction: w}, one(6, 0, 1, 2, 5)},
	} {
		for i := range 10 {
			rng := rand.New(rand.NewPCG(62, uint64(i)))
			var pts []r3.Vector
			for len(pts) < 60 {
				q := at.Add(w.Mul(3 + 10*rng.Float64())).Add(randomUnit(rng).Mul(12 * rng.Float64()))
				d := row.s.Distance(q)
				if row.s.Kind() == fit.KindPlane {
					pts = append(pts, q.Sub(w.Mul(d+0.05*rng.NormFloat64())))
				} else if foot := q.Sub(row.s.NormalAt(q).Mul(d)); math.Abs(d) < 3 && foot.Sub(at).Dot(w) > 1 {
					pts = append(pts, q.Sub(row.s.NormalAt(q).Mul(d+0.05*rng.NormFloat64())))
				}
			}
			opt := row.opt
			if i%2 == 1 {
				step := []float64{0.3, -0.2, 0.02, 0.01, 0.03, -0.02}[:row.s.Kind().Params()]
				opt.Start = row.s.Moved(step)
			}
			f, err := fit.To(row.s.Kind(), pts, opt)
			require.NoError(t, err, row.name)
			require.Less(t, f.Statistics().RMS, 0.1, row.name)
			d, grad := make([]float64, f.Kind().Params()), make([]float64, f.Kind().Params())
			size := make([]float64, len(d))
			for _, q := range pts {
				e := f.Partials(q, d)
				floats.AddScaled(grad, e, d)
				for k, v := range d {
					size[k] += math.Abs(e * v)
				}
			}
			cov := f.Covariance()
			rank := 0.0
			for _, dir := range row.free {
				assert.InDelta(t, 0, floats.Dot(dir, grad), 1e-11*floats.Sum(size), "%s %d", row.name, i)
			}
			for k := range d {
				if cov.At(k, k) > 0 {
					rank++
				}
			}
			assert.GreaterOrEqual(t, int(rank), len(row.free), row.name)
			switch g := f.(type) {
			case fit.CylinderFit:
				assert.InDelta(t, 1, g.Axis.Dot(w), 1e-15)
				assert.Zero(t, g.Cov[2][2]+g.Cov[3][3])
			case fit.ConeFit:
				assert.InDelta(t, 1, g.Axis.Dot(w), 1e-15)
				assert.Zero(t, g.Cov[3][3])
			case fit.PlaneFit:
				assert.InDelta(t, 1, g.Normal.Dot(w), 1e-15)
				assert.Zero(t, g.Cov[1][1])
			}
		}
	}
}
