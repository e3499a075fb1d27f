package mesh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/geom"
)

func TestCloudNormalsOfExactShapes(t *testing.T) {
	t.Run("plane", func(t *testing.T) {
		c := newSampler(1, 0)
		c.flat(0, 10, 10, 1, func(x, y float64) float64 { return 1 })
		s := c.scan()
		s, err := EstimateNormals(t.Context(), s, nil, 0)
		require.NoError(t, err)
		deg, _ := c.tilts(s.Normals, func(int) bool { return true })
		assert.Less(t, deg[len(deg)-1], 1e-3, "single precision of the points")
	})
	t.Run("sphere", func(t *testing.T) {
		pts := onSphere(rand.New(rand.NewPCG(1, 1)), 20_000, 10) // 0.25 mm apart
		s := &Scan{Offsets: pts}
		s, err := EstimateNormals(t.Context(), s, nil, 0)
		require.NoError(t, err)
		assert.False(t, s.Unoriented, "a ball seen all around")
		for i, n := range s.Normals {
			// A patch of 12 points is 0.5 mm wide: 0.05 rad on the sphere.
			assert.Less(t, angleBetween(n, vec32(geom.Unit(pts[i].R3()))), 0.05, "point %d", i)
		}
	})
	t.Run("cylinder", func(t *testing.T) {
		c := newSampler(2, 0)
		c.wall(0, 0, 5, 0, 20, 10, 1, nil)
		s := c.scan()
		s, err := EstimateNormals(t.Context(), s, nil, 0)
		require.NoError(t, err)
		deg, _ := c.tilts(s.Normals, func(int) bool { return true })
		assert.Less(t, deg[len(deg)/2], 1.0)
		assert.Less(t, deg[len(deg)*99/100], 6.0)
	})
}

// A plate of independent noise 0.05 mm, a fifth of the points outliers, walls at
// a twelfth of the face's density. The limits on the quantiles of
// thousands of angles are ten of their standard errors or more from what is
// reached, so that a right program fails less than once in 1,000.
func TestCloudNormalsOnAPlateWithOutliers(t *testing.T) {
	for seed := range uint64(1) {
		c := newSampler(seed, 0.05)
		c.plate(10, 10, 6)
		c.outliers(0.25) // a fifth of all
		s := c.scan()
		s, err := EstimateNormals(t.Context(), s, nil, 0)
		require.NoError(t, err)
		assert.False(t, s.Unoriented, "seed %d: the plate's holes and outline bend away from its outer side", seed)
		// Sparse points far from an edge: walls.
		axis := c.faceNormal()
		onFace := func(i int) bool { return math.Abs(dot3(wide3(c.truth[i]), axis)) > 0.5 }
		face, outFace := c.tilts(s.Normals, onFace)
		wall, outWall := c.tilts(s.Normals, func(i int) bool { return !onFace(i) && c.noEdge[i] })
		_, outAll := c.tilts(s.Normals, func(int) bool { return true })
		assert.Less(t, face[len(face)/2], 2.6, "seed %d: face, median degrees", seed)
		assert.Less(t, face[len(face)*9/10], 5.5, "seed %d: face, 90 %%", seed)
		assert.Less(t, wall[len(wall)/2], 5.0, "seed %d: walls, median degrees", seed)
		assert.Less(t, wall[len(wall)*9/10], 20.0, "seed %d: walls, 90 %%", seed)
		assert.Greater(t, outFace, 0.995, "seed %d: face, outward", seed)
		assert.Greater(t, outWall, 0.98, "seed %d: walls, outward", seed)
		assert.Greater(t, outAll, 0.99, "seed %d: all, outward", seed)
		t.Logf("seed %d: face %.2f %.2f out %.4f, wall %.2f %.2f out %.4f, all out %.4f", seed,
			face[len(face)/2], face[len(face)*9/10], outFace, wall[len(wall)/2], wall[len(wall)*9/10], outWall, outAll)
	}
}

// faceNormal returns the true normal of the faces after turning: the most
// frequent one.
func (c *cloudSampler) faceNormal() [3]float64 {
	count := map[Vec32]int{}
	var best Vec32
	for _, n := range c.truth {
		if n != (Vec32{}) {
			if count[n]++; count[n] > count[best] {
				best = n
			}
		}
	}
	return wide3(best)
}

func TestCloudNormalsDoNotDependOnJobs(t *testing.T) {
	c := newSampler(3, 0.03)
	c.plate(3, 8, 0)
	c.outliers(0.1)
	s := c.scan()
	first, err := EstimateNormals(t.Context(), s, nil, 1)
	require.NoError(t, err)
	assert.Nil(t, s.Normals, "the caller's scan is not changed")
	for _, jobs := range []int{3} {
		again, err := EstimateNormals(t.Context(), s, nil, jobs)
		require.NoError(t, err)
		assert.Equal(t, first, again, "%d jobs", jobs)
	}
}

func TestCloudNormalsOfNextToNothing(t *testing.T) {
	for name, pts := range map[string][]Vec32{
		"no point":       nil,
		"one point":      {{1, 2, 3}},
		"two points":     {{0, 0, 0}, {1, 0, 0}},
		"one place":      make([]Vec32, 50),
		"points nowhere": {{float32(math.NaN()), 0, 0}, {0, 0, 0}, {1, 1, 1}},
		"a line": func() (o []Vec32) {
			for i := range 100 {
				o = append(o, Vec32{float32(i), 0, 0})
			}
			return o
		}(),
	} {
		s := &Scan{Offsets: pts}
		s, err := EstimateNormals(t.Context(), s, nil, 0)
		require.NoError(t, err, name)
		assert.True(t, s.Unoriented, name)
		require.Len(t, s.Normals, len(pts), name)
		for _, n := range s.Normals {
			assert.Zero(t, n, "%s: no surface, no normal", name)
		}
	}
}

// Normals as many programs compute them: the direction is right, the side is not
// known. A thin plate, whose sides rightly oppose, keeps its own.
func TestGivenNormalsOfEitherSideAreTurned(t *testing.T) {
	c := newSampler(1, 0.02)
	c.plate(3, 8, 6)
	s := c.scan()
	s.Normals = slices.Clone(c.truth)
	same, err := EstimateNormals(t.Context(), s, nil, 0)
	require.NoError(t, err)
	assert.False(t, same.Unoriented)
	assert.Equal(t, s.Normals, same.Normals)
	rng := rand.New(rand.NewPCG(1, 1))
	for i, n := range s.Normals {
		if rng.IntN(2) == 0 {
			s.Normals[i] = Vec32{-n[0], -n[1], -n[2]}
		}
	}
	turned, err := EstimateNormals(t.Context(), s, nil, 0)
	require.NoError(t, err)
	assert.False(t, turned.Unoriented)
	_, out := c.tilts(turned.Normals, func(int) bool { return true })
	assert.Greater(t, out, 0.98)
	for i, n := range turned.Normals {
		if d := math.Abs(dot3(wide3(n), wide3(s.Normals[i]))); math.Abs(d-1) > 1e-5 {
			require.Fail(t, "the direction stays", "point %d", i)
		}
	}

	thin := newSampler(2, 0.02)
	for _, up := range []float64{-1, 1} {
		thin.flat(0.5+0.5*up, 20, 10, up, everywhere)
	}
	s = thin.scan()
	s.Normals = slices.Clone(thin.truth)
	assert.True(t, sidesAgree(s), "a sheet 1 mm thick at a spacing of 0.3 mm")
}

// A lone point weighs no more than the sparsest wall: else outliers choose the sides.
func TestALonePointHasTheAreaOfAWallAtMost(t *testing.T) {
	c := newSampler(1, 0)
	c.flat(0, 10, 10, 1, func(x, y float64) float64 { return 1 })
	s := c.scan()
	s.Offsets = append(s.Offsets, Vec32{0, 0, 1000})
	_, areas := cloudNormals(t.Context(), s, NewKDTree(s.Offsets, 0), 0, 0.01, 0)
	assert.Less(t, areas[len(areas)-1], float32(10), "100 times a point's of the face")
}
