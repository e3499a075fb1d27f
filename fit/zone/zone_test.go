package zone_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/fit/zone"
	"spotface/mesh/geom"
)

// reference is one file of testdata/references: its README row in
// testdata/README.md names the source.
type reference struct {
	Points             [][2]float64
	Result, Recomputed map[string]any
	Tolerance          float64 `json:"result_tolerance"`
}

func load(t *testing.T, id string) (r reference) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "references", id+".json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, &r))
	return r
}

func (r reference) plane() []r3.Vector { return flat(r.Points) }

// flat lays points into the plane z = 0.
func flat(xy [][2]float64) (out []r3.Vector) {
	for _, p := range xy {
		out = append(out, r3.Vector{X: p[0], Y: p[1]})
	}
	return out
}

func number(t *testing.T, v any) float64 {
	t.Helper()
	s, ok := v.(string)
	require.True(t, ok, "not a number: %v", v)
	f, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return f
}

// near asserts |got - want| ≤ rel·size.
func near(t *testing.T, want, got, rel, size float64, what string) {
	t.Helper()
	assert.LessOrEqual(t, math.Abs(got-want), rel*size, "%s: want %.17g got %.17g", what, want, got)
}

func randomUnit(rng *rand.Rand) r3.Vector {
	return geom.Unit(r3.Vector{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()})
}

// Published circles (JTS Topology Suite, Rosetta Code) and exhaustive answers at
// 60 digits, see testdata/README.md.
func TestCircleReferences(t *testing.T) {
	for _, id := range []string{"mcc-jts-2pt", "mcc-jts-collinear", "mcc-jts-inner-point", "mcc-jts-obtuse", "mcc-jts-quadrilateral", "mcc-rosetta-3pt", "mcc-rosetta-5pt"} {
		r := load(t, id)
		f, _, err := zone.Circle(r.plane(), zone.Circumscribed)
		require.NoError(t, err, id)
		size := number(t, r.Recomputed["r"])
		near(t, number(t, r.Recomputed["x"]), f.Centre.X, 1e-12, math.Hypot(f.Centre.X, f.Centre.Y), id)
		near(t, number(t, r.Recomputed["y"]), f.Centre.Y, 1e-12, math.Hypot(f.Centre.X, f.Centre.Y), id)
		near(t, size, f.Radius, 1e-12, size, id)
	}
	for _, id := range []string{"mic-jts-square", "mic-jts-triangle-hull-edge", "mic-jts-triangle-interior"} {
		r := load(t, id)
		f, _, err := zone.Circle(r.plane(), zone.Inscribed)
		require.NoError(t, err, id)
		size := number(t, r.Recomputed["r"])
		near(t, number(t, r.Recomputed["x"]), f.Centre.X, 1e-12, 300, id)
		near(t, number(t, r.Recomputed["y"]), f.Centre.Y, 1e-12, 300, id)
		near(t, size, f.Radius, 1e-12, size, id)
		assert.InDelta(t, number(t, r.Result["r"]), f.Radius, r.Tolerance, id)
	}
	for _, id := range []string{"zone-enumerated-coope8", "zone-enumerated-ggs", "zone-enumerated-pcl17", "zone-enumerated-scipy-full"} {
		t.Run(id, func(t *testing.T) {
			r := load(t, id)
			for _, row := range []struct {
				prefix string
				by     zone.Criterion
			}{{"mcc_", zone.Circumscribed}, {"mic_", zone.Inscribed}, {"mzc_", zone.Minimum}} {
				f, z, err := zone.Circle(r.plane(), row.by)
				require.NoError(t, err)
				size := z.Outer
				near(t, number(t, r.Recomputed[row.prefix+"x"]), f.Centre.X, 1e-12, size, row.prefix+"x")
				near(t, number(t, r.Recomputed[row.prefix+"y"]), f.Centre.Y, 1e-12, size, row.prefix+"y")
				if row.by == zone.Minimum {
					near(t, number(t, r.Recomputed["mzc_r_outer"]), z.Outer, 1e-12, size, "outer")
					near(t, number(t, r.Recomputed["mzc_r_inner"]), z.Inner, 1e-12, size, "inner")
					near(t, number(t, r.Recomputed["mzc_width"]), z.Width, 1e-12, size, "width")
					assert.LessOrEqual(t, z.DualityGap, 1e-15*size)
				} else {
					near(t, number(t, r.Recomputed[row.prefix+"r"]), f.Radius, 1e-12, size, "r")
				}
			}
		})
	}
	r := load(t, "constructed-minimum-zone-65-60")
	f, z, err := zone.Circle(r.plane(), zone.Minimum)
	require.NoError(t, err)
	near(t, 3, f.Centre.X, 1e-12, 65, "x")
	near(t, -4, f.Centre.Y, 1e-12, 65, "y")
	near(t, 65, z.Outer, 1e-13, 65, "outer")
	near(t, 60, z.Inner, 1e-13, 60, "inner")
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

// crossing is where the bisectors of a and b and of c and d cross: nowhere, if they do not.
func crossing(a, b, c, d [2]float64) (x, y float64) {
	a1, b1 := b[0]-a[0], b[1]-a[1]
	a2, b2 := d[0]-c[0], d[1]-c[1]
	c1 := a1*(a[0]+b[0])/2 + b1*(a[1]+b[1])/2
	c2 := a2*(c[0]+d[0])/2 + b2*(c[1]+d[1])/2
	det := a1*b2 - a2*b1
	return (c1*b2 - c2*b1) / det, (a1*c2 - a2*c1) / det
}

// zoneAll is the least width of all annuli that rest on four points, two and
// two, or three and one: their centres are where two bisectors cross.
func zoneAll(xy [][2]float64) float64 {
	best := math.Inf(1)
	n := len(xy)
	centre := func(i, j, k, l int) {
		x, y := crossing(xy[i], xy[j], xy[k], xy[l])
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
func TestCircleByExhaustiveSearch(t *testing.T) {
	t.Parallel()
	for i := range 100 {
		rng := rand.New(rand.NewPCG(80, uint64(i)))
		n := 6 + rng.IntN(9)
		noise := 0.1 * math.Pow(10, -3*rng.Float64())
		var xy [][2]float64
		for k := range n {
			s, c := math.Sincos(2 * math.Pi * (float64(k) + 0.5*rng.Float64()) / float64(n))
			r := 10 * (1 + noise*(2*rng.Float64()-1))
			xy = append(xy, [2]float64{100 + r*c, -50 + r*s})
		}
		_, z, err := zone.Circle(flat(xy), zone.Minimum)
		require.NoError(t, err)
		require.InDelta(t, zoneAll(xy), z.Width, 1e-12, "trial %d", i)
		require.LessOrEqual(t, z.DualityGap, 1e-14)
		require.GreaterOrEqual(t, len(z.Active), 4)

		mc, _, err := zone.Circle(flat(xy), zone.Circumscribed)
		require.NoError(t, err)
		mi, _, err := zone.Circle(flat(xy), zone.Inscribed)
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
			test(crossing(xy[s[0]], xy[s[1]], xy[s[1]], xy[s[2]]))
		})
		require.InDelta(t, out, mc.Radius, 1e-11)
		require.InDelta(t, in, mi.Radius, 1e-11)
		require.LessOrEqual(t, mi.Radius, z.Outer)
	}
}

// planeAll is the least distance of two parallel planes that hold the points:
// they rest on a corner and a face, or on two edges.
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

func TestPlaneByExhaustiveSearch(t *testing.T) {
	for i := range 200 {
		rng := rand.New(rand.NewPCG(81, uint64(i)))
		w := randomUnit(rng)
		u, v := geom.Basis(w)
		thick := math.Pow(10, -3*rng.Float64()-0.5)
		var pts []r3.Vector
		for range 6 + rng.IntN(8) {
			pts = append(pts, u.Mul(30*rng.Float64()).Add(v.Mul(20*rng.Float64())).Add(w.Mul(10*thick*rng.Float64())).Add(r3.Vector{X: 200}))
		}
		_, z, err := zone.To(fit.KindPlane, pts, zone.Minimum)
		require.NoError(t, err)
		require.InDelta(t, planeAll(pts), z.Width, 1e-12, "trial %d thick %g", i, thick)
		require.LessOrEqual(t, z.DualityGap, 1e-14)
		f, err := fit.PlaneTo(pts, fit.Options{})
		require.NoError(t, err)
		require.LessOrEqual(t, z.Width, f.Residuals.FormError*(1+1e-12))
	}
}

// Cylinders: the criteria are met by the points, better than by least squares,
// to a gap of rounding, and no small random change betters them.
func TestCylinders(t *testing.T) {
	t.Parallel()
	for i := range 30 {
		rng := rand.New(rand.NewPCG(82, uint64(i)))
		w, size := randomUnit(rng), 5+100*rng.Float64()
		u, v := geom.Basis(w)
		at := r3.Vector{X: 800 * (rng.Float64() - 0.5), Y: 800 * (rng.Float64() - 0.5), Z: 800 * (rng.Float64() - 0.5)}
		var pts []r3.Vector
		for range 20 + rng.IntN(200) {
			s, c := math.Sincos(2 * math.Pi * rng.Float64())
			r := size * (1 + 0.01*(rng.Float64()-0.5))
			pts = append(pts, at.Add(u.Mul(r*c)).Add(v.Mul(r*s)).Add(w.Mul(3*size*rng.Float64())))
		}
		ls, err := fit.CylinderTo(pts, fit.Options{})
		require.NoError(t, err)
		for _, by := range []zone.Criterion{zone.Minimum, zone.Circumscribed, zone.Inscribed} {
			s, z, err := zone.To(fit.KindCylinder, pts, by)
			require.NoError(t, err)
			goal := func(c fit.Cylinder) float64 {
				lo, hi := math.Inf(1), math.Inf(-1)
				for _, q := range pts {
					r := c.Distance(q) + c.Radius
					lo, hi = min(lo, r), max(hi, r)
				}
				switch by {
				case zone.Circumscribed:
					return hi
				case zone.Inscribed:
					return -lo
				}
				return hi - lo
			}
			best := s.(fit.Cylinder)
			mine := goal(best)
			require.LessOrEqual(t, mine, goal(ls.Cylinder)+1e-12)
			require.InDelta(t, math.Abs(mine), map[zone.Criterion]float64{zone.Minimum: z.Width, zone.Circumscribed: z.Outer, zone.Inscribed: z.Inner}[by], 1e-10)
			assert.LessOrEqual(t, z.DualityGap, 1e-9*size, "trial %d criterion %d iters %d", i, by, z.Iters)
			for k := range 200 {
				s := size * 0.01 * math.Pow(0.5, float64(k%20))
				c := best
				c.Point = c.Point.Add(randomUnit(rng).Mul(s * rng.Float64()))
				c.Axis = c.Axis.Add(randomUnit(rng).Mul(s / size * rng.Float64())).Normalize()
				require.GreaterOrEqual(t, goal(c), mine-1e-9*size, "trial %d criterion %d", i, by)
			}
		}
	}
}

// By hand: a cube's corners lie on a sphere and within a straight zone.
func TestByHand(t *testing.T) {
	var cube, rod []r3.Vector
	for i := range 8 {
		p := r3.Vector{X: float64(i & 1), Y: float64(i >> 1 & 1), Z: float64(i >> 2)}
		cube = append(cube, p)
		rod = append(rod, r3.Vector{X: p.X, Y: p.Y, Z: 20 * p.Z})
	}
	s, _, err := zone.To(fit.KindSphere, append(cube, r3.Vector{X: 0.5, Y: 0.5, Z: 1.5}), zone.Circumscribed)
	require.NoError(t, err)
	assert.Greater(t, s.(fit.Sphere).Radius, math.Sqrt(3)/2)
	l, z, err := zone.Line(rod)
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt2, z.Width, 1e-9)
	assert.InDelta(t, 1, math.Abs(l.Direction.Z), 1e-9)
	_, z, err = zone.To(fit.KindPlane, cube, zone.Minimum)
	require.NoError(t, err)
	assert.InDelta(t, 1, z.Width, 1e-12)
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
	_, _, err := zone.To(fit.KindCylinder, half, zone.Inscribed)
	require.ErrorIs(t, err, fit.ErrDegenerate)
	assert.ErrorContains(t, err, "side open")
	_, _, err = zone.Circle(flat(xy), zone.Inscribed)
	require.ErrorIs(t, err, fit.ErrDegenerate)
	_, z, err := zone.To(fit.KindCylinder, half, zone.Minimum)
	require.NoError(t, err)
	assert.Less(t, z.DualityGap, 1e-12)
}
