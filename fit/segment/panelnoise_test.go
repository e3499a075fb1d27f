package segment

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/scansim"
)

// Corners that are moved leave no two triangles in one plane.
func TestDrawingWithMovedCorners(t *testing.T) {
	exact := pedestal(t)
	for _, size := range []float64{0.0001, 0.001, 0.01, 0.03} {
		s := jitter(exact, size, 1)
		require.True(t, isTessellated(s), "%g mm", size)
		seg, err := Segment(t.Context(), s, Options{})
		require.NoError(t, err)
		assert.InEpsilon(t, size/math.Sqrt(3), seg.Noise, 0.2, "uniform in a cube")
		var holes []Cylinder
		for _, c := range seg.Cylinders() {
			if c.Internal && math.Hypot(c.Point.X, c.Point.Y) > 40 {
				holes = append(holes, c)
			}
		}
		require.Len(t, holes, 4, "%g mm", size)
		for _, c := range holes {
			// Five standard uncertainties: by chance once in a million each.
			assert.InDelta(t, 2.25, c.Radius, 5*math.Sqrt(c.Cov[4][4]))
			assert.InDelta(t, 47.5, math.Hypot(c.Point.X, c.Point.Y), 5*math.Sqrt(c.Cov[0][0]+c.Cov[1][1]))
			assert.InDelta(t, 360, c.Arc.Degrees(), 1)
			assert.InEpsilon(t, size/math.Sqrt(3), c.Residuals.RMS, 0.2)
		}
		assert.GreaterOrEqual(t, len(seg.Cylinders()), 10, "the bores and bosses too")
	}
}

// A band that the caller gives stands in for the noise.
func TestBandOfADrawing(t *testing.T) {
	exact := pedestal(t)
	for _, band := range []float64{0.01, 0.1} {
		seg, err := Segment(t.Context(), exact, Options{HalfWidth: band})
		require.NoError(t, err)
		holes := 0
		for _, c := range seg.Cylinders() {
			if c.Internal && math.Hypot(c.Point.X, c.Point.Y) > 40 {
				holes++
				assert.InDelta(t, 2.25, c.Radius, 1e-4)
			}
		}
		assert.Equal(t, 4, holes)
		assert.Equal(t, band/noiseSigmas, seg.Noise)
	}
}

func TestCornerNoise(t *testing.T) {
	sides := slices.Repeat([]int{12, 24, 48}, 8)
	var m model
	m.holePlate(20, 4.5, 6, sides)
	s := m.scan(t, randomPose(1, 30))
	for _, size := range []float64{0, 0.001, 0.01, 0.05} {
		pm, err := newPanelMesh(t.Context(), jitter(s, size, 3))
		require.NoError(t, err)
		if size == 0 {
			assert.Zero(t, pm.noise, "rounding is no noise")
		} else {
			assert.InEpsilon(t, size/math.Sqrt(3), pm.noise, 0.3)
		}
	}
}

func TestThinnedScan(t *testing.T) {
	part := scansim.Flange(scansim.FlangeSpec{Diameter: 50, PitchDiameter: 34, Holes: 4})
	s, truth, err := scansim.Fused(t.Context(), part, scansim.FusedOptions{Noise: 0.02, Voxel: 0.5, Seed: 5})
	require.NoError(t, err)
	few := decimate(s, 0.05)
	require.False(t, isTessellated(few), "as many a true scan")
	few, err = mesh.EstimateNormals(t.Context(), few, nil, 0)
	require.NoError(t, err)
	seg, err := Segment(t.Context(), few, Options{})
	require.NoError(t, err)
	face := seg.Planes()[0]
	assert.InDelta(t, math.Pi*(25*25-4*3.3*3.3), face.Area, 150)
	assert.Less(t, math.Abs(face.Distance(truth.Holes[0].Centre)), 0.05)
	for _, h := range truth.Holes {
		k := slices.IndexFunc(seg.Cylinders(), func(c Cylinder) bool {
			return c.Internal && c.Point.Sub(h.Centre).Cross(h.Axis).Norm() < 0.05
		})
		require.GreaterOrEqual(t, k, 0, h.Name)
		// The scanner's smoothing and the thinning move walls inward, by half the noise.
		assert.InDelta(t, 3.3, seg.Cylinders()[k].Radius, 0.05)
		assert.InDelta(t, 360, seg.Cylinders()[k].Arc.Degrees(), 10)
	}
}

// The vertices that thinning leaves share the scan's longer waves, which move its face more
// than as many independent errors would.
func TestThinnedScanSharesItsNoise(t *testing.T) {
	part := scansim.Flange(scansim.FlangeSpec{Diameter: 50, PitchDiameter: 34, Holes: 4})
	s, truth, err := scansim.Fused(t.Context(), part, scansim.FusedOptions{Noise: 0.05, Voxel: 0.5, Seed: 5,
		NoiseLength: [3]float64{0, 0, 6}, NoiseShare: [3]float64{0.2, 0.2, 0.6}})
	require.NoError(t, err)
	few, err := mesh.EstimateNormals(t.Context(), decimate(s, 0.05), nil, 0)
	require.NoError(t, err)
	seg, err := segmentPanels(t.Context(), few, Options{})
	require.NoError(t, err)
	face := seg.Planes()[0]
	u := math.Sqrt(face.Cov[0][0])
	assert.Greater(t, u, 2*face.Residuals.Sigma/math.Sqrt(float64(len(face.Points))))
	assert.InDelta(t, 0, face.Point.Sub(truth.Holes[0].Centre).Dot(truth.Holes[0].Axis), 4*u)
}
