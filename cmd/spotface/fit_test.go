package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// reference is a case of testdata/references: points with a published source
// (named in the file and in testdata/README.md) and the optimum recomputed
// with 60 digits.
type reference struct {
	Points     [][]json.Number
	Inliers    []int
	Recomputed map[string]json.RawMessage
}

func readReference(t *testing.T, id string) reference {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "references", id+".json"))
	require.NoError(t, err)
	var r reference
	require.NoError(t, json.Unmarshal(data, &r))
	return r
}

// file writes the points (the inliers only, where some are named) with the
// separator given.
func (r reference) file(t *testing.T, separator string) string {
	var b strings.Builder
	keep := map[int]bool{}
	for _, i := range r.Inliers {
		keep[i] = true
	}
	for i, p := range r.Points {
		if len(keep) > 0 && !keep[i] {
			continue
		}
		for k, c := range p {
			if k > 0 {
				b.WriteString(separator)
			}
			b.WriteString(c.String())
		}
		b.WriteByte('\n')
	}
	return write(t, t.TempDir(), "points.txt", b.String())
}

// want returns a recomputed number, or one component of a vector of them.
func (r reference) want(t *testing.T, name string, component ...int) float64 {
	t.Helper()
	var s string
	if len(component) > 0 {
		var v []string
		require.NoError(t, json.Unmarshal(r.Recomputed[name], &v), name)
		s = v[component[0]]
	} else {
		require.NoError(t, json.Unmarshal(r.Recomputed[name], &s), name)
	}
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// printed is the JSON of `spotface fit` as another program would read it.
type printed struct {
	Shape       string
	Point       [3]float64
	Direction   *[3]float64
	Radius      *float64
	HalfAngle   *float64 `json:"half_angle_deg"`
	RMS         float64
	FormError   float64 `json:"form_error"`
	Points      int
	Iterations  *int
	Uncertainty map[string]float64
	Coverage    map[string]float64 `json:"coverage_factor"`
}

func fitJSON(t *testing.T, shape, file string, flags ...string) printed {
	t.Helper()
	r := spotface(t, append([]string{"fit", shape, file, "--format", "json"}, flags...)...)
	require.Equal(t, exitConforming, r.code, r.stderr)
	require.Empty(t, r.stderr)
	var p printed
	require.NoError(t, json.Unmarshal([]byte(r.stdout), &p), r.stdout)
	require.Equal(t, shape, p.Shape)
	return p
}

// near requires agreement to 1e-12 of the size of the data, or of 1.
func near(t *testing.T, want, got float64, what string) {
	t.Helper()
	assert.InDelta(t, want, got, 1e-12*max(1, math.Abs(want)), what)
}

// nearPoint is near for a point of the reference named component by component,
// or as one vector.
func (r reference) nearPoint(t *testing.T, got [3]float64, names ...string) {
	t.Helper()
	for k, g := range got {
		if len(names) == 1 {
			assert.InDelta(t, r.want(t, names[0], k), g, 1e-11, names[0])
		} else {
			assert.InDelta(t, r.want(t, names[k]), g, 1e-11, names[k])
		}
	}
}

// What the command prints is the recomputed optimum of the published points,
// for every shape, however the columns are separated.
func TestFitPrintsTheOptimumOfReferenceData(t *testing.T) {
	t.Run("circle of two columns, Coope 1993", func(t *testing.T) {
		ref := readReference(t, "circle-coope-1993-8pt")
		p := fitJSON(t, "circle", ref.file(t, "\t"))
		near(t, ref.want(t, "geometric_x"), p.Point[0], "x")
		near(t, ref.want(t, "geometric_y"), p.Point[1], "y")
		assert.Zero(t, p.Point[2])
		assert.Equal(t, [3]float64{0, 0, 1}, *p.Direction)
		near(t, ref.want(t, "geometric_r"), *p.Radius, "radius")
		near(t, ref.want(t, "geometric_rms"), p.RMS, "rms")
		assert.Equal(t, 8, p.Points)
	})
	t.Run("line of two columns, Pearson 1901", func(t *testing.T) {
		ref := readReference(t, "line-pearson-1901")
		p := fitJSON(t, "line", ref.file(t, ";"))
		near(t, ref.want(t, "centroid_x"), p.Point[0], "x")
		near(t, ref.want(t, "centroid_y"), p.Point[1], "y")
		slope := p.Direction[1] / p.Direction[0]
		near(t, ref.want(t, "slope"), slope, "slope")
		near(t, ref.want(t, "rms_orthogonal"), p.RMS, "rms")
		// Signed in the plane: the range of y - (slope x + intercept), squared
		// to the line, of the points as published.
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, q := range ref.Points {
			x, _ := q[0].Float64()
			y, _ := q[1].Float64()
			d := (y - ref.want(t, "slope")*x - ref.want(t, "intercept")) / math.Hypot(1, ref.want(t, "slope"))
			lo, hi = min(lo, d), max(hi, d)
		}
		near(t, hi-lo, p.FormError, "form error")
	})
	t.Run("line in space", func(t *testing.T) {
		ref := readReference(t, "constructed-line3d")
		p := fitJSON(t, "line", ref.file(t, ", "))
		ref.nearPoint(t, p.Point, "point")
		ref.nearPoint(t, *p.Direction, "direction")
		near(t, ref.want(t, "rms_orthogonal"), p.RMS, "rms")
		assert.Nil(t, p.Radius)
		assert.Nil(t, p.HalfAngle)
	})
	t.Run("plane, laser sheet", func(t *testing.T) {
		ref := readReference(t, "plane-auvcal-69pt")
		ref.Inliers = nil // all of them
		p := fitJSON(t, "plane", ref.file(t, " "))
		ref.nearPoint(t, *p.Direction, "n_all")
		near(t, ref.want(t, "rms_all"), p.RMS, "rms")
		assert.Equal(t, 69, p.Points)
	})
	t.Run("sphere", func(t *testing.T) {
		ref := readReference(t, "constructed-sphere-cap60")
		p := fitJSON(t, "sphere", ref.file(t, ","))
		ref.nearPoint(t, p.Point, "x", "y", "z")
		near(t, ref.want(t, "r"), *p.Radius, "radius")
		assert.Nil(t, p.Direction)
	})
	t.Run("cylinder", func(t *testing.T) {
		ref := readReference(t, "constructed-cylinder")
		p := fitJSON(t, "cylinder", ref.file(t, " "))
		ref.nearPoint(t, *p.Direction, "direction")
		near(t, ref.want(t, "r"), *p.Radius, "radius")
		near(t, ref.want(t, "rms"), p.RMS, "rms")
		assert.Positive(t, *p.Iterations)
	})
	t.Run("cone", func(t *testing.T) {
		ref := readReference(t, "constructed-cone-90deg")
		p := fitJSON(t, "cone", ref.file(t, " "))
		ref.nearPoint(t, p.Point, "apex")
		near(t, ref.want(t, "half_angle_rad")*180/math.Pi, *p.HalfAngle, "half angle")
		assert.Nil(t, p.Radius)
	})
}

// Numbers come with 17 significant digits: a float64 survives the print.
func TestFitKeepsEveryDigit(t *testing.T) {
	third := 1.0 / 3
	file := write(t, t.TempDir(), "square.csv", fmt.Sprintf("x,y\n%[1]v,0\n0,%[1]v\n-%[1]v,0\n0,-%[1]v\n", third))
	r := spotface(t, "fit", "circle", file, "--format", "json")
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.Contains(t, r.stdout, `"radius": 0.33333333333333331`)
}

// The reader of points must not pass them through single precision: at
// coordinates of a million it would lose all that the circle is made of.
func TestFitReadsInDoublePrecision(t *testing.T) {
	var b strings.Builder
	for i := range 12 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 6)
		fmt.Fprintf(&b, "%.17g %.17g 7\n", 1e6+0.001*cos, 2e6+0.001*sin)
	}
	p := fitJSON(t, "circle", write(t, t.TempDir(), "far.txt", b.String()))
	// The coordinates themselves are rounded to 2.3e-10 at 2e6.
	assert.InDelta(t, 0.001, *p.Radius, 2e-10)
	assert.InDelta(t, 1e6, p.Point[0], 2e-10)
}

func TestFitScalesByTheUnit(t *testing.T) {
	file := write(t, t.TempDir(), "inch.txt", "1 0 0\n0 1 0\n-1 0 0\n0 -1 0\n")
	assert.InDelta(t, 25.4, *fitJSON(t, "circle", file, "--unit", "in").Radius, 1e-12)
	assert.InDelta(t, 1, *fitJSON(t, "circle", file).Radius, 1e-12)
}

// As many points as the shape has parameters show nothing of their noise, so
// no uncertainty is printed; one more does.
func TestFitStatesNoUncertaintyItCannotKnow(t *testing.T) {
	three := "1 0 0\n0 1 0\n-1 0.1 0\n"
	p := fitJSON(t, "circle", write(t, t.TempDir(), "three.txt", three))
	assert.Empty(t, p.Uncertainty)
	p = fitJSON(t, "circle", write(t, t.TempDir(), "four.txt", three+"0 -1.01 0\n"))
	assert.Positive(t, p.Uncertainty["radius"])
	assert.Equal(t, map[string]float64{"point": 2.4477, "radius": 2}, p.Coverage)
}

// A line y = x/2 with errors of +-0.1 across it, worked by hand: with n = 4,
// t = -3, -1, 1, 3 and d = 0.1, -0.1, -0.1, 0.1 the residuals are orthogonal to 1
// and t, so σ² = 0.04/2, var offset = σ²/4, var tilt = σ²/20.
func TestUncertaintyOfALineInThePlane(t *testing.T) {
	var b strings.Builder
	c, s := 2/math.Sqrt(5), 1/math.Sqrt(5)
	for i, d := range []float64{0.1, -0.1, -0.1, 0.1} {
		along := float64(2*i - 3)
		fmt.Fprintf(&b, "%.17g %.17g\n", along*c-d*s, along*s+d*c)
	}
	p := fitJSON(t, "line", write(t, t.TempDir(), "line.txt", b.String()))
	assert.InDelta(t, 0.2, p.FormError, 1e-12)
	assert.InDelta(t, 2*math.Sqrt(0.02/4), p.Uncertainty["point"], 1e-12)
	assert.InDelta(t, 2*math.Sqrt(0.02/20)*180/math.Pi, p.Uncertainty["direction_deg"], 1e-10)
}

// The W of Chernov (2010), section 5.13: five points whose best circle is 160
// times as large as they are. The answer is printed, and so is that it is none.
func TestFitSaysWhenARadiusCannotBeTold(t *testing.T) {
	ref := readReference(t, "circle-chernov-w-example")
	file := ref.file(t, " ")
	r := spotface(t, "fit", "circle", file, "--format", "json")
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.Contains(t, r.stderr, "spotface: warning: "+file)
	assert.Contains(t, r.stderr, "cannot be distinguished from that of a line")
	var p printed
	require.NoError(t, json.Unmarshal([]byte(r.stdout), &p))
	assert.InEpsilon(t, ref.want(t, "geometric_r"), *p.Radius, 1e-9)
	assert.Greater(t, p.Uncertainty["radius"], *p.Radius)
	assert.Contains(t, r.stdout, `"warning"`)
}

func TestFitText(t *testing.T) {
	ref := readReference(t, "constructed-cylinder")
	r := spotface(t, "fit", "cylinder", ref.file(t, " "))
	require.Equal(t, exitConforming, r.code, r.stderr)
	for _, words := range []string{"cylinder through 48 points", "axis point", "radius", "4.1000", "diameter", "8.2000", "+-"} {
		assert.Contains(t, r.stdout, words)
	}
	t.Log("\n" + r.stdout)
}
