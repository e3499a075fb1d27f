package page_test

import (
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"html"
	"io"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/golang/geo/r1"
	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
	"spotface/report"
	"spotface/report/check"
	"spotface/report/deviation"
	"spotface/report/page"
	"spotface/report/plan"
	"spotface/report/wording"
)

const portPlan = `
part: kettle port
unit: mm
bolt_circles:
  - id: B1
    count: 6
    spacing:        {nominal: 60, band: [-0.25, 0.25]}
    pitch_diameter: {nominal: 84, band: [-0.2, 0.2]}
    hole_diameter:  {nominal: 6.6, band: [-0.2, 0.3]}
    clocking:       {band: [-0.25, 0.25]}
planes:    [{id: P1, flatness: 0.3}]
cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: [-0.1, 0.1]}}]
`

// measured simulates a scan of the kettle's port, one hole 0.4 degrees off, and judges it.
func measured(t *testing.T, opt scansim.FusedOptions) page.Page {
	t.Helper()
	scan, _, err := scansim.Fused(t.Context(), scansim.KettlePort(), opt)
	require.NoError(t, err)
	rep, seg, err := report.MeasureSurfaces(t.Context(), scan, report.MeasureOptions{})
	require.NoError(t, err)
	d, err := deviation.Of(t.Context(), scan, seg, deviation.Options{})
	require.NoError(t, err)
	d.Fill(rep)
	p, err := plan.Parse("port.yaml", []byte(portPlan))
	require.NoError(t, err)
	j, err := check.Check(p, rep)
	require.NoError(t, err)
	return page.Page{Report: rep.Judged(j), Scan: scan, Surfaces: seg, Deviations: d, Tool: "test"}
}

func write(t *testing.T, p page.Page) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, page.Write(&b, p))
	return b.String()
}

// words is what a reader sees of a page, its white space as single blanks.
func words(page string) string {
	page = regexp.MustCompile(`(?s)<(script|style).*?</(script|style)>`).ReplaceAllString(page, "")
	page = regexp.MustCompile(`<[^>]*>`).ReplaceAllString(page, " ")
	return strings.Join(strings.Fields(html.UnescapeString(page)), " ")
}

// The page says all that the view says, asks for nothing from elsewhere, is well-formed, and
// is the same again.
func TestPageSaysWhatTheViewSays(t *testing.T) {
	p := measured(t, scansim.FusedOptions{Seed: 1, Voxel: 0.6, Noise: 0.02})
	text := write(t, p)
	assert.Equal(t, text, write(t, p))
	for _, outside := range []string{"://", "src=", "@import", "url(", "fetch(", "XMLHttp"} {
		assert.NotContains(t, text, outside)
	}
	assert.Contains(t, text, "default-src 'none'", "the browser, too, keeps it from the network")

	v, err := report.NewView(p.Report, report.ViewOptions{})
	require.NoError(t, err)
	v.Details = append(v.Details, report.Budgets(p.Report, report.ViewOptions{})...)
	seen := words(text)
	says := func(s string) {
		t.Helper()
		s = strings.Join(strings.Fields(strings.TrimPrefix(strings.ReplaceAll(s, "+-", "±"), "<")), " ")
		assert.True(t, strings.Contains(seen, s), "the page lacks %q", s)
	}
	require.Equal(t, report.Nonconforming, v.Verdict)
	for _, h := range v.Headline {
		says(h.Text)
		for _, p := range h.Points {
			says(p)
		}
	}
	for _, s := range v.Sizes {
		says(strings.ToUpper(s[:1]) + s[1:])
	}
	for _, s := range append(append(v.Warnings, v.Caution...), v.Next, v.File, v.Part) {
		says(s)
	}
	require.Len(t, v.Drill, 1)
	table := func(tab *wording.Table) {
		tab = tab.Compact()
		for _, cell := range slices.Concat(append(tab.Rows, tab.Head)...) {
			says(cell)
		}
	}
	table(v.Drill[0].Table("mm"))
	require.NotEmpty(t, v.Details)
	for _, d := range v.Details {
		says(d.Title)
		for _, s := range d.Text {
			says(s)
		}
		if d.Table != nil {
			table(d.Table)
		}
	}
	says("Wall of H5") // the hole that is off

	// In inches, all but the lines of budgets, which have their unit beside them.
	p.Inches = true
	inches := words(write(t, p))
	for _, s := range []string{"lengths below in inches", "Deviations of the surface, in ",
		"unrolled, 0.17 in deep", "within 0.0014 in, 2 times the scan's noise"} {
		assert.Contains(t, inches, s)
	}
	assert.NotContains(t, inches[strings.Index(inches, " Charts "):], " mm")

	text = regexp.MustCompile(`(?s)<script.*?</script>`).ReplaceAllString(text, "")
	dec := xml.NewDecoder(strings.NewReader(text))
	dec.Strict, dec.AutoClose, dec.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	for err == nil {
		_, err = dec.Token()
	}
	assert.Equal(t, io.EOF, err)
}

// From a saved report there is all but what needs the scan, and the page says so. What a
// report holds is text, whatever it looks like.
func TestPageOfASavedReport(t *testing.T) {
	rep := &report.Report{Schema: report.Schema, Part: "<script>alert(1)</script>",
		Scan: report.Scan{File: "a&b.stl", Unit: "mm", UnitSource: "assumed"}}
	text := write(t, page.Page{Report: rep})
	assert.NotContains(t, text, "<script>alert")
	assert.NotContains(t, text, "<canvas")
	for _, s := range []string{"<script>alert(1)</script>", "a&b.stl", "mm, ASSUMED",
		"No holes found.", "There is no drawing", "need the scan itself"} {
		assert.Contains(t, words(text), s)
	}
	assert.Equal(t, 1, strings.Count(words(text), "No holes"), "once is enough")
}

// head is what the page's script reads of the data.
type head struct {
	Points, Triangles int
	Lo, Size          [3]float64
	Deviation         float64
	Rings, Holes      []any
}

// sceneOf reads what the page's script reads.
func sceneOf(t *testing.T, text string) (head, []byte) {
	t.Helper()
	part := func(id string) string {
		found := regexp.MustCompile(`(?s)id="` + id + `">(.*?)</script>`).FindStringSubmatch(text)
		require.NotNil(t, found)
		return found[1]
	}
	var h head
	require.NoError(t, json.Unmarshal([]byte(part("scene-head")), &h))
	packed, err := base64.StdEncoding.DecodeString(part("scene-data"))
	require.NoError(t, err)
	z, err := gzip.NewReader(bytes.NewReader(packed))
	require.NoError(t, err)
	raw, err := io.ReadAll(z)
	require.NoError(t, err)
	return h, raw
}

// rough is a square mesh of side by side points whose heights are noise, with their distance
// from the plane as deviation: noise packs worst.
func rough(side int) page.Page {
	rng := rand.New(rand.NewPCG(1, 2))
	s := &mesh.Scan{}
	d := &deviation.Map{Modelled: side * side, Band: r1.Interval{Lo: -0.1, Hi: 0.1}, Step: 0.1}
	seg := &segment.Segmentation{PointSurface: make([]int32, side*side)}
	for i := range side * side {
		z := 0.3 * rng.NormFloat64()
		s.Offsets = append(s.Offsets, mesh.Vec32{float32(i%side) / 4, float32(i/side) / 4, float32(z)})
		d.Distance = append(d.Distance, float32(z))
		if k := int32(i); i%side > 0 && i >= side {
			n := int32(side)
			s.Triangles = append(s.Triangles, [3]int32{k - n - 1, k - n, k}, [3]int32{k, k - 1, k - n - 1})
		}
	}
	d.Worst = []deviation.Place{{}}
	rep := &report.Report{Schema: report.Schema}
	return page.Page{Report: rep, Scan: s, Surfaces: seg, Deviations: d}
}

// A small scan is in the page whole: each point within half a step of 1/65,535 of the box.
func TestSceneIsTheScan(t *testing.T) {
	p := rough(20)
	h, raw := sceneOf(t, write(t, p))
	require.Equal(t, 400, h.Points)
	assert.NotNil(t, h.Rings, "a list, even if empty")
	assert.NotNil(t, h.Holes)
	require.Equal(t, len(p.Scan.Triangles), h.Triangles)
	for i := range h.Points {
		var got r3.Vector
		for k, v := range []*float64{&got.X, &got.Y, &got.Z} {
			*v = h.Lo[k] + float64(binary.LittleEndian.Uint16(raw[6*i+2*k:]))/65535*h.Size[k]
		}
		assert.LessOrEqual(t, got.Sub(p.Scan.Point(i)).Norm(), math.Sqrt(3)*5/65535/2+1e-6)
		d := float64(int16(binary.LittleEndian.Uint16(raw[2400+2*i:]))) / 32767 * h.Deviation
		assert.InDelta(t, p.Deviations.Distance[i], d, h.Deviation/32767)
		assert.Equal(t, byte(p.Deviations.Class(i)), raw[3200+i])
	}
	corner := int32(0)
	for i, tri := range p.Scan.Triangles {
		for k, v := range tri {
			corner += int32(binary.LittleEndian.Uint32(raw[3600+12*i+4*k:]))
			assert.Equal(t, v, corner)
		}
	}
}

// A page stays under 12 MB, and says what it left out.
func TestSizeOfALargeScan(t *testing.T) {
	p := rough(480)
	text := write(t, p)
	assert.Less(t, len(text), 12_000_000)
	h, _ := sceneOf(t, text)
	assert.LessOrEqual(t, h.Triangles, 300_000)
	assert.Greater(t, h.Triangles, 100_000)
	assert.Regexp(t, `Thinned for this view: of 458,882 triangles \d+,\d+ are shown, `+
		`one point in each cube of 0\.\d\d mm`, words(text))
	p.Scan.Triangles = nil // a cloud of 230,400 points, which fits
	p.Inches = true
	text = write(t, p)
	assert.Less(t, len(text), 12_000_000)
	assert.NotContains(t, words(text), " mm")
	assert.Contains(t, words(text), "All 230,400 points of the scan are shown.")
}

func Example() {
	rep := &report.Report{Schema: report.Schema, Scan: report.Scan{File: "port.stl"}}
	var b bytes.Buffer
	err := page.Write(&b, page.Page{Report: rep})
	fmt.Println(strings.Contains(b.String(), "<title>Inspection sheet: port.stl</title>"), err)
	// Output: true <nil>
}
