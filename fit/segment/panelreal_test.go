package segment

import (
	"bytes"
	"compress/gzip"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/scanio"
)

const testdata = "../../testdata"

// Source: testdata/README.md, real/ring_six_holes.ply.
func TestRingOfSixHoles(t *testing.T) {
	s, err := scanio.Read(t.Context(), filepath.Join(testdata, "real", "ring_six_holes.ply"), scanio.Options{})
	require.NoError(t, err)
	require.True(t, isTessellated(s))
	assert.InDelta(t, 5e-5, coordinateRounding(s), 1e-5, "four decimals")
	seg, err := segmentPanels(t.Context(), s, Options{})
	require.NoError(t, err)

	var holes []Cylinder
	for _, c := range seg.Cylinders() {
		switch {
		case math.Abs(c.Radius-4.0386/2) < 0.01:
			holes = append(holes, c)
		case math.Abs(c.Radius-50) < 1:
			assert.InDelta(t, 100, 2*c.Radius, 1e-4, "the bore")
			assert.True(t, c.Internal)
			assert.InDelta(t, 360, c.Arc.Degrees(), 1e-6)
		case c.Internal:
			assert.InDelta(t, 6.35, 2*c.Radius, 1e-4, "roller seats of a quarter inch")
		case c.Radius > 60:
			assert.InDelta(t, 120.193, 2*c.Radius, 1e-3, "the teeth's tips")
		default:
			assert.InDelta(t, 1.524, 2*c.Radius, 3e-4, "roundings of 0.06 inch")
		}
	}
	require.Len(t, holes, 6)
	var middle r3.Vector
	for _, c := range holes {
		assert.InDelta(t, 4.0386, 2*c.Radius, 1e-4)
		assert.True(t, c.Internal)
		assert.InDelta(t, 360, c.Arc.Degrees(), 1e-6)
		assert.InDelta(t, 1, c.Axis.Y, 1e-9)
		middle = middle.Add(c.Point.Mul(1.0 / 6))
	}
	var angles []float64
	for _, c := range holes {
		d := c.Point.Sub(middle)
		assert.InDelta(t, 112.5855, 2*math.Hypot(d.X, d.Z), 1e-4)
		angles = append(angles, math.Atan2(d.Z, d.X)*180/math.Pi)
	}
	slices.Sort(angles)
	for i, want := range []float64{-142.5, -82.5, -22.5, 37.5, 97.5, 157.5} {
		assert.InDelta(t, want, angles[i], 1e-4)
	}
	require.Len(t, seg.Cones(), 1)
	assert.InDelta(t, 45, seg.Cones()[0].HalfAngle.Degrees(), 0.02)
	assert.True(t, seg.Cones()[0].Internal)
	assert.Empty(t, seg.Spheres())
	assert.Len(t, seg.Cylinders(), 6+1+1+24+48, "holes, bore, tips, and for each of 24 teeth a seat and two roundings")
	require.Len(t, seg.Planes(), 2)
	assert.NotContains(t, seg.TriangleSurface, int32(-1))
	for _, p := range seg.Planes() {
		assert.InDelta(t, 1, math.Abs(p.Normal.Y), 1e-9)
	}
}

// pedestal is testdata/README.md's real/pedestal_four_holes.stl.gz.
func pedestal(t *testing.T) *mesh.Scan {
	t.Helper()
	f, err := os.Open(filepath.Join(testdata, "real", "pedestal_four_holes.stl.gz"))
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	b, err := io.ReadAll(z)
	require.NoError(t, err)
	s, err := scanio.ReadFrom(t.Context(), bytes.NewReader(b), int64(len(b)), "pedestal.stl", scanio.Options{})
	require.NoError(t, err)
	return s
}

// Source: testdata/README.md, real/pedestal_four_holes.stl.gz.
func TestPedestal(t *testing.T) {
	s := pedestal(t)
	require.True(t, isTessellated(s))
	seg, err := segmentPanels(t.Context(), s, Options{})
	require.NoError(t, err)

	var bores, holes, bosses []float64
	for _, c := range seg.Cylinders() {
		assert.InDelta(t, 1, c.Axis.Z, 1e-9)
		assert.InDelta(t, 360, c.Arc.Degrees(), 1e-6)
		off := math.Hypot(c.Point.X, c.Point.Y)
		switch {
		case off > 1:
			assert.InDelta(t, 47.5, off, 1e-5)
			holes = append(holes, 2*c.Radius)
			assert.True(t, c.Internal)
		case c.Internal:
			assert.Less(t, off, 1e-5)
			bores = append(bores, 2*c.Radius)
		default:
			bosses = append(bosses, 2*c.Radius)
		}
	}
	assert.InDeltaSlice(t, []float64{4.5, 4.5, 4.5, 4.5}, holes, 1e-5)
	slices.Sort(bores)
	assert.InDeltaSlice(t, []float64{19, 21.95, 21.95, 30}, bores, 1e-5, "a bearing seat at either end")
	slices.Sort(bosses)
	require.Len(t, bosses, 2)
	assert.InDelta(t, 120, bosses[1], 1e-5)
	assert.Len(t, seg.Cones(), 4, "countersinks")
	assert.Empty(t, seg.Spheres())
	assert.NotContains(t, seg.TriangleSurface, int32(-1))
	flange := seg.Cylinders()[slices.IndexFunc(seg.Cylinders(), func(c Cylinder) bool { return c.Radius > 59 })]
	assert.InDelta(t, 8, flange.Extent[1]-flange.Extent[0], 1e-5)
}

// Files of general-purpose mesh libraries, sources in testdata/README.md.
func TestSmallModelsOfOtherLibraries(t *testing.T) {
	cubes := []string{
		"assimp_cube_binary_header_with_RN_newline.ply", "assimp_obj_box.obj",
		"numpystl_stl_binary_CubeInvalidUnicode.stl", "trimesh_BoxTextured.ply",
		"trimesh_cube.OBJ", "trimesh_cube_compressed.obj", "trimesh_jacked.obj",
		"trimesh_negative_indices.obj",
	}
	files, err := filepath.Glob(filepath.Join(testdata, "readers", "*"))
	require.NoError(t, err)
	met := 0
	for _, file := range files {
		s, err := scanio.Read(t.Context(), file, scanio.Options{})
		if err != nil || !s.IsMesh() {
			continue // package mesh tests what must load
		}
		name := filepath.Base(file)
		t.Run(name, func(t *testing.T) {
			seg, err := segmentPanels(t.Context(), s, Options{})
			require.NoError(t, err)
			soundSegmentation(t, s, seg)
			if slices.Contains(cubes, name) {
				met++
				assert.True(t, isTessellated(s))
				assert.Equal(t, [4]int{6}, counts(seg))
			}
		})
	}
	assert.Equal(t, len(cubes), met)
}

// soundSegmentation checks what holds for every mesh: indices in range, points
// and facets that agree, points on their surfaces.
func soundSegmentation(t *testing.T, s *mesh.Scan, seg *Segmentation) {
	t.Helper()
	require.Len(t, seg.TriangleSurface, len(s.Triangles))
	require.Len(t, seg.PointSurface, s.Len())
	points := map[string]map[int32]bool{}
	for _, r := range seg.Surfaces {
		points[r.ID] = map[int32]bool{}
		assert.True(t, slices.IsSorted(r.Points))
		for _, i := range r.Points {
			points[r.ID][i] = true
		}
	}
	near := 4 * pointTolerance(s, coordinateRounding(s))
	for _, p := range seg.Planes() {
		assert.False(t, math.IsNaN(p.Normal.Norm()+p.Area+p.Residuals.RMS))
		for _, i := range p.Points {
			assert.InDelta(t, 0, p.Distance(s.Point(int(i))), near)
		}
	}
	for _, c := range seg.Cylinders() {
		assert.False(t, math.IsNaN(c.Radius+c.Axis.Norm()+c.Arc.Radians()+c.Extent[0]+c.Extent[1]))
	}
	for _, c := range seg.Cones() {
		assert.False(t, math.IsNaN(c.HalfAngle.Radians()+c.Axis.Norm()+c.Apex.Norm()))
	}
	for _, c := range seg.Spheres() {
		assert.False(t, math.IsNaN(c.Radius+c.Centre.Norm()))
	}
	require.Len(t, points, len(seg.Surfaces), "ids differ")
	for i, f := range seg.TriangleSurface {
		if f < 0 {
			continue
		}
		for _, v := range s.Triangles[i] {
			assert.True(t, points[seg.Surfaces[f].ID][v], "corner %d of triangle %d is a point of %s", v, i, seg.Surfaces[f].ID)
		}
	}
	for i, f := range seg.PointSurface {
		if f >= 0 {
			assert.True(t, points[seg.Surfaces[f].ID][int32(i)])
		}
	}
}

func TestAnyTrianglesAreStood(t *testing.T) {
	// Triangles that nobody drew: few points, many coincidences, edges with
	// many triangles, points on a grid, all in one plane or on one line.
	for seed := range uint64(150) {
		rng := rand.New(rand.NewPCG(seed, 1))
		n := 3 + rng.IntN(30)
		s := &mesh.Scan{}
		for range n {
			var o mesh.Vec32
			for k := range rng.IntN(3) + 1 {
				o[k] = float32(rng.IntN(5)) * 3
				if seed%3 == 0 {
					o[k] = rng.Float32()
				}
			}
			s.Offsets = append(s.Offsets, o)
		}
		for range 1 + rng.IntN(120) {
			s.Triangles = append(s.Triangles, [3]int32{int32(rng.IntN(n)), int32(rng.IntN(n)), int32(rng.IntN(n))})
		}
		isTessellated(s)
		seg, err := segmentPanels(t.Context(), s, Options{})
		require.NoError(t, err)
		soundSegmentation(t, s, seg)
	}
}
