package report_test

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"spotface/bolt"
	"spotface/fit/segment"
	"spotface/mesh/scanio"
	"spotface/mesh/scansim"
	"spotface/report"
)

// The whole way from a file to a printed report, on clouds with normals of one
// large face, eight cylinders of which six are 9 mm holes with some 0.2 % of
// the points each, a chamfer, and 2 % outliers. Besides the total it
// reports where the time goes, ns a point by stage, and the bytes a point that
// are allocated and that the heap grew to.
func BenchmarkWholeWay(b *testing.B) {
	sizes := []int{1e5, 1e6, 1e7}
	if testing.Short() {
		sizes = sizes[:1]
	}
	for _, n := range sizes {
		b.Run(fmt.Sprintf("%.0e points", float64(n)), func(b *testing.B) { wholeWay(b, n) })
	}
}

func wholeWay(b *testing.B, n int) {
	part := scansim.Flange(scansim.FlangeSpec{Diameter: 160, Thickness: 12, Chamfer: 2, HubDiameter: 60,
		HubHeight: 6, Bore: 40, PitchDiameter: 120, HoleDiameter: 9, Clocking: []s1.Angle{0, 0, 0.4 * s1.Degree}})
	s, _, err := scansim.Cloud(b.Context(), part, scansim.CloudOptions{Seed: 1, Points: n, Noise: 0.03, Tangential: 0.01,
		Normals: true, NormalNoise: 0.05, Outliers: 0.02, ByView: true})
	require.NoError(b, err)
	path := filepath.Join(b.TempDir(), "cloud.ply")
	f, err := os.Create(path)
	require.NoError(b, err)
	require.NoError(b, scanio.WritePLY(f, s))
	require.NoError(b, f.Close())
	s = nil
	runtime.GC()

	stage := map[string]time.Duration{}
	var peak uint64
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	for b.Loop() {
		last := time.Now()
		done := func(name string) {
			stage[name] += time.Since(last)
			runtime.ReadMemStats(&after)
			peak = max(peak, after.HeapSys-after.HeapReleased)
			last = time.Now()
		}
		s, err := scanio.Read(b.Context(), path, scanio.Options{})
		require.NoError(b, err)
		done("read")
		seg, err := segment.Segment(b.Context(), s, segment.Options{})
		require.NoError(b, err)
		done("surfaces")
		m, err := bolt.Measure(b.Context(), s, seg, bolt.Options{})
		require.NoError(b, err)
		done("holes")
		rep, err := report.Build(b.Context(), s, seg, m)
		require.NoError(b, err)
		v, err := report.NewView(rep, report.ViewOptions{})
		require.NoError(b, err)
		require.NoError(b, report.WriteText(io.Discard, report.TextOptions{}, v))
		done("report")
		require.Len(b, rep.Holes, 6)
	}
	per := float64(b.N) * float64(n)
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/per, "ns/pt")
	for name, d := range stage {
		b.ReportMetric(float64(d.Nanoseconds())/per, name+"-ns/pt")
	}
	b.ReportMetric(float64(after.TotalAlloc-before.TotalAlloc)/per, "alloc-B/pt")
	b.ReportMetric(float64(peak)/float64(n), "heap-B/pt")
}
