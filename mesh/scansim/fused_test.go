package scansim

import (
	"math"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// residuals returns the mean and standard deviation of the corners of the
// triangles labelled with f about f, and their number.
func residuals(s *mesh.Scan, t *Truth, f Face) (mean, sd float64, n int) {
	var sum, sum2 float64
	for i, l := range t.Labels {
		if l != f.ID {
			continue
		}
		for _, v := range s.Triangles[i] {
			d := f.Signed(s.Point(int(v)))
			sum += d
			sum2 += d * d
			n++
		}
	}
	mean = sum / float64(n)
	return mean, math.Sqrt(sum2/float64(n) - mean*mean), n
}

func TestFusedWithoutNoiseLiesOnTheFaces(t *testing.T) {
	// Two passes of a filter of 3 samples, along three axes, and a cell's
	// diagonal: beyond 3 sqrt(3) voxels from an edge nothing sees it.
	s, truth, err := Fused(t.Context(), KettlePort(), FusedOptions{Seed: 3, Voxel: 0.35, EdgeMargin: 0.35 * 5.2})
	require.NoError(t, err)
	require.NotEmpty(t, s.Triangles)
	for _, f := range truth.Faces {
		mean, sd, n := residuals(s, &truth, f)
		if n == 0 {
			continue
		}
		if f.Shape == Plane {
			// Smoothing and surface nets keep a plane; float32 rounds at 1e-5.
			assert.InDelta(t, 0, mean, 1e-5, f.Role)
			assert.Less(t, sd, 1e-5, f.Role)
			continue
		}
		// A Gaussian of s moves a wall of radius r by s²/(2r) toward its axis
		// (the Laplacian of the distance is 1/r): half a unit of h²/r. Cut
		// points lie on chords of up to a voxel's diagonal, so their means are
		// some tenth of a unit further in.
		shift := truth.Voxel * truth.Voxel / f.Radius
		side := -1.0
		if f.Internal {
			side = 1
		}
		assert.InDelta(t, 0.6*shift, side*mean, 0.1*shift, f.Role)
		assert.Less(t, sd, 0.1*shift, f.Role)
	}
}

func TestFusedSameAtAnyProcs(t *testing.T) {
	opt := FusedOptions{Seed: 9, Voxel: 1, Noise: 0.03, Missing: 0.1, Turntable: 150, Junk: 4}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	one, truth1, err := Fused(t.Context(), KettlePort(), opt)
	require.NoError(t, err)
	runtime.GOMAXPROCS(2)
	two, truth2, err := Fused(t.Context(), KettlePort(), opt)
	require.NoError(t, err)
	assert.Equal(t, one, two)
	assert.Equal(t, truth1, truth2)
}

func BenchmarkFused(b *testing.B) {
	p := KettlePort()
	n := 0
	for b.Loop() {
		s, _, err := Fused(b.Context(), p, FusedOptions{Noise: 0.02, Missing: 0.03})
		require.NoError(b, err)
		n = len(s.Triangles)
	}
	b.ReportMetric(float64(n), "triangles")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/triangle")
}
