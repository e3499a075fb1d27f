package fit_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
)

// reference is one file of testdata/references: its README row in
// testdata/README.md names the source.
type reference struct {
	Points     [][]float64
	Tolerance  float64        `json:"result_tolerance"`
	Disagree   map[string]any `json:"disagreements"`
	Result     map[string]any
	Recomputed map[string]any
	Inliers    []int
}

func load(t *testing.T, id string) reference {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "testdata", "references", id+".json"))
	require.NoError(t, err)
	var r reference
	require.NoError(t, json.Unmarshal(b, &r))
	return r
}

// points returns the points, or the listed ones.
func (r reference) points(only ...int) []r3.Vector {
	if len(only) == 0 {
		for i := range r.Points {
			only = append(only, i)
		}
	}
	out := make([]r3.Vector, 0, len(only))
	for _, i := range only {
		p := r3.Vector{X: r.Points[i][0], Y: r.Points[i][1]}
		if len(r.Points[i]) > 2 {
			p.Z = r.Points[i][2]
		}
		out = append(out, p)
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

func vector(t *testing.T, v any) r3.Vector {
	t.Helper()
	a, ok := v.([]any)
	require.True(t, ok)
	return r3.Vector{X: number(t, a[0]), Y: number(t, a[1]), Z: number(t, a[2])}
}

// near asserts |got - want| ≤ rel·size.
func near(t *testing.T, want, got, rel, size float64, what string) {
	t.Helper()
	t.Logf("%-16s %.17g  off %.1e of %.3g", what, got, math.Abs(got-want)/size, size)
	assert.LessOrEqual(t, math.Abs(got-want), rel*size, "%s: want %.17g got %.17g", what, want, got)
}

// published asserts that got is the published value to half a unit of its last
// digit, or to the tolerance that the source itself asserts, unless
// recomputation does not confirm it.
func (r reference) published(t *testing.T, key string, got float64) {
	t.Helper()
	if _, no := r.Disagree[key]; no {
		return
	}
	s, ok := r.Result[key].(string)
	require.True(t, ok, key)
	want := number(t, s)
	half := r.Tolerance
	if half == 0 {
		digits := 0
		if dot := strings.IndexByte(s, '.'); dot >= 0 {
			digits = len(s) - dot - 1
		}
		half = 0.5*math.Pow10(-digits) + 1e-14
	}
	assert.InDelta(t, want, got, half, key)
}

func TestCircle2References(t *testing.T) {
	for _, row := range []struct {
		id, prefix string
		inliers    bool
		tol        float64
	}{
		{"circle-coope-1993-8pt", "geometric_", false, 1e-12},
		{"circle-ggs-1994-six-points", "geometric_", false, 1e-12},
		{"circle-ggs-1994-paper-digits", "geometric_", false, 1e-12},
		{"circle-scipy-cookbook-full", "geometric_", false, 1e-12},
		{"circle-pcl-18pt", "", true, 1e-12},
		{"constructed-circle-full", "", false, 1e-12},
		{"constructed-circle-arc40", "", false, 1e-12},
		{"circle-chernov-w-example", "geometric_", false, 1e-9},
	} {
		t.Run(row.id, func(t *testing.T) {
			r := load(t, row.id)
			f, err := fit.Circle2DTo(r.points(r.Inliers...), fit.Options{})
			if row.id == "circle-chernov-w-example" {
				// Five points that bend less than their noise: the optimum comes
				// with the error that says so.
				var flat *fit.FlatError
				require.ErrorAs(t, err, &flat)
			} else {
				require.NoError(t, err)
			}
			radius := number(t, r.Recomputed[row.prefix+"r"])
			near(t, number(t, r.Recomputed[row.prefix+"x"]), f.Centre.X, row.tol, radius, "x")
			near(t, number(t, r.Recomputed[row.prefix+"y"]), f.Centre.Y, row.tol, radius, "y")
			near(t, radius, f.Radius, row.tol, radius, "r")
			if rms, ok := r.Recomputed[row.prefix+"rms"]; ok {
				near(t, number(t, rms), f.Residuals.RMS, row.tol, number(t, rms), "rms")
			}
			for key, v := range map[string]float64{"x": f.Centre.X, "y": f.Centre.Y, "r": f.Radius, "rms": f.Residuals.RMS, "std": f.Residuals.RMS} {
				if _, ok := r.Result[row.prefix+key]; ok && !constructed(row.id) {
					r.published(t, row.prefix+key, v)
				}
			}
			g, err := fit.CircleTo(r.points(r.Inliers...), fit.Options{})
			if err != nil {
				require.ErrorAs(t, err, new(*fit.FlatError))
			}
			near(t, radius, g.Radius, row.tol, radius, "r in space")
		})
	}
}

// constructed sets have the answer that went in as their result, from which
// rounding the points to ten decimals moved the optimum.
func constructed(id string) bool { return strings.HasPrefix(id, "constructed-") }

func TestSphereReferences(t *testing.T) {
	for _, id := range []string{"sphere-pcl-10pt", "sphere-pcl-half-27pt", "constructed-sphere-cap60"} {
		t.Run(id, func(t *testing.T) {
			r := load(t, id)
			f, err := fit.SphereTo(r.points(r.Inliers...), fit.Options{})
			require.NoError(t, err)
			t.Log(f.Iters)
			near(t, number(t, r.Recomputed["x"]), f.Centre.X, 1e-12, f.Centre.Norm(), "x")
			near(t, number(t, r.Recomputed["y"]), f.Centre.Y, 1e-12, f.Centre.Norm(), "y")
			near(t, number(t, r.Recomputed["z"]), f.Centre.Z, 1e-12, f.Centre.Norm(), "z")
			near(t, number(t, r.Recomputed["r"]), f.Radius, 1e-12, f.Radius, "r")
			switch id {
			case "sphere-pcl-10pt":
				r.published(t, "x_over_r", f.Centre.X/f.Radius)
				r.published(t, "y_over_r", f.Centre.Y/f.Radius)
				r.published(t, "z_over_r", f.Centre.Z/f.Radius)
			case "sphere-pcl-half-27pt":
				r.published(t, "x", f.Centre.X)
				r.published(t, "y", f.Centre.Y)
				r.published(t, "z", f.Centre.Z)
				r.published(t, "r", f.Radius)
			}
		})
	}
}

func TestCylinderReferences(t *testing.T) {
	r := load(t, "constructed-cylinder")
	f, err := fit.CylinderTo(r.points(), fit.Options{})
	require.NoError(t, err)
	t.Log(f.Iters)
	d := vector(t, r.Recomputed["direction"])
	near(t, 0, f.Axis.Sub(d).Norm(), 1e-12, 1, "axis")
	at := vector(t, r.Recomputed["axis_point_nearest_20_-5_7"])
	near(t, 0, f.Point.Sub(at).Cross(d).Norm(), 1e-12, at.Norm(), "point")
	near(t, number(t, r.Recomputed["r"]), f.Radius, 1e-12, f.Radius, "r")
	near(t, number(t, r.Recomputed["rms"]), f.Residuals.RMS, 1e-12, f.Residuals.RMS, "rms")

	r = load(t, "cylinder-pcl-20pt")
	f, err = fit.CylinderTo(r.points(), fit.Options{})
	require.NoError(t, err)
	near(t, number(t, r.Recomputed["axis_x"]), f.Point.X, 1e-12, 1, "x")
	near(t, number(t, r.Recomputed["axis_y"]), f.Point.Y, 1e-12, 1, "y")
	near(t, number(t, r.Recomputed["axis_z"]), f.Point.Z, 1e-12, 1, "z")
	near(t, number(t, r.Recomputed["dir_x"]), f.Axis.X, 1e-12, 1, "dir x")
	near(t, number(t, r.Recomputed["dir_y"]), f.Axis.Y, 1e-12, 1, "dir y")
	near(t, number(t, r.Recomputed["r"]), f.Radius, 1e-12, f.Radius, "r")
	near(t, number(t, r.Recomputed["rms"]), f.Residuals.RMS, 1e-12, f.Residuals.RMS, "rms")
	r.published(t, "axis_x", f.Point.X)
	r.published(t, "axis_y", f.Point.Y)
	r.published(t, "r", f.Radius)
}

func TestConeReferences(t *testing.T) {
	r := load(t, "constructed-cone-90deg")
	f, err := fit.ConeTo(r.points(), fit.Options{})
	require.NoError(t, err)
	t.Log(f.Iters)
	apex, d := vector(t, r.Recomputed["apex"]), vector(t, r.Recomputed["direction"])
	near(t, 0, f.Apex.Sub(apex).Norm(), 1e-12, apex.Norm(), "apex")
	near(t, 0, f.Axis.Sub(d).Norm(), 1e-12, 1, "axis")
	near(t, number(t, r.Recomputed["half_angle_rad"]), f.HalfAngle.Radians(), 1e-12, 1, "half angle")

	r = load(t, "cone-pcl-31pt")
	f, err = fit.ConeTo(r.points(r.Inliers...), fit.Options{})
	require.NoError(t, err)
	t.Log(f.Iters)
	near(t, number(t, r.Recomputed["apex_x"]), f.Apex.X, 1e-12, 1, "apex x")
	near(t, number(t, r.Recomputed["apex_y"]), f.Apex.Y, 1e-12, 1, "apex y")
	near(t, number(t, r.Recomputed["apex_z"]), f.Apex.Z, 1e-12, 1, "apex z")
	near(t, number(t, r.Recomputed["dir_x"]), f.Axis.X, 1e-12, 1, "dir x")
	near(t, number(t, r.Recomputed["dir_z"]), f.Axis.Z, 1e-12, 1, "dir z")
	near(t, number(t, r.Recomputed["rms"]), f.Residuals.RMS, 1e-12, f.Residuals.RMS, "rms")
	r.published(t, "apex_x", f.Apex.X)
	r.published(t, "apex_y", f.Apex.Y)
	r.published(t, "half_angle_rad", f.HalfAngle.Radians())
	near(t, number(t, r.Recomputed["half_angle_rad"]), f.HalfAngle.Radians(), 1e-12, 1, "half angle")
}

func TestPlaneReferences(t *testing.T) {
	r := load(t, "constructed-plane")
	f, err := fit.PlaneTo(r.points(), fit.Options{})
	require.NoError(t, err)
	n := vector(t, r.Recomputed["normal"])
	near(t, 0, f.Normal.Sub(n).Norm(), 1e-12, 1, "normal")
	near(t, number(t, r.Recomputed["distance"]), f.Point.Dot(f.Normal), 1e-12, 10, "distance")
	near(t, 0, f.Point.Sub(vector(t, r.Recomputed["centroid"])).Norm(), 1e-12, 10, "centroid")
}

// A measured set in metres with one point half a metre off, with and without it.
func TestPlaneMeasuredSet(t *testing.T) {
	r := load(t, "plane-auvcal-69pt")
	for _, row := range []struct {
		what string
		only []int
	}{{"all", nil}, {"inliers", r.Inliers}} {
		f, err := fit.PlaneTo(r.points(row.only...), fit.Options{})
		require.NoError(t, err)
		near(t, 0, f.Normal.Sub(vector(t, r.Recomputed["n_"+row.what])).Norm(), 1e-12, 1, "normal")
		d := number(t, r.Recomputed["d_"+row.what])
		near(t, d, -f.Point.Dot(f.Normal), 1e-12, d, "d of n·p + d = 0")
		rms := number(t, r.Recomputed["rms_"+row.what])
		near(t, rms, f.Residuals.RMS, 1e-12, rms, "rms")
		if row.only != nil {
			r.published(t, "a", f.Normal.X)
			r.published(t, "b", f.Normal.Y)
			r.published(t, "c", f.Normal.Z)
			r.published(t, "d", -f.Point.Dot(f.Normal))
		}
	}
}

// Pearson's points lie in the plane; a line in space through them is his line.
func TestPearsonLine(t *testing.T) {
	r := load(t, "line-pearson-1901")
	f, err := fit.LineTo(r.points(), fit.Options{})
	require.NoError(t, err)
	slope := f.Direction.Y / f.Direction.X
	intercept := f.Point.Y - slope*f.Point.X
	near(t, number(t, r.Recomputed["slope"]), slope, 1e-12, 1, "slope")
	near(t, number(t, r.Recomputed["intercept"]), intercept, 1e-12, intercept, "intercept")
	near(t, number(t, r.Recomputed["rms_orthogonal"]), f.Residuals.RMS, 1e-12, f.Residuals.RMS, "rms")
	r.published(t, "slope", slope)
	r.published(t, "intercept", intercept)
}

func TestLineReferences(t *testing.T) {
	r := load(t, "constructed-line3d")
	f, err := fit.LineTo(r.points(), fit.Options{})
	require.NoError(t, err)
	near(t, 0, f.Direction.Sub(vector(t, r.Recomputed["direction"])).Norm(), 1e-12, 1, "direction")
	near(t, 0, f.Point.Sub(vector(t, r.Recomputed["point"])).Norm(), 1e-12, 1, "point")
	near(t, number(t, r.Recomputed["rms_orthogonal"]), f.Residuals.RMS, 1e-12, f.Residuals.RMS, "rms")
}
