package drawing_test

import (
	"bytes"
	"cmp"
	"compress/zlib"
	"encoding/xml"
	"fmt"
	"image/png"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/golang/geo/r2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/drawing"
)

const perPoint = 25.4 / 72 // mm, by definition

// ring is a measured ring of six holes, one of them off, on about the given pitch diameter;
// no two of them lie to each other as another two do.
func ring(pitch float64) *report.Report {
	rep := &report.Report{
		Scan:      report.Scan{File: "ring.stl"},
		Frame:     &report.Frame{X: report.Vec{1}, Y: report.Vec{0, 1}, Z: report.Vec{0, 0, 1}, Face: "P1", Axis: "C1", Clock: "H1"},
		Cylinders: []report.Cylinder{{ID: "C1", Side: report.Internal, Axis: report.Vec{0, 0, 1}, Diameter: pitch / 2.1}},
	}
	b := report.BoltCircle{ID: "B1", PitchDiameter: pitch, Standouts: &report.Standouts{}}
	for i := range 6 {
		angle := 60 * float64(i)
		if i == 4 {
			angle += 0.4
			b.Standouts.Holes = []report.Standout{{Hole: "H5", Deg: 0.4, Along: 0.4 * math.Pi / 180 * pitch / 2}}
		}
		sin, cos := math.Sincos(angle * math.Pi / 180)
		r := pitch/2 + 0.13*float64(i*i)
		id := fmt.Sprintf("H%d", i+1)
		rep.Holes = append(rep.Holes, report.Hole{ID: id, Kind: "round", Diameter: 6.6, Centre: report.Vec{r * cos, r * sin}})
		b.Holes = append(b.Holes, id)
		b.Clocking = append(b.Clocking, report.Clocking{Hole: id, AngleDeg: angle})
	}
	rep.BoltCircles = []report.BoltCircle{b}
	return rep
}

// centresOf returns where the crosses of holes are among the lines of one sheet, mm: a level
// and an upright line that meet, of 18.6 mm where the sheet does not cut them. Register
// crosses are shorter, centre lines of the pitch circle longer.
func centresOf(lines [][4]float64) []r2.Point {
	var level, upright [][4]float64
	for _, l := range lines {
		for i := range l {
			l[i] *= perPoint
		}
		l[0], l[2] = min(l[0], l[2]), max(l[0], l[2])
		l[1], l[3] = min(l[1], l[3]), max(l[1], l[3])
		switch w, h := l[2]-l[0], l[3]-l[1]; {
		case h < 0.01 && w > 9 && w < 19:
			level = append(level, l)
		case w < 0.01 && h > 9 && h < 19:
			upright = append(upright, l)
		}
	}
	var out []r2.Point
	for _, l := range level {
		for _, u := range upright {
			if u[0] > l[0] && u[0] < l[2] && l[1] > u[1] && l[1] < u[3] {
				out = append(out, r2.Point{X: u[0], Y: l[1]})
			}
		}
	}
	return out
}

func numbers(s []string) (l [4]float64) {
	for i := range l {
		l[i], _ = strconv.ParseFloat(s[i], 64)
	}
	return l
}

// svgLines reads the sheets of an SVG file: their straight paths, points.
func svgLines(t *testing.T, data []byte) [][][4]float64 {
	t.Helper()
	var sheets [][][4]float64
	dec := xml.NewDecoder(bytes.NewReader(data))
	line := regexp.MustCompile(`^M([-\d.]+),([-\d.]+)L([-\d.]+),([-\d.]+)$`)
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return sheets
		}
		require.NoError(t, err)
		e, ok := tok.(xml.StartElement)
		for _, a := range e.Attr {
			switch {
			case !ok:
			case e.Name.Local == "g" && strings.HasPrefix(a.Value, "translate("):
				sheets = append(sheets, nil)
			case e.Name.Local == "path" && a.Name.Local == "d":
				if m := line.FindStringSubmatch(a.Value); m != nil {
					sheets[len(sheets)-1] = append(sheets[len(sheets)-1], numbers(m[1:]))
				}
			}
		}
	}
}

// pdfLines reads the pages of a PDF file (ISO 32000-1): straight paths in their content
// streams, which are compressed. The library's pages have Y downwards, then flipped.
func pdfLines(t *testing.T, data []byte) [][][4]float64 {
	t.Helper()
	var sheets [][][4]float64
	line := regexp.MustCompile(`([-\d.]+) ([-\d.]+) m\n([-\d.]+) ([-\d.]+) l\nS`)
	for _, m := range regexp.MustCompile(`(?s)stream\r?\n(.*?)endstream`).FindAllSubmatch(data, -1) {
		z, err := zlib.NewReader(bytes.NewReader(m[1]))
		if err != nil {
			continue // a font
		}
		text, err := io.ReadAll(z)
		if err != nil || !bytes.Contains(text, []byte(" l\nS")) {
			continue
		}
		var lines [][4]float64
		for _, l := range line.FindAllSubmatch(text, -1) {
			n := numbers([]string{string(l[1]), string(l[2]), string(l[3]), string(l[4])})
			n[1], n[3] = -n[1], -n[3]
			lines = append(lines, n)
		}
		sheets = append(sheets, lines)
	}
	return sheets
}

// On each sheet the centres are within 5 micrometres of where the report has them, counted
// from the sheet's first one, as it is printed and read back.
func TestTemplateReadBack(t *testing.T) {
	for name, c := range map[string]struct {
		pitch  float64
		sheets int
		mirror bool
	}{"one sheet": {84, 1, false}, "for the mating side": {84, 1, true}, "four sheets": {300, 4, false}} {
		t.Run(name, func(t *testing.T) {
			rep := ring(c.pitch)
			tpl, err := drawing.NewTemplate(rep, drawing.TemplateOptions{Part: "ring", Mirror: c.mirror})
			require.NoError(t, err)
			require.Equal(t, c.sheets, tpl.Sheets())
			var svg, pdf bytes.Buffer
			require.NoError(t, tpl.WriteSVG(&svg))
			require.NoError(t, tpl.WritePDF(&pdf))
			for _, sheets := range [][][][4]float64{svgLines(t, svg.Bytes()), pdfLines(t, pdf.Bytes())} {
				require.Len(t, sheets, c.sheets)
				found := map[int]bool{}
				for _, lines := range sheets {
					centres := centresOf(lines)
					if len(centres) == 0 {
						continue
					}
					// Which hole the first one is, its neighbours on the sheet say.
					off, holes := match(rep, centres, c.mirror)
					assert.Less(t, off, 0.005)
					for _, h := range holes {
						found[h] = true
					}
				}
				assert.Len(t, found, 6, "every hole is on some sheet")
			}
		})
	}
}

// match lays the report's holes on the centres with each hole on the first centre in turn,
// and returns the largest distance of the best, and which holes they are.
func match(rep *report.Report, centres []r2.Point, mirror bool) (float64, []int) {
	type fit struct {
		off   float64
		holes []int
	}
	var fits []fit
	at := func(i int) r2.Point {
		p := r2.Point{X: rep.Holes[i].Centre[0], Y: rep.Holes[i].Centre[1]}
		if mirror {
			p.X = -p.X
		}
		return p
	}
	for first := range rep.Holes {
		var f fit
		for _, c := range centres {
			want := c.Sub(centres[0])
			best := 0
			for i := range rep.Holes {
				if at(i).Sub(at(first)).Sub(want).Norm() < at(best).Sub(at(first)).Sub(want).Norm() {
					best = i
				}
			}
			f.off = max(f.off, at(best).Sub(at(first)).Sub(want).Norm())
			f.holes = append(f.holes, best)
		}
		fits = append(fits, f)
	}
	best := slices.MinFunc(fits, func(a, b fit) int { return cmp.Compare(a.off, b.off) })
	return best.off, best.holes
}

func TestPicture(t *testing.T) {
	p, err := drawing.NewPicture(ring(84), "ring")
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, p.WritePNG(&b, 800))
	img, err := png.Decode(&b)
	require.NoError(t, err)
	assert.InDelta(t, 800, img.Bounds().Dx(), 8)
	ink := 0
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			if r, g, b, _ := img.At(x, y).RGBA(); r+g+b < 3*0x8000 {
				ink++
			}
		}
	}
	assert.Greater(t, ink, 2000, "not blank")
	svg, err := p.SVG()
	require.NoError(t, err)
	for _, words := range []string{"H1", "240.400\u00b0", "84.00", "Looking at the mounting face P1", "enlarged 20 times"} {
		assert.Contains(t, string(svg), words)
	}
}

// A hole that lies out of the circle says so in mm, and its angle is not marked; a circle that
// was seen in part is said to be.
func TestPictureSaysWhatIsOff(t *testing.T) {
	rep := ring(84)
	k := &rep.BoltCircles[0].Clocking[1]
	k.DeviationDeg, k.UncertaintyDeg, k.Radial, k.RadialUncertainty = new(0.0), 0.02, 0.15, 0.02
	rep.BoltCircles[0].Standouts.Holes = []report.Standout{{Hole: "H2", Out: 0.15, Shifted: true}}
	rep.Cylinders[0].ArcDeg = 200
	p, err := drawing.NewPicture(rep, "ring")
	require.NoError(t, err)
	svg, err := p.SVG()
	require.NoError(t, err)
	for _, words := range []string{">0.00\u00b0<", ">+0.150 mm out !<", "seen in part: C1 over 200 degrees"} {
		assert.Contains(t, string(svg), words)
	}
}

func TestNothingToDraw(t *testing.T) {
	_, err := drawing.NewPicture(&report.Report{}, "")
	require.ErrorIs(t, err, report.ErrNoFrame)
	_, err = drawing.NewTemplate(&report.Report{Frame: &report.Frame{}}, drawing.TemplateOptions{})
	require.ErrorIs(t, err, drawing.ErrNothing)
}

func ExampleNewTemplate() {
	rep := &report.Report{
		Frame: &report.Frame{X: report.Vec{1}, Y: report.Vec{0, 1}, Z: report.Vec{0, 0, 1}, Face: "P1"},
		Holes: []report.Hole{{ID: "H1", Diameter: 9, Centre: report.Vec{42, 0, 0}},
			{ID: "H2", Diameter: 9, Centre: report.Vec{-42, 0, 0}}},
	}
	t, err := drawing.NewTemplate(rep, drawing.TemplateOptions{Part: "bracket"})
	if err != nil {
		fmt.Println(err)
		return
	}
	var pdf bytes.Buffer
	fmt.Println(t.Sheets(), "sheet,", t.WritePDF(&pdf))
	// Output: 1 sheet, <nil>
}
