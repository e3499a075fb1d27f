package fit_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
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
	Result     map[string]any
	Recomputed map[string]any
	Inliers    []int
	WeightsX   []float64 `json:"weights_x"`
	WeightsY   []float64 `json:"weights_y"`
	Model      string
	Starts     [][2]float64
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

func (r reference) xy(only ...int) [][2]float64 {
	var out [][2]float64
	for _, p := range r.points(only...) {
		out = append(out, [2]float64{p.X, p.Y})
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
			f, err := fit.Circle2To(r.xy(r.Inliers...), fit.Options{})
			t.Log(err, f.Iters)
			radius := number(t, r.Recomputed[row.prefix+"r"])
			near(t, number(t, r.Recomputed[row.prefix+"x"]), f.X, row.tol, radius, "x")
			near(t, number(t, r.Recomputed[row.prefix+"y"]), f.Y, row.tol, radius, "y")
			near(t, radius, f.Radius, row.tol, radius, "r")
			if rms, ok := r.Recomputed[row.prefix+"rms"]; ok {
				near(t, number(t, rms), f.Residuals.RMS, row.tol, number(t, rms), "rms")
			}
			g, err := fit.CircleTo(r.points(r.Inliers...), fit.Options{})
			t.Log(err, g.Iters)
			near(t, radius, g.Radius, row.tol, radius, "r in space")
		})
	}
}

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
	near(t, number(t, r.Recomputed["rms"]), f.Residuals.RMS, 1e-10, f.Residuals.RMS, "rms")

	r = load(t, "cylinder-pcl-20pt")
	f, err = fit.CylinderTo(r.points(), fit.Options{})
	require.NoError(t, err)
	near(t, number(t, r.Recomputed["axis_x"]), f.Point.X, 1e-12, 1, "x")
	near(t, number(t, r.Recomputed["axis_y"]), f.Point.Y, 1e-12, 1, "y")
	near(t, number(t, r.Recomputed["axis_z"]), f.Point.Z, 1e-12, 1, "z")
	near(t, number(t, r.Recomputed["dir_x"]), f.Axis.X, 1e-12, 1, "dir x")
	near(t, number(t, r.Recomputed["dir_y"]), f.Axis.Y, 1e-12, 1, "dir y")
	near(t, number(t, r.Recomputed["r"]), f.Radius, 1e-12, f.Radius, "r")
	near(t, number(t, r.Recomputed["rms"]), f.Residuals.RMS, 1e-10, f.Residuals.RMS, "rms")
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

func TestLineReferences(t *testing.T) {
	r := load(t, "constructed-line3d")
	f, err := fit.LineTo(r.points(), fit.Options{})
	require.NoError(t, err)
	near(t, 0, f.Direction.Sub(vector(t, r.Recomputed["direction"])).Norm(), 1e-12, 1, "direction")
	near(t, 0, f.Point.Sub(vector(t, r.Recomputed["point"])).Norm(), 1e-12, 1, "point")
	near(t, number(t, r.Recomputed["rms_orthogonal"]), f.Residuals.RMS, 1e-12, f.Residuals.RMS, "rms")
}
