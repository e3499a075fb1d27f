package segment

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"testing"

	"spotface/mesh"
	"spotface/mesh/scansim"
)

// benchScan is a cloud with normals of a flange with six holes, 2 % of it outliers.
func benchScan(b *testing.B, n int) *mesh.Scan {
	b.Helper()
	p := scansim.Flange(scansim.FlangeSpec{Diameter: 160, Thickness: 12, Chamfer: 2, HubDiameter: 60, HubHeight: 6, Bore: 40,
		PitchDiameter: 120, HoleDiameter: 9})
	s, _, err := scansim.Cloud(context.Background(), p, scansim.CloudOptions{Seed: 1, Points: n, Noise: 0.03, Tangential: 0.01,
		Normals: true, NormalNoise: 0.05, Outliers: 0.02})
	if err != nil {
		b.Fatal(err)
	}
	return s
}

// perPoint reports time and memory of one turn by the scan's points.
func perPoint(b *testing.B, points int, f func()) {
	b.Helper()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	turns := 0
	for b.Loop() {
		f()
		turns++
	}
	runtime.ReadMemStats(&after)
	n := float64(points) * float64(turns)
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/n, "ns/pt")
	b.ReportMetric(float64(after.TotalAlloc-before.TotalAlloc)/n, "B/pt")
}

// BenchmarkSegment is of the whole, from a scan with normals.
func BenchmarkSegment(b *testing.B) {
	for _, n := range []int{1e5, 1e6, 1e7} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			s := benchScan(b, n)
			perPoint(b, n, func() {
				if _, err := Segment(b.Context(), s, Options{}); err != nil {
					b.Fatal(err)
				}
			})
		})
	}
}

// BenchmarkStages is of each stage of the first level, and of what follows the
// last, at two sizes. Loading, welding, index and normals are timed in package
// mesh.
func BenchmarkStages(b *testing.B) {
	for _, n := range []int{1e5, 1e6} {
		s := benchScan(b, n)
		ctx := b.Context()
		r, err := newRun(ctx, s, Options{})
		if err != nil {
			b.Fatal(err)
		}
		pick := every(n, samplePoints)
		lo, hi := s.Bounds()
		cell := r.pitch * max(1, math.Sqrt(float64(n)/nodeTarget))
		nd, err := thin(ctx, s, nil, r.lo, pick, cell, r.jobs)
		if err != nil {
			b.Fatal(err)
		}
		g, err := connect(ctx, nd, r.jobs)
		if err != nil {
			b.Fatal(err)
		}
		stage := func(name string, f func() error) {
			b.Run(fmt.Sprintf("%s/%d", name, n), func(b *testing.B) {
				perPoint(b, n, func() {
					if err := f(); err != nil {
						b.Fatal(err)
					}
				})
			})
		}
		stage("sampling", func() error {
			_, err := samplingOf(context.Background(), s, r.crowd, r.lo, coarseSpacing(s, r.lo, hi.Sub(lo)), 0, r.jobs)
			return err
		})
		stage("thin", func() error { _, err := thin(context.Background(), s, nil, r.lo, pick, cell, r.jobs); return err })
		stage("graph", func() error { g, err = connect(context.Background(), nd, r.jobs); return err })
		var sr *searcher
		stage("search", func() error {
			q := *r
			q.surfs = nil
			sr, err = q.search(context.Background(), nd, g, 0, false)
			return err
		})
		stage("assign", func() error { r.surfs = nil; _, err := r.assign(context.Background(), nd, g, sr, nil); return err })
		var lists [][]int32
		stage("merge", func() error { lists, err = r.merge(context.Background()); return err })
		stage("finish", func() error {
			q := *r
			q.of = append([]int32(nil), r.of...)
			_, err := q.finish(context.Background(), lists)
			return err
		})
	}
}
