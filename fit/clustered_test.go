package fit_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/mesh/geom"
	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
)

// The scatter of fits over simulated scans whose noise hangs together is what
// the clustered covariance must state; the plain one states a fraction of it.
// The method's own bias, by the correlation left between clusters, is down to 0.96, and
// by its choice of the largest of several up to 1.11. The plain standard deviation is 4.5
// to 7 times short (both by 200 draws). False-alarm rate: 1e-4 a figure.
func TestClusteredCovarianceStatesTheScatter(t *testing.T) {
	draws := trials.Draws(50, 200)
	rng := rand.New(rand.NewPCG(11, 0))

	wall, err := scansim.NewWall(scansim.WallSpec{Radius: 20, Around: 160, Rows: 40, Depth: 30, Sigma: 0.02,
		Kernel: scansim.Kernel{Shape: scansim.Exponential, Length: 1.5}})
	require.NoError(t, err)
	patch, err := scansim.NewPatch(scansim.PatchSpec{Length: 60, Width: 40, Nu: 120, Nv: 80, Sigma: 0.02,
		Kernel: scansim.Kernel{Shape: scansim.Gaussian, Length: 1.5}})
	require.NoError(t, err)

	var radius, tilt, offset, slope, apex, angle, coneTilt scatter
	for range draws {
		pts := wall.Draw(rng)
		c, err := fit.CylinderTo(pts, fit.Options{Start: fit.Cylinder{Axis: r3.Vector{Z: 1}, Radius: 20}})
		require.NoError(t, err)
		cov, known := fit.Clustered(c, pts, 0.78, nil)
		require.True(t, known)
		f1, _ := geom.Basis(r3.Vector{Z: 1})
		radius.add(c.Radius-20, cov.Covariance().At(4, 4), c.Cov[4][4])
		tilt.add(c.Axis.Dot(f1), cov.Covariance().At(2, 2), c.Cov[2][2])

		// The same noise on a cone of 30 degrees, 20 mm in radius half way up.
		cone := fit.Cone{Apex: r3.Vector{Z: -20 * math.Sqrt(3)}, Axis: r3.Vector{Z: 1}, HalfAngle: 30 * s1.Degree}
		for i, p := range pts {
			radial := r3.Vector{X: p.X, Y: p.Y}.Normalize()
			out := math.Hypot(p.X, p.Y) - 20
			along := cone.Axis.Mul(math.Sqrt(3) / 2).Add(radial.Mul(0.5))
			pts[i] = cone.Apex.Add(along.Mul(40 + p.Z)).Add(radial.Mul(out * math.Sqrt(3) / 2)).Sub(cone.Axis.Mul(out / 2))
		}
		k, err := fit.ConeTo(pts, fit.Options{Start: cone})
		require.NoError(t, err)
		kcov, known := fit.Clustered(k, pts, 0.78, nil)
		require.True(t, known)
		apex.add(k.Apex.Sub(cone.Apex).Dot(k.Axis), kcov.Covariance().At(2, 2), k.Cov[2][2])
		coneTilt.add(k.Axis.Dot(f1), kcov.Covariance().At(3, 3), k.Cov[3][3])
		angle.add((k.HalfAngle - cone.HalfAngle).Radians(), kcov.Covariance().At(5, 5), k.Cov[5][5])

		pts = patch.Draw(rng)
		p, err := fit.PlaneTo(pts, fit.Options{})
		require.NoError(t, err)
		pcov, known := fit.Clustered(p, pts, 0.5, nil)
		require.True(t, known)
		g1, _ := geom.Basis(p.Normal)
		offset.add(p.Distance(r3.Vector{}), pcov.Covariance().At(0, 0), p.Cov[0][0])
		slope.add(p.Normal.Sub(r3.Vector{Z: 1}).Dot(g1), pcov.Covariance().At(1, 1), p.Cov[1][1])
	}
	for name, s := range map[string]*scatter{"radius": &radius, "axis": &tilt, "offset": &offset, "slope": &slope,
		"cone's apex": &apex, "cone's axis": &coneTilt, "cone's angle": &angle} {
		stated, plain := s.ratios()
		t.Logf("%s: stated over observed %.3f, plain %.3f", name, stated, plain)
		low, high := trials.RMS(draws, 1e-4)
		assert.True(t, 0.96/high < stated && stated < 1.11/low, name)
		assert.Less(t, plain, 0.22/low, name)
	}
}

// scatter compares stated variances with observed errors.
type scatter struct{ err2, stated, plain, n float64 }

func (s *scatter) add(err, stated, plain float64) {
	s.err2 += err * err
	s.stated += stated
	s.plain += plain
	s.n++
}

// ratios returns stated over observed standard deviations.
func (s *scatter) ratios() (stated, plain float64) {
	return math.Sqrt(s.stated / s.err2), math.Sqrt(s.plain / s.err2)
}

// Where every point is independent, clusters add little; where there are few
// clusters, they say so.
func TestClusteredCovarianceOfIndependentPoints(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 0))
	var pts []r3.Vector
	for range 20000 {
		pts = append(pts, r3.Vector{X: 100 * rng.Float64(), Y: 100 * rng.Float64(), Z: 0.02 * rng.NormFloat64()})
	}
	p, err := fit.PlaneTo(pts, fit.Options{})
	require.NoError(t, err)
	cov, known := fit.Clustered(p, pts, 0.7, nil)
	require.True(t, known)
	// The largest of five estimates, the coarsest of 49 clusters, whose mean
	// relative scatter is a fifth for each of three parameters.
	assert.Less(t, cov.Covariance().At(0, 0)/p.Cov[0][0], 2.5)
	assert.GreaterOrEqual(t, cov.Covariance().At(0, 0)+cov.Covariance().At(1, 1)+cov.Covariance().At(2, 2), p.Cov[0][0])

	few := pts[:200]
	p, err = fit.PlaneTo(few, fit.Options{})
	require.NoError(t, err)
	cov, known = fit.Clustered(p, few, 7, nil)
	assert.False(t, known, "four clusters tell nothing")
	assert.Equal(t, p, cov)
}

// With the tilts held, a wall's place and radius vary as they do where points of the
// same errors show no tilt: clusters and what is shared come in, and what is held keeps
// no variance. Held perpendicular to a direction, the tilt that is left has its own.
func TestClusteredKeepsWhatIsHeld(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 0))
	wall, err := scansim.NewWall(scansim.WallSpec{Radius: 20, Around: 160, Rows: 40, Depth: 30, Sigma: 0.02,
		Kernel: scansim.Kernel{Shape: scansim.Exponential, Length: 1.5}})
	require.NoError(t, err)
	pts := wall.Draw(rng)
	free, err := fit.CylinderTo(pts, fit.Options{Start: fit.Cylinder{Axis: r3.Vector{Z: 1}, Radius: 20}})
	require.NoError(t, err)
	wide, known := fit.Clustered(free, pts, 0.78, nil)
	require.True(t, known)
	want := wide.Covariance()
	for _, row := range []struct {
		opt  fit.Options
		free []int
	}{
		{fit.Options{Direction: r3.Vector{Z: 1}}, []int{0, 1, 4}},
		{fit.Options{Direction: r3.Vector{Z: 1}, Radius: 20}, []int{0, 1}},
		{fit.Options{Perpendicular: r3.Vector{X: 1}}, []int{0, 1, 3, 4}},
	} {
		f, err := fit.CylinderTo(pts, row.opt)
		require.NoError(t, err)
		got, known := fit.Clustered(f, pts, 0.78, nil)
		require.True(t, known)
		for k := range 5 {
			v := got.Covariance().At(k, k)
			if slices.Contains(row.free, k) {
				// Of the same residuals, but the larger of several estimates is taken for
				// other combinations of parameters. Without clusters it is a twentieth.
				assert.InEpsilon(t, want.At(k, k), v, 0.35, "parameter %d", k)
			} else {
				assert.Less(t, v, 1e-12*want.At(k, k), "parameter %d", k)
			}
		}
	}
}
