//go:build study

package bolt

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/golang/geo/s1"

	"spotface/mesh/scansim/trials"
)

// coverRows are the rows of the study: each kernel at the lengths given, in hole
// radii, on rims and walls, all round and 224 degrees of it.
func coverRows(lengths ...float64) []coverRow {
	var out []coverRow
	for _, wall := range []bool{false, true} {
		for _, arc := range []s1.Angle{360 * s1.Degree, 224 * s1.Degree} {
			row := coverRow{arc: arc, wall: wall, holes: 6}
			row.name = "white"
			out = append(out, row)
			for _, l := range lengths {
				mm := l * coverRadius
				for _, k := range []struct {
					name   string
					kernel noiseKernel
				}{
					{"exponential", noiseKernel{Length: mm}},
					{"normal", noiseKernel{Smooth: true, Length: mm}},
					// The longer length is the one named; half of the variance has a
					// quarter of it.
					{"two-scale", noiseKernel{Length: mm / 4, Second: mm, SecondShare: 0.5}},
					// Nine tenths of the variance differ from point to point.
					{"mostly white", noiseKernel{Length: mm, White: 0.9}},
				} {
					// The simulator cannot embed smooth noise of a hole's radius on part
					// of a ring.
					if k.name == "normal" && l >= 1 && arc < 2*math.Pi {
						continue
					}
					row.name, row.kernel = fmt.Sprintf("%s r*%g", k.name, l), k.kernel
					out = append(out, row)
				}
			}
		}
	}
	return out
}

// fewHoleRows are flanges of three or four holes, 240 degrees of each seen: least
// to learn the noise from.
func fewHoleRows() []coverRow {
	var out []coverRow
	for _, holes := range []int{3, 4} {
		row := coverRow{arc: 240 * s1.Degree, holes: holes, name: "white"}
		out = append(out, row)
		for _, l := range []struct {
			name string
			of   float64 // hole radius
		}{{"r*0.25", 0.25}, {"r*0.5", 0.5}} {
			mm := l.of * coverRadius
			row.name, row.kernel = "exponential "+l.name, noiseKernel{Length: mm}
			out = append(out, row)
			row.name, row.kernel = "normal "+l.name, noiseKernel{Smooth: true, Length: mm}
			out = append(out, row)
			row.name, row.kernel = "two-scale "+l.name, noiseKernel{Length: mm / 4, Second: mm, SecondShare: 0.5}
			out = append(out, row)
		}
	}
	return out
}

// faceRows are rows whose face is seen: of whole rims all, of arcs and walls those up
// to a quarter of the radius; two more that only the face shows; and normal noise of which
// a twentieth is white, as some of every scanner's is.
func faceRows() []coverRow {
	var out []coverRow
	for _, r := range coverRows(0.0625, 0.25, 0.5, 1) {
		whole := !r.wall && r.arc > 2*math.Pi-0.1
		if r.face = true; whole || r.name == "white" || strings.HasSuffix(r.name, " r*0.25") {
			out = append(out, r)
		}
	}
	for _, l := range []float64{0.5, 1} {
		k := noiseKernel{Smooth: true, Length: l * coverRadius, White: 0.9}
		out = append(out, coverRow{name: fmt.Sprintf("mostly white, normal r*%g", l), kernel: k,
			arc: 2 * math.Pi, holes: 6, face: true})
	}
	for _, r := range coverRows() {
		r.kernel = noiseKernel{Smooth: true, Length: coverRadius / 4, White: 0.05}
		r.name, r.face = "normal r*0.25, a twentieth white", true
		out = append(out, r)
	}
	return out
}

// Coverage and length of all rows; with 20,000 parts a coverage has a standard error of
// 0.15 %.
func TestStudyCoverage(t *testing.T) {
	study(t, append(coverRows(0.0625, 0.25, 0.5, 1), fewHoleRows()...), trials.Asked(500), "coverage",
		"Coverage of the stated intervals: holes alone", "StudyCoverage$")
}

// The same where the face round the holes is seen too, with the same noise.
func TestStudyCoverageWithTheFace(t *testing.T) {
	study(t, faceRows(), trials.Asked(200), "coverage-with-the-face",
		"Coverage of the stated intervals: holes whose face shows the noise", "StudyCoverageWithTheFace")
}

// study measures parts of each row, and puts their table under a name.
func study(t *testing.T, rows []coverRow, parts int, name, title, run string) {
	tab := trials.Table{
		Title: title,
		About: "Parts with one bolt circle of holes of radius r, noise that the program is not told. Coverage of the\n" +
			"nominal 95 % intervals in %; mean length over that of one who knows the noise and fits by generalised\n" +
			"least squares with every point, and over that of one who knows it and fits by least squares.\n\n" +
			"    go test -tags study -run '" + run + "' -timeout 0 ./bolt",
		Head: append(append([]string{"noise, seen, degrees, holes", "parts"}, coverNames[:]...),
			"length", "of diameter", "length, least squares", "of diameter"),
	}
	for _, row := range rows {
		got := row.run(t, parts)
		best, plain := row.known(t)
		cells := []string{row.String(), fmt.Sprint(parts)}
		for f := range coverFigures {
			cells = append(cells, fmt.Sprintf("%.1f", 100*got.in[f]/got.all[f]))
		}
		for _, known := range []coverCount{best, plain} {
			cells = append(cells, fmt.Sprintf("%.2f", ratio(got, known, 0)), fmt.Sprintf("%.2f", ratio(got, known, 2)))
		}
		tab.Rows = append(tab.Rows, cells)
	}
	tab.Write(t, "..", name)
}
