package main

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Sources: testdata/README.md, references/constructed-minimum-zone-65-60,
// mcc-rosetta-5pt, mic-jts-square.
func TestFitByOtherCriteria(t *testing.T) {
	zone := readReference(t, "constructed-minimum-zone-65-60")
	got := fitJSON(t, "circle", zone.file(t, " "), "--criterion", "minimum-zone")
	near(t, zone.want(t, "x"), got.Point[0], "x")
	near(t, zone.want(t, "y"), got.Point[1], "y")
	near(t, zone.want(t, "width"), got.FormError, "width")
	assert.Empty(t, got.Uncertainty, "single points show none")

	out := readReference(t, "mcc-rosetta-5pt")
	got = fitJSON(t, "circle", out.file(t, " "), "--criterion", "circumscribed")
	near(t, out.want(t, "x"), got.Point[0], "x")
	near(t, out.want(t, "r"), *got.Radius, "radius")

	in := readReference(t, "mic-jts-square")
	got = fitJSON(t, "circle", in.file(t, " "), "--criterion", "inscribed")
	near(t, in.want(t, "r"), *got.Radius, "radius")
}

// Five points of a hundred lie 1 mm off a circle of radius 10: a robust fit
// leaves them out, exactly, since the others are exact.
func TestFitRobust(t *testing.T) {
	var b strings.Builder
	for i := range 100 {
		r := 10.0
		if i%20 == 0 {
			r = 11
		}
		sin, cos := math.Sincos(float64(i) * math.Pi / 50)
		fmt.Fprintf(&b, "%v %v\n", 3+r*cos, 4+r*sin)
	}
	file := write(t, t.TempDir(), "rim.txt", b.String())
	got := fitJSON(t, "circle", file, "--robust")
	assert.InDelta(t, 3, got.Point[0], 1e-9)
	assert.InDelta(t, 10, *got.Radius, 1e-9)
	r := spotface(t, "fit", "circle", file, "--robust")
	assert.Contains(t, r.stdout, "left out                 5 points")
}

func TestFitWithItsAxisHeld(t *testing.T) {
	c := readReference(t, "constructed-cylinder")
	got := fitJSON(t, "cylinder", c.file(t, " "), "--axis", "2,3,6")
	for k, d := range []float64{2. / 7, 3. / 7, 6. / 7} {
		assert.InDelta(t, d, got.Direction[k], 1e-15)
	}
	// Held to its true value the axis differs by 1e-12 from the best one.
	assert.InDelta(t, c.want(t, "r"), *got.Radius, 1e-11)
}

func TestFitMethodsThatThereAreNot(t *testing.T) {
	file := write(t, t.TempDir(), "p.txt", "0 0 0\n1 0 0\n0 1 0\n0 0 1\n1 1 0\n1 0 1\n")
	for flags, says := range map[string]string{
		"plane --criterion inscribed":                 "a plane has no fit by --criterion inscribed: circle, sphere and cylinder have",
		"cone --robust":                               "a cone has no --robust fit: plane, circle, sphere and cylinder have",
		"sphere --axis 0,0,1":                         "--axis holds a cylinder's axis; a sphere has none to hold",
		"cylinder --axis 0,0":                         "--axis \"0,0\" is no direction: give three numbers, such as 0,0,1",
		"cylinder --axis 0,0,0":                       "--axis \"0,0,0\" has no direction: give three numbers that are not all 0",
		"circle --criterion best":                     "--criterion \"best\" is not known: use least-squares, minimum-zone, inscribed or circumscribed",
		"circle --criterion minimum-zone":             "--criterion minimum-zone is of a circle in a plane: give two columns, or project the points on their face first",
		"cylinder --criterion inscribed --robust":     "--criterion inscribed goes with neither --robust nor --axis",
		"cylinder --criterion inscribed --axis 0,0,1": "--criterion inscribed goes with neither --robust nor --axis",
	} {
		args := strings.Fields(flags)
		r := spotface(t, append([]string{"fit", args[0], file}, args[1:]...)...)
		require.Equal(t, exitUnusable, r.code, flags)
		assert.Empty(t, r.stdout, flags)
		assert.Contains(t, r.stderr, says, flags)
	}
}
