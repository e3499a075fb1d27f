package deviation_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"runtime"
	"testing"

	"github.com/golang/geo/r1"
	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scanio"
	"spotface/mesh/scansim"
	"spotface/report"
	"spotface/report/deviation"
)

// corner is a triangle above a plane by hand, and a wall of a hole beside it.
func corner(t testing.TB) (*mesh.Scan, *segment.Segmentation) {
	t.Helper()
	s := &mesh.Scan{Offsets: []mesh.Vec32{{0, 0, 0.1}, {1, 0, -0.2}, {0, 1, 0}, {5.3, 0, -1}, {9, 9, 9}},
		Triangles: [][3]int32{{0, 1, 2}, {1, 2, 3}}}
	plane, err := fit.To(fit.KindPlane, []r3.Vector{{}, {X: 1}, {Y: 1}, {X: 1, Y: 1}}, fit.Options{})
	require.NoError(t, err)
	var wall []r3.Vector
	for i := range 12 {
		sin, cos := math.Sincos(float64(i))
		wall = append(wall, r3.Vector{X: 5 * cos, Y: 5 * sin, Z: float64(i % 3)})
	}
	hole, err := fit.To(fit.KindCylinder, wall, fit.Options{})
	require.NoError(t, err)
	return s, &segment.Segmentation{Noise: 0.025, PointSurface: []int32{0, 0, 0, 1, -1},
		Surfaces: []segment.Surface{{ID: "P1", Fit: plane}, {ID: "C1", Fit: hole, Internal: true}}}
}

// By hand: the plane's points lie 0.1 above and 0.2 below it; the hole's point is 0.3 within
// the material, since the hole is 5 in radius.
func TestByHand(t *testing.T) {
	s, seg := corner(t)
	m, err := deviation.Of(t.Context(), s, seg, deviation.Options{})
	require.NoError(t, err)
	sign := math.Copysign(1, float64(m.Distance[0])) // a fitted normal points either way
	assert.InDeltaSlice(t, []float64{0.1 * sign, -0.2 * sign, 0, -0.3},
		[]float64{float64(m.Distance[0]), float64(m.Distance[1]), float64(m.Distance[2]), float64(m.Distance[3])}, 1e-6)
	assert.True(t, math.IsNaN(float64(m.Distance[4])))
	assert.Equal(t, 4, m.Modelled)
	assert.InDelta(t, math.Sqrt((0.01+0.04+0.09)/4), m.RMS, 1e-6)
	assert.Equal(t, r1.Interval{Lo: -0.05, Hi: 0.05}, m.Band, "twice the noise")
	assert.Equal(t, 0.25, m.Within)
	assert.Equal(t, "C1", m.Worst[0].Surface)
	legend := m.Legend(report.ViewOptions{})
	assert.Len(t, legend, 12)
	assert.Equal(t, "within 0.050 mm, 2 times the scan's noise", legend[5].Words)
	inches := m.Legend(report.ViewOptions{Inches: true})
	assert.Equal(t, "within 0.0020 in, 2 times the scan's noise", inches[5].Words)
	assert.Equal(t, legend[6].To, inches[6].To, "mm for programs")
}

// By hand: of -0.3, -0.2 (or 0.2), 0 and 0.1 (or -0.1) a band from -0.15 to 0.25 holds all but
// what lies below. Its sides have their own limits, and as many colours.
func TestBandOfTwoLimits(t *testing.T) {
	s, seg := corner(t)
	m, err := deviation.Of(t.Context(), s, seg, deviation.Options{Band: &r1.Interval{Lo: -0.15, Hi: 0.25}})
	require.NoError(t, err)
	within := 0.75
	if m.Distance[1] < 0 { // a fitted normal points either way
		within = 0.5
	}
	assert.Equal(t, within, m.Within)
	assert.InDelta(t, 0.05, m.Step, 1e-12)
	for d, class := range map[float64]int{-0.16: 4, -0.14: 5, 0.24: 5, 0.26: 6, -0.21: 3, 0.29: 6, 0.31: 7, -9: 0, 9: 10} {
		assert.Equal(t, class, m.ClassOf(d), d)
	}
	legend := m.Legend(report.ViewOptions{})
	assert.Equal(t, "within the band, -0.150 to +0.250 mm", legend[5].Words)
	assert.Equal(t, "0.150 to 0.200 mm inside", legend[4].Words)
	assert.Equal(t, "more than 0.450 mm outside", legend[10].Words)
	assert.Equal(t, []any{-0.15, 0.25}, []any{legend[5].From, legend[5].To})
	assert.Contains(t, m.Words(report.ViewOptions{}), fmt.Sprintf("%.1f %% lie within the band, -0.150 to +0.250 mm", 100*within))
	var rep report.Report
	m.Fill(&rep)
	assert.Equal(t, []float64{-0.15, 0.25, within, 0},
		[]float64{*rep.Surface.Lower, *rep.Surface.Upper, *rep.Surface.WithinBand, rep.Surface.Band})
}

// Of a perfect part with white noise 95 % is grey: of 100,000 points within 0.3 %, four
// standard deviations, a false alarm below 1 in 10,000.
func TestColoursOfAPerfectFace(t *testing.T) {
	plate := scansim.Plate(scansim.PlateSpec{Length: 80, Width: 60, Thickness: 8})
	s, _, err := scansim.Cloud(t.Context(), plate, scansim.CloudOptions{Seed: 1, Points: 100_000, Noise: 0.03})
	require.NoError(t, err)
	s, err = mesh.EstimateNormals(t.Context(), s, nil, 0)
	require.NoError(t, err)
	seg, err := segment.Segment(t.Context(), s, segment.Options{})
	require.NoError(t, err)
	m, err := deviation.Of(t.Context(), s, seg, deviation.Options{Band: &r1.Interval{Lo: -0.06, Hi: 0.06}})
	require.NoError(t, err)
	assert.InDelta(t, math.Erf(math.Sqrt2), m.Within, 0.003)
	assert.InEpsilon(t, 0.03, m.RMS, 0.02)
}

// The deviations are read back from the file by the project's own reader of points, which
// leaves other properties alone, and by hand.
func TestPLY(t *testing.T) {
	s, seg := corner(t)
	m, err := deviation.Of(t.Context(), s, seg, deviation.Options{})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, m.WritePLY(&b, s))
	got, err := scanio.ReadFrom(t.Context(), bytes.NewReader(b.Bytes()), int64(b.Len()), "m.ply", scanio.Options{})
	require.NoError(t, err)
	assert.Len(t, got.Triangles, 2)
	_, body, ok := bytes.Cut(b.Bytes(), []byte("end_header\n"))
	require.True(t, ok)
	row := body[3*(24+8):]
	d := math.Float32frombits(binary.LittleEndian.Uint32(row[24+3:]))
	assert.InDelta(t, -0.3, d, 1e-6)
	assert.Equal(t, byte(1), row[24+7])
	assert.Equal(t, byte(0), body[5*32-1], "not modelled")
}

// The container of glTF 2.0, clause 4.4, by hand; its validator reads it in the test behind
// the tag outside.
func TestGLB(t *testing.T) {
	s, seg := corner(t)
	m, err := deviation.Of(t.Context(), s, seg, deviation.Options{})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, m.WriteGLB(&b, s, "test"))
	le := binary.LittleEndian
	data := b.Bytes()
	assert.Equal(t, "glTF", string(data[:4]))
	assert.EqualValues(t, len(data), le.Uint32(data[8:]))
	length := le.Uint32(data[12:])
	var doc struct {
		Accessors []struct{ Max []float64 }
		Meshes    []struct {
			Extras struct{ Legend []deviation.Entry }
		}
	}
	require.NoError(t, json.Unmarshal(data[20:20+length], &doc))
	assert.InDelta(t, 0.009, doc.Accessors[0].Max[0], 1e-8, "metres")
	assert.Len(t, doc.Meshes[0].Extras.Legend, 12)
}

func ExampleOf() {
	part := scansim.KettlePort()
	scan, _, err := scansim.Cloud(context.Background(), part, scansim.CloudOptions{Seed: 1, Points: 60_000, Noise: 0.02})
	if err != nil {
		fmt.Println(err)
		return
	}
	if scan, err = mesh.EstimateNormals(context.Background(), scan, nil, 0); err != nil {
		fmt.Println(err)
		return
	}
	surfaces, err := segment.Segment(context.Background(), scan, segment.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	m, err := deviation.Of(context.Background(), scan, surfaces, deviation.Options{Band: &r1.Interval{Lo: -0.1, Hi: 0.1}})
	fmt.Printf("%.1f %% of what is modelled lies within %.1f mm, %v\n", 100*m.Within, m.Band.Hi, err)
	// Output: 100.0 % of what is modelled lies within 0.1 mm, <nil>
}

// BenchmarkOf is 10 million points against 50 faces; plain is one loop on one core that
// computes one distance to one plane for each.
func BenchmarkOf(b *testing.B) {
	const n, faces = 10_000_000, 50
	s := &mesh.Scan{Offsets: make([]mesh.Vec32, n)}
	_, seg := corner(b)
	for len(seg.Surfaces) < faces {
		seg.Surfaces = append(seg.Surfaces, seg.Surfaces[len(seg.Surfaces)%2])
	}
	seg.PointSurface = make([]int32, n)
	for i := range n {
		s.Offsets[i] = mesh.Vec32{float32(i % 1000), float32(i / 1000), float32(i%7) / 100}
		seg.PointSurface[i] = int32(i % faces)
	}
	b.Run("plain", func(b *testing.B) {
		out := make([]float32, n)
		normal, d := r3.Vector{X: 0.1, Y: 0.2, Z: 0.9}, 3.0
		for b.Loop() {
			for i := range out {
				out[i] = float32(s.Point(i).Dot(normal) - d)
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/pt")
	})
	b.Run("all", func(b *testing.B) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		for b.Loop() {
			if _, err := deviation.Of(context.Background(), s, seg, deviation.Options{Band: &r1.Interval{Lo: -0.1, Hi: 0.1}}); err != nil {
				b.Fatal(err)
			}
		}
		runtime.ReadMemStats(&after)
		b.ReportMetric(float64(after.TotalAlloc-before.TotalAlloc)/float64(b.N)/n, "B/pt")
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/pt")
	})
}
