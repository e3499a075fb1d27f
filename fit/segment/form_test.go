package segment_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
	"spotface/mesh/scansim/formed"
	"spotface/mesh/scansim/trials"
)

// formScan simulates a scan of the kind's part of the seed, a mesh or a cloud, and
// segments it.
func formScan(t *testing.T, k formed.Kind, cloud bool, seed uint64) (*mesh.Scan, scansim.Truth, *segment.Segmentation) {
	t.Helper()
	s, tr, err := k.Scan(t.Context(), cloud, seed)
	require.NoError(t, err)
	s, err = mesh.EstimateNormals(t.Context(), s, nil, 0)
	require.NoError(t, err)
	return s, tr, segmentOf(t, s, segment.Options{})
}

// residualsOf returns the residual statistics of the surface on the true face f: of
// its kind and side, within 1 mm and 5 degrees of it, and the largest such.
func residualsOf(seg *segment.Segmentation, f scansim.Face) (fit.ResidualStats, bool) {
	const close, parallel = 1.0, 0.996
	if f.Shape == scansim.Plane {
		for _, p := range seg.Planes() { // largest first
			if p.Normal.Dot(f.Axis) > parallel && math.Abs(p.Distance(f.Point)) < close {
				return p.Residuals, true
			}
		}
	}
	if f.Shape == scansim.Cylinder {
		for _, c := range seg.Cylinders() {
			if math.Abs(c.Axis.Dot(f.Axis)) > parallel && c.Internal == f.Internal &&
				math.Abs(c.Radius-f.Radius) < close && across(c.Point.Sub(f.Point), f.Axis).Norm() < close {
				return c.Residuals, true
			}
		}
	}
	return fit.ResidualStats{}, false
}

// TestFormedFacesAreWhole asks of one small scan of each of a few kinds of parts with
// form that every true face is one surface, that no surface is invented, and that the
// residuals of faces and rims are form and noise.
//
// The root mean square of the residuals, less the noise in squares, is within a
// quarter of the form's: points at edges are not fitted, and bows, curls and dents
// are highest there. A face cut in two, or fitted without its form, is off by more.
func TestFormedFacesAreWhole(t *testing.T) {
	kinds := append(formed.Kinds(), formed.FiveHoleRing())
	rows := []struct {
		kind   string
		cloud  bool
		voxel  float64 // of a mesh, mm, as sparse as shows the walls of the holes, and form
		seed   uint64
		formed int // faces and rims whose form is compared
	}{
		{"stitched scan", true, 0, 0, 1}, {"bowed ring", false, 0.55, 1, 2},
		{"worn flange", false, 0.7, 0, 1}, {"oval flange", false, 0.7, 0, 2},
		{"twisted sheet", true, 0, 0, 1}, {"bowed five-hole ring", false, 0.85, 0, 2},
	}
	for _, c := range rows[:trials.Of(len(rows), 1)] {
		t.Run(fmt.Sprintf("%s/cloud=%v", c.kind, c.cloud), func(t *testing.T) {
			i := slices.IndexFunc(kinds, func(k formed.Kind) bool { return k.Name == c.kind })
			require.GreaterOrEqual(t, i, 0)
			k := kinds[i]
			k.Voxel, k.Points = c.voxel, 20_000
			s, tr, seg := formScan(t, k, c.cloud, c.seed)
			if c.kind == "bowed ring" {
				formOfBowedRing(t, k.Part(c.seed), s, &tr, seg)
			}
			r := scoreOf(s, &tr, seg, 0)
			t.Logf("%d points, noise %.4f: accuracy %.4f, worst Dice %.3f, %d of %d faces",
				s.Len(), seg.Noise, r.accuracy, r.worst, r.found, r.faces)
			assert.Empty(t, r.missing)
			assert.Empty(t, r.wrong)
			for _, h := range tr.Holes {
				_, ok := residualsOf(seg, tr.Face(h.Wall))
				assert.True(t, ok, "wall of hole %s", h.Name)
			}
			formed := 0
			for _, f := range tr.Faces {
				if !slices.Contains([]string{"mounting", "outer", "bore"}, f.Role) {
					continue
				}
				face, rms := formOf(t, k.Part(c.seed), &tr, f)
				if rms < tr.Noise/2 {
					continue
				}
				formed++
				got, ok := residualsOf(seg, face)
				if !assert.True(t, ok, f.Role) {
					continue
				}
				shown := math.Sqrt(max(0, got.RMS*got.RMS-tr.Noise*tr.Noise))
				t.Logf("%s: form %.4f mm rms, shown %.4f", f.Role, rms, shown)
				assert.InEpsilon(t, rms, shown, 0.25, f.Role)
			}
			assert.Equal(t, c.formed, formed)
		})
	}
}

// The rounded edges that a coarse level leaves of a fine mesh are no surfaces, though strips
// of them lie on cylinders.
func TestEdgesLeftOver(t *testing.T) {
	i := slices.IndexFunc(formed.Kinds(), func(k formed.Kind) bool { return k.Name == "tapped flange" })
	k := formed.Kinds()[i]
	k.Voxel = 0.35
	s, tr, seg := formScan(t, k, false, 1)
	r := scoreOf(s, &tr, seg, 0)
	assert.Empty(t, r.missing)
	assert.Empty(t, r.wrong)
}

// Walls of tapped holes, seen from above only, are cylinders between the thread's two
// diameters: M12 with a pitch of 1.75 mm, ISO 724. Nothing is invented beside them.
func TestTappedHolesHaveWalls(t *testing.T) {
	i := slices.IndexFunc(formed.Kinds(), func(k formed.Kind) bool { return k.Name == "tapped flange" })
	k := formed.Kinds()[i]
	k.Points = 40_000
	_, tr, seg := formScan(t, k, true, 1)
	require.Len(t, tr.Holes, 4)
	for _, h := range tr.Holes {
		found := 0
		for _, c := range seg.Cylinders() {
			if across(c.Point.Sub(h.Centre), h.Axis).Norm() < 0.2 {
				found++
				assert.True(t, c.Internal)
				assert.Greater(t, c.Arc.Degrees(), 300.0)
				assert.Greater(t, c.Radius, h.Diameter/2, h.Name)
				assert.Less(t, c.Radius, 6.0, h.Name)
				assert.InDelta(t, 1, math.Abs(c.Axis.Dot(h.Axis)), 0.002)
			}
		}
		assert.Equal(t, 1, found, h.Name)
	}
	assert.Len(t, seg.Cylinders(), 6)
	assert.Empty(t, seg.Spheres())
}
