package segment_test

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
)

// flangeCloud is a cloud of a flange with true normals. Tests change copies of it.
var flangeCloud = sync.OnceValue(func() *mesh.Scan {
	part := scansim.Flange(scansim.FlangeSpec{Diameter: 110, Thickness: 12, Chamfer: 4, HubDiameter: 45, HubHeight: 6, Bore: 30,
		PitchDiameter: 84, HoleDiameter: 9})
	s, _, err := scansim.Cloud(context.Background(), part, scansim.CloudOptions{Seed: 5, Points: 12_000, Noise: 0.02,
		ShowHidden: true, Normals: true, NormalNoise: 0.05, Outliers: 0.02})
	if err != nil {
		panic(err)
	}
	return s
})

// flangeSurfaces are those of flangeCloud, found on one core, with what was seen on the
// way.
var flangeSurfaces = sync.OnceValue(func() (out struct {
	*segment.Segmentation
	looks    int64    // at the context
	progress [][2]int // as Progress was called
}) {
	count := &stopping{Context: context.Background(), stop: math.MaxInt64}
	seg, err := segment.Segment(count, flangeCloud(), segment.Options{Jobs: 1, Progress: func(done, total int) {
		out.progress = append(out.progress, [2]int{done, total})
	}})
	if err != nil {
		panic(err)
	}
	out.Segmentation, out.looks = seg, count.looks.Load()
	return out
})

func segmentOf(t *testing.T, s *mesh.Scan, opt segment.Options) *segment.Segmentation {
	t.Helper()
	seg, err := segment.Segment(t.Context(), s, opt)
	require.NoError(t, err)
	return seg
}

func TestPointsAndSurfaceAgree(t *testing.T) {
	s, _, err := scansim.Fused(t.Context(), scoreFlange(), scansim.FusedOptions{Seed: 2, Voxel: 2.03, Noise: 0.02})
	require.NoError(t, err)
	s, err = mesh.EstimateNormals(t.Context(), s, nil, 0)
	require.NoError(t, err)
	for name, s := range map[string]*mesh.Scan{"mesh": s, "cloud": flangeCloud()} {
		t.Run(name, func(t *testing.T) {
			seg := flangeSurfaces().Segmentation
			if s.IsMesh() {
				seg = segmentOf(t, s, segment.Options{})
			}
			require.Len(t, seg.PointSurface, s.Len())
			total, last := 0, math.MaxInt
			ids := map[string]bool{}
			for k, r := range seg.Surfaces {
				assert.False(t, ids[r.ID], "%s is given once", r.ID)
				ids[r.ID] = true
				assert.True(t, slices.IsSorted(r.Points), "%s ascending", r.ID)
				assert.LessOrEqual(t, len(r.Points), last, "largest first")
				last = len(r.Points)
				total += len(r.Points)
				for _, p := range r.Points {
					require.EqualValues(t, k, seg.PointSurface[p])
				}
			}
			free := 0
			for _, f := range seg.PointSurface {
				if f < 0 {
					free++
				}
			}
			assert.Equal(t, s.Len(), total+free)
			if !s.IsMesh() {
				assert.Nil(t, seg.TriangleSurface)
				return
			}
			require.Len(t, seg.TriangleSurface, len(s.Triangles))
			for i, c := range s.Triangles {
				votes := 0
				for _, p := range c {
					if seg.PointSurface[p] == seg.TriangleSurface[i] {
						votes++
					}
				}
				if seg.TriangleSurface[i] >= 0 {
					require.GreaterOrEqual(t, votes, 2)
				}
			}
		})
	}
}

func TestSameOnAnyNumberOfCores(t *testing.T) {
	s, was := flangeCloud(), flangeSurfaces().Segmentation
	for _, jobs := range []int{8, 2}[:trials.Of(2, 1)] {
		assert.Equal(t, was, segmentOf(t, s, segment.Options{Jobs: jobs}), "%d jobs", jobs)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	assert.Equal(t, was, segmentOf(t, s, segment.Options{}), "GOMAXPROCS 1")
}

// stopping is a context that is cancelled at its stop-th look and counts the
// looks after that.
type stopping struct {
	context.Context
	looks atomic.Int64
	stop  int64
}

func (c *stopping) Err() error {
	if c.looks.Add(1) >= c.stop {
		return context.Canceled
	}
	return nil
}

func TestCancel(t *testing.T) {
	s := flangeCloud()
	// The context is looked at at least once a chunk of 32768 points or 4096
	// nodes and once a batch of trials, so often enough.
	all := flangeSurfaces().looks
	require.Greater(t, all, int64(50))
	for _, stop := range []int64{1, 2, all / 4, all / 2, all - 1} {
		c := &stopping{Context: t.Context(), stop: stop}
		seg, err := segment.Segment(c, s, segment.Options{Jobs: 1})
		assert.ErrorIs(t, err, context.Canceled)
		assert.Nil(t, seg)
		assert.LessOrEqual(t, c.looks.Load()-stop, int64(20), "looks once cancelled at %d of %d", stop, all)
	}
}

func TestProgress(t *testing.T) {
	last, calls := 0, flangeSurfaces().progress
	for _, c := range calls {
		assert.Equal(t, calls[0][1], c[1])
		assert.GreaterOrEqual(t, c[0], last)
		last = c[0]
	}
	assert.Equal(t, calls[0][1], last)
	assert.Greater(t, len(calls), 1)
}

func TestDegenerateScans(t *testing.T) {
	up := mesh.Vec32{0, 0, 1}
	fill := func(n int, f func(i int) mesh.Vec32) *mesh.Scan {
		s := &mesh.Scan{}
		for i := range n {
			s.Offsets = append(s.Offsets, f(i))
			s.Normals = append(s.Normals, up)
		}
		return s
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for name, s := range map[string]*mesh.Scan{
		"one point":     fill(1, func(int) mesh.Vec32 { return mesh.Vec32{1, 2, 3} }),
		"seven points":  fill(7, func(i int) mesh.Vec32 { return mesh.Vec32{float32(i), float32(i * i), 0} }),
		"all at one":    fill(500, func(int) mesh.Vec32 { return mesh.Vec32{1, 2, 3} }),
		"all on a line": fill(500, func(i int) mesh.Vec32 { return mesh.Vec32{float32(i), 0, 0} }),
		"on two spots":  fill(500, func(i int) mesh.Vec32 { return mesh.Vec32{float32(i % 2), 0, 0} }),
		"scattered":     fill(5000, func(int) mesh.Vec32 { return mesh.Vec32{rng.Float32(), rng.Float32(), rng.Float32()} }),
		"far apart":     fill(20, func(i int) mesh.Vec32 { return mesh.Vec32{float32(i) * 1e6, float32(i%3) * 1e6, 0} }),
		"normals absent": func() *mesh.Scan {
			s := fill(300, func(i int) mesh.Vec32 { return mesh.Vec32{float32(i % 17), float32(i / 17), 0} })
			clear(s.Normals)
			return s
		}(),
	} {
		t.Run(name, func(t *testing.T) {
			seg := segmentOf(t, s, segment.Options{})
			assert.Empty(t, seg.Surfaces)
			assert.Len(t, seg.PointSurface, s.Len())
		})
	}
	_, err := segment.Segment(t.Context(), &mesh.Scan{}, segment.Options{})
	assert.ErrorContains(t, err, "no points")
	_, err = segment.Segment(t.Context(), &mesh.Scan{Offsets: make([]mesh.Vec32, 200)}, segment.Options{})
	assert.ErrorContains(t, err, "no normals")
}

// like asserts that two segmentations show the same surfaces, b scaled by size.
func like(t *testing.T, a, b *segment.Segmentation, size float64) {
	t.Helper()
	radii := func(seg *segment.Segmentation, by float64) []float64 {
		var r []float64
		for _, c := range seg.Cylinders() {
			r = append(r, c.Radius*by)
		}
		slices.Sort(r)
		return r
	}
	counts := func(seg *segment.Segmentation) [4]int {
		return [4]int{len(seg.Planes()), len(seg.Cylinders()), len(seg.Cones()), len(seg.Spheres())}
	}
	require.Equal(t, counts(a), counts(b), "planes, cylinders, cones, spheres")
	// Each radius is known to about 0.02/sqrt(300) mm; points of the edges change.
	assert.InDeltaSlice(t, radii(a, 1), radii(b, 1/size), 0.01)
}

func TestOrderPlaceAndSizeDoNotMatter(t *testing.T) {
	s, was := flangeCloud(), flangeSurfaces().Segmentation
	require.Equal(t, 9, len(was.Cylinders()), "outer, hub, bore, six holes")
	t.Run("another order", func(t *testing.T) {
		q := *s
		q.Offsets, q.Normals = nil, nil
		for _, i := range rand.New(rand.NewPCG(1, 1)).Perm(s.Len()) {
			q.Offsets = append(q.Offsets, s.Offsets[i])
			q.Normals = append(q.Normals, s.Normals[i])
		}
		like(t, was, segmentOf(t, &q, segment.Options{}), 1)
	})
	t.Run("turned and moved", func(t *testing.T) {
		q := *s
		q.Origin = r3.Vector{X: 1e4, Y: -3e3, Z: 500}
		q.Offsets, q.Normals = slices.Clone(s.Offsets), slices.Clone(s.Normals)
		sin, cos := math.Sincos(0.7)
		turn := func(v mesh.Vec32) mesh.Vec32 {
			x, y, z := float64(v[0]), float64(v[1]), float64(v[2])
			x, y = cos*x-sin*y, sin*x+cos*y
			y, z = cos*y-sin*z, sin*y+cos*z
			return mesh.Vec32{float32(x), float32(y), float32(z)}
		}
		for i := range q.Offsets {
			q.Offsets[i], q.Normals[i] = turn(q.Offsets[i]), turn(q.Normals[i])
		}
		like(t, was, segmentOf(t, &q, segment.Options{}), 1)
	})
	for name, by := range map[string]float32{"a hundredth": 0.01, "a hundred times": 100} {
		if testing.Short() && by > 1 {
			continue
		}
		t.Run(name, func(t *testing.T) {
			q := *s
			q.Offsets = slices.Clone(s.Offsets)
			for i := range q.Offsets {
				for c := range 3 {
					q.Offsets[i][c] *= by
				}
			}
			like(t, was, segmentOf(t, &q, segment.Options{}), float64(by))
		})
	}
}

func TestBandIsKept(t *testing.T) {
	s := flangeCloud()
	for _, band := range []float64{0.04, 0.15} {
		seg := segmentOf(t, s, segment.Options{HalfWidth: band})
		require.NotEmpty(t, seg.Planes())
		for _, p := range seg.Planes() {
			worst := 0.0
			for _, i := range p.Points {
				worst = max(worst, math.Abs(p.Distance(s.Point(int(i)))))
			}
			// The last fit moves the plane by a fraction of the noise.
			assert.LessOrEqual(t, worst, band+0.005)
			if len(p.Points) > 5000 {
				assert.Greater(t, worst, 0.9*min(band, 0.08))
			}
		}
	}
}
