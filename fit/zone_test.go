package fit_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
)

// Published circles (JTS Topology Suite, Rosetta Code) and exhaustive answers at
// 60 digits, see testdata/README.md.
func TestZoneCircleReferences(t *testing.T) {
	for _, id := range []string{"mcc-jts-2pt", "mcc-jts-collinear", "mcc-jts-inner-point", "mcc-jts-obtuse", "mcc-jts-quadrilateral", "mcc-rosetta-3pt", "mcc-rosetta-5pt"} {
		r := load(t, id)
		f, err := fit.ZoneCircle2(r.xy(), fit.Circumscribed)
		require.NoError(t, err, id)
		size := number(t, r.Recomputed["r"])
		near(t, number(t, r.Recomputed["x"]), f.X, 1e-12, math.Hypot(f.X, f.Y), id)
		near(t, number(t, r.Recomputed["y"]), f.Y, 1e-12, math.Hypot(f.X, f.Y), id)
		near(t, size, f.Radius, 1e-12, size, id)
	}
	for _, id := range []string{"mic-jts-square", "mic-jts-triangle-hull-edge", "mic-jts-triangle-interior"} {
		r := load(t, id)
		f, err := fit.ZoneCircle2(r.xy(), fit.Inscribed)
		require.NoError(t, err, id)
		size := number(t, r.Recomputed["r"])
		near(t, number(t, r.Recomputed["x"]), f.X, 1e-12, 300, id)
		near(t, number(t, r.Recomputed["y"]), f.Y, 1e-12, 300, id)
		near(t, size, f.Radius, 1e-12, size, id)
		r.published(t, "r", f.Radius)
	}
	for _, id := range []string{"zone-enumerated-coope8", "zone-enumerated-ggs", "zone-enumerated-pcl17", "zone-enumerated-scipy-full"} {
		t.Run(id, func(t *testing.T) {
			r := load(t, id)
			for _, row := range []struct {
				prefix string
				by     fit.Criterion
			}{{"mcc_", fit.Circumscribed}, {"mic_", fit.Inscribed}, {"mzc_", fit.MinimumZone}} {
				f, err := fit.ZoneCircle2(r.xy(), row.by)
				require.NoError(t, err)
				size := f.Outer
				near(t, number(t, r.Recomputed[row.prefix+"x"]), f.X, 1e-12, size, row.prefix+"x")
				near(t, number(t, r.Recomputed[row.prefix+"y"]), f.Y, 1e-12, size, row.prefix+"y")
				if row.by == fit.MinimumZone {
					near(t, number(t, r.Recomputed["mzc_r_outer"]), f.Outer, 1e-12, size, "outer")
					near(t, number(t, r.Recomputed["mzc_r_inner"]), f.Inner, 1e-12, size, "inner")
					near(t, number(t, r.Recomputed["mzc_width"]), f.Width, 1e-12, size, "width")
					assert.LessOrEqual(t, f.Gap, 1e-15*size)
				} else {
					near(t, number(t, r.Recomputed[row.prefix+"r"]), f.Radius, 1e-12, size, "r")
				}
			}
		})
	}
	r := load(t, "constructed-minimum-zone-65-60")
	f, err := fit.ZoneCircle2(r.xy(), fit.MinimumZone)
	require.NoError(t, err)
	near(t, 3, f.X, 1e-12, 65, "x")
	near(t, -4, f.Y, 1e-12, 65, "y")
	near(t, 65, f.Outer, 1e-13, 65, "outer")
	near(t, 60, f.Inner, 1e-13, 60, "inner")
}

// every returns all choices of k of n.
func every(n, k int, f func(at []int)) {
	at := make([]int, k)
	var rec func(from, d int)
	rec = func(from, d int) {
		if d == k {
			f(at)
			return
		}
		for i := from; i < n; i++ {
			at[d] = i
			rec(i+1, d+1)
		}
	}
	rec(0, 0)
}

// zoneAll is the least width of all annuli that stand on four points, two and
// two, or three and one: their centres are where two bisectors cross.
func zoneAll(xy [][2]float64) float64 {
	best := math.Inf(1)
	n := len(xy)
	centre := func(i, j, k, l int) {
		// Equal distance from i and j, and from k and l.
		a1, b1 := xy[j][0]-xy[i][0], xy[j][1]-xy[i][1]
		a2, b2 := xy[l][0]-xy[k][0], xy[l][1]-xy[k][1]
		c1 := a1*(xy[i][0]+xy[j][0])/2 + b1*(xy[i][1]+xy[j][1])/2
		c2 := a2*(xy[k][0]+xy[l][0])/2 + b2*(xy[k][1]+xy[l][1])/2
		d := a1*b2 - a2*b1
		if d == 0 {
			return
		}
		x, y := (c1*b2-c2*b1)/d, (a1*c2-a2*c1)/d
		lo, hi := math.Inf(1), 0.0
		for _, p := range xy {
			r := math.Hypot(p[0]-x, p[1]-y)
			lo, hi = min(lo, r), max(hi, r)
		}
		best = min(best, hi-lo)
	}
	every(n, 4, func(s []int) {
		centre(s[0], s[1], s[2], s[3])
		centre(s[0], s[2], s[1], s[3])
		centre(s[0], s[3], s[1], s[2])
	})
	every(n, 3, func(s []int) { centre(s[0], s[1], s[1], s[2]) })
	return best
}

// Round sets of 6 to 14 points with form errors up to a tenth of the radius:
// none of all annuli is narrower, none of all circles through two or three
// points that hold the rest smaller, none that are empty larger.
func TestZoneCircleByExhaustiveSearch(t *testing.T) {
	t.Parallel()
	for i := range 200 {
		rng := rand.New(rand.NewPCG(80, uint64(i)))
		n := 6 + rng.IntN(9)
		noise := 0.1 * math.Pow(10, -3*rng.Float64())
		var xy [][2]float64
		for k := range n {
			s, c := math.Sincos(2 * math.Pi * (float64(k) + 0.5*rng.Float64()) / float64(n))
			r := 10 * (1 + noise*(2*rng.Float64()-1))
			xy = append(xy, [2]float64{100 + r*c, -50 + r*s})
		}
		z, err := fit.ZoneCircle2(xy, fit.MinimumZone)
		require.NoError(t, err)
		require.InDelta(t, zoneAll(xy), z.Width, 1e-12, "trial %d", i)
		require.LessOrEqual(t, z.Gap, 1e-14)
		require.GreaterOrEqual(t, len(z.Support), 4)

		mc, err := fit.ZoneCircle2(xy, fit.Circumscribed)
		require.NoError(t, err)
		mi, err := fit.ZoneCircle2(xy, fit.Inscribed)
		require.NoError(t, err)
		out, in := math.Inf(1), 0.0
		test := func(x, y float64) {
			lo, hi := math.Inf(1), 0.0
			for _, p := range xy {
				r := math.Hypot(p[0]-x, p[1]-y)
				lo, hi = min(lo, r), max(hi, r)
			}
			out = min(out, hi)
			if math.Hypot(x-100, y+50) < 5 { // in the bore
				in = max(in, lo)
			}
		}
		every(n, 2, func(s []int) { test((xy[s[0]][0]+xy[s[1]][0])/2, (xy[s[0]][1]+xy[s[1]][1])/2) })
		every(n, 3, func(s []int) {
			g, err := fit.Circle2To([][2]float64{xy[s[0]], xy[s[1]], xy[s[2]]}, fit.Options{})
			if err == nil {
				test(g.X, g.Y)
			}
		})
		require.InDelta(t, out, mc.Radius, 1e-11)
		require.InDelta(t, in, mi.Radius, 1e-11)
		require.LessOrEqual(t, mi.Radius, z.Outer)
	}
}

// planeAll is the least distance of two parallel planes that hold the points:
// they stand on a corner and a face, or on two edges.
func planeAll(pts []r3.Vector) float64 {
	best := math.Inf(1)
	test := func(n r3.Vector) {
		if n.Norm() < 1e-9 {
			return
		}
		n = n.Normalize()
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, p := range pts {
			h := p.Dot(n)
			lo, hi = min(lo, h), max(hi, h)
		}
		best = min(best, hi-lo)
	}
	every(len(pts), 3, func(s []int) { test(pts[s[1]].Sub(pts[s[0]]).Cross(pts[s[2]].Sub(pts[s[0]]))) })
	every(len(pts), 4, func(s []int) {
		p := [4]r3.Vector{pts[s[0]], pts[s[1]], pts[s[2]], pts[s[3]]}
		test(p[1].Sub(p[0]).Cross(p[3].Sub(p[2])))
		test(p[2].Sub(p[0]).Cross(p[3].Sub(p[1])))
		test(p[3].Sub(p[0]).Cross(p[2].Sub(p[1])))
	})
	return best
}

func TestZonePlaneByExhaustiveSearch(t *testing.T) {
	for i := range 200 {
		rng := rand.New(rand.NewPCG(81, uint64(i)))
		w := randomUnit(rng)
		u, v := fit.Frame(w)
		thick := math.Pow(10, -3*rng.Float64()-0.5)
		var pts []r3.Vector
		for range 6 + rng.IntN(8) {
			pts = append(pts, u.Mul(30*rng.Float64()).Add(v.Mul(20*rng.Float64())).Add(w.Mul(10*thick*rng.Float64())).Add(r3.Vector{X: 200}))
		}
		z, err := fit.ZonePlane(pts)
		require.NoError(t, err)
		require.InDelta(t, planeAll(pts), z.Width, 1e-12, "trial %d thick %g", i, thick)
		require.LessOrEqual(t, z.Gap, 1e-14)
		f, err := fit.PlaneTo(pts, fit.Options{})
		require.NoError(t, err)
		require.LessOrEqual(t, z.Width, f.Residuals.FormError*(1+1e-12))
	}
}

// Cylinders: the criteria are met by the points, better than by least squares,
// to a gap of rounding, and no small random change betters them.
func TestZoneCylinders(t *testing.T) {
	t.Parallel()
	for i := range 30 {
		rng := rand.New(rand.NewPCG(82, uint64(i)))
		p := acceptance(rng)
		var pts []r3.Vector
		for range 20 + rng.IntN(200) {
			pts = append(pts, p.point(2*math.Pi*rng.Float64(), 1+0.01*(rng.Float64()-0.5), 3*rng.Float64()))
		}
		ls, err := fit.CylinderTo(pts, fit.Options{})
		require.NoError(t, err)
		for _, by := range []fit.Criterion{fit.MinimumZone, fit.Circumscribed, fit.Inscribed} {
			z, err := fit.ZoneCylinder(pts, by)
			require.NoError(t, err)
			goal := func(c fit.Cylinder) float64 {
				lo, hi := math.Inf(1), math.Inf(-1)
				for _, q := range pts {
					r := c.Distance(q) + c.Radius
					lo, hi = min(lo, r), max(hi, r)
				}
				switch by {
				case fit.Circumscribed:
					return hi
				case fit.Inscribed:
					return -lo
				}
				return hi - lo
			}
			mine := goal(z.Cylinder)
			require.LessOrEqual(t, mine, goal(ls.Cylinder)+1e-12)
			require.InDelta(t, math.Abs(mine), map[fit.Criterion]float64{fit.MinimumZone: z.Width, fit.Circumscribed: z.Outer, fit.Inscribed: z.Inner}[by], 1e-10)
			assert.LessOrEqual(t, z.Gap, 1e-9*p.size, "trial %d criterion %d iters %d", i, by, z.Iters)
			for k := range 200 {
				s := p.size * 0.01 * math.Pow(0.5, float64(k%20))
				c := z.Cylinder
				c.Point = c.Point.Add(randomUnit(rng).Mul(s * rng.Float64()))
				c.Axis = c.Axis.Add(randomUnit(rng).Mul(s / p.size * rng.Float64())).Normalize()
				require.GreaterOrEqual(t, goal(c), mine-1e-9*p.size, "trial %d criterion %d", i, by)
			}
		}
	}
}

// By hand: a cube's corners lie on a sphere and within a straight zone.
func TestZoneByHand(t *testing.T) {
	var cube, rod []r3.Vector
	for i := range 8 {
		p := r3.Vector{X: float64(i & 1), Y: float64(i >> 1 & 1), Z: float64(i >> 2)}
		cube = append(cube, p)
		rod = append(rod, r3.Vector{X: p.X, Y: p.Y, Z: 20 * p.Z})
	}
	s, err := fit.ZoneSphere(append(cube, r3.Vector{X: 0.5, Y: 0.5, Z: 1.5}), fit.Circumscribed)
	require.NoError(t, err)
	assert.Greater(t, s.Radius, math.Sqrt(3)/2)
	l, err := fit.ZoneLine(rod)
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt2, l.Width, 1e-9)
	assert.InDelta(t, 1, math.Abs(l.Direction.Z), 1e-9)
	p, err := fit.ZonePlane(cube)
	require.NoError(t, err)
	assert.InDelta(t, 1, p.Width, 1e-12)
}

// In a half-seen bore the largest pin has no end.
func TestInscribedNeedsMoreThanHalf(t *testing.T) {
	rng := rand.New(rand.NewPCG(83, 0))
	var half []r3.Vector
	var xy [][2]float64
	for range 300 {
		s, c := math.Sincos(0.9 * math.Pi * rng.Float64())
		r := 4 + 0.03*rng.NormFloat64()
		half = append(half, r3.Vector{X: r * c, Y: r * s, Z: 8 * rng.Float64()})
		xy = append(xy, [2]float64{r * c, r * s})
	}
	_, err := fit.ZoneCylinder(half, fit.Inscribed)
	require.ErrorIs(t, err, fit.ErrDegenerate)
	assert.ErrorContains(t, err, "side open")
	_, err = fit.ZoneCircle2(xy, fit.Inscribed)
	require.ErrorIs(t, err, fit.ErrDegenerate)
	z, err := fit.ZoneCylinder(half, fit.MinimumZone)
	require.NoError(t, err)
	assert.Less(t, z.Gap, 1e-12)
}
