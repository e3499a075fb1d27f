package mesh

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// cubeMesh returns a cube of side 2 about the origin, each face cut along the
// diagonal that cut chooses.
func cubeMesh(cut func(face int) bool) *Scan {
	s := &Scan{}
	for i := range 8 {
		s.Offsets = append(s.Offsets, Vec32{float32(i&1)*2 - 1, float32(i>>1&1)*2 - 1, float32(i>>2)*2 - 1})
	}
	for f, q := range [6][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		if cut(f) {
			q = [4]int32{q[1], q[2], q[3], q[0]}
		}
		s.Triangles = append(s.Triangles, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return s
}

// A cube's corner looks along its space diagonal, however the faces are cut:
// weighed by area or by count, corners with more triangles on one face lean.
func TestMeshNormalsOfCubeDoNotDependOnTheCut(t *testing.T) {
	for cuts := range 64 {
		s := cubeMesh(func(f int) bool { return cuts>>f&1 == 1 })
		s, err := EstimateNormals(t.Context(), s, nil, 0)
		require.NoError(t, err)
		assert.False(t, s.Unoriented)
		for i, n := range s.Normals {
			p := s.Offsets[i]
			for c := range 3 {
				assert.InDelta(t, float64(p[c])/math.Sqrt(3), float64(n[c]), 1e-4, "cut %b corner %d", cuts, i)
			}
		}
	}
}

// ringMesh returns a surface of revolution about Z: radius(v) at height(v) for
// v in 0..nv, nu steps round.
func ringMesh(nu, nv int, radius, height func(v float64) float64) *Scan {
	s := &Scan{}
	for v := range nv + 1 {
		f := float64(v) / float64(nv)
		for u := range nu {
			phi := 2 * math.Pi * float64(u) / float64(nu)
			s.Offsets = append(s.Offsets, Vec32{float32(radius(f) * math.Cos(phi)), float32(radius(f) * math.Sin(phi)), float32(height(f))})
		}
	}
	for v := range nv {
		for u := range nu {
			a, b := int32(v*nu+u), int32(v*nu+(u+1)%nu)
			c, d := a+int32(nu), b+int32(nu)
			s.Triangles = append(s.Triangles, [3]int32{a, b, d}, [3]int32{a, d, c})
		}
	}
	return s
}

func TestMeshNormalsOfExactShapes(t *testing.T) {
	t.Run("cylinder", func(t *testing.T) {
		s := ringMesh(72, 10, func(float64) float64 { return 7 }, func(v float64) float64 { return 20 * v })
		s, err := EstimateNormals(t.Context(), s, nil, 0)
		require.NoError(t, err)
		for i, n := range s.Normals {
			p := s.Offsets[i]
			if p[2] == 0 || p[2] == 20 {
				continue // the rim lacks triangles on one side and leans by a share of the step
			}
			want := Vec32{p[0] / 7, p[1] / 7, 0}
			assert.Less(t, angleBetween(n, want), 1e-3, "vertex %d", i)
		}
	})
	t.Run("sphere", func(t *testing.T) {
		s := ringMesh(90, 45, func(v float64) float64 { return 5 * math.Sin(math.Pi*(0.05+0.9*v)) },
			func(v float64) float64 { return -5 * math.Cos(math.Pi*(0.05+0.9*v)) })
		s, err := EstimateNormals(t.Context(), s, nil, 0)
		require.NoError(t, err)
		for i, n := range s.Normals[90 : len(s.Normals)-90] {
			p := s.Offsets[90+i]
			// Of second order in the step of 0.07 rad.
			assert.Less(t, angleBetween(n, Vec32{p[0] / 5, p[1] / 5, p[2] / 5}), 0.07*0.07, "vertex %d", 90+i)
		}
	})
}

func angleBetween(a, b Vec32) float64 {
	c := cross3(wide3(a), wide3(b))
	return math.Atan2(math.Sqrt(dot3(c, c)), dot3(wide3(a), wide3(b)))
}

func TestMeshNormalsWithBrokenTriangles(t *testing.T) {
	s := cubeMesh(func(int) bool { return false })
	want := cubeMesh(func(int) bool { return false })
	s.Offsets = append(s.Offsets, Vec32{9, 9, 9})
	s.Triangles = append(s.Triangles, [3]int32{0, 0, 1}, [3]int32{3, 3, 3}, [3]int32{0, 1, 0})
	s, err := EstimateNormals(t.Context(), s, nil, 1)
	require.NoError(t, err)
	want, err = EstimateNormals(t.Context(), want, nil, 1)
	require.NoError(t, err)
	assert.Equal(t, append(want.Normals, Vec32{}), s.Normals, "no area, no say; no triangle, no normal")
}

func TestMeshNormalsWithTurnedTriangles(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	sphere := func(turned float64) *Scan {
		s := ringMesh(120, 60, func(v float64) float64 { return 5 * math.Sin(math.Pi*(0.02+0.96*v)) },
			func(v float64) float64 { return -5 * math.Cos(math.Pi*(0.02+0.96*v)) })
		for i := range s.Triangles {
			if rng.Float64() < turned {
				s.Triangles[i][0], s.Triangles[i][1] = s.Triangles[i][1], s.Triangles[i][0]
			}
		}
		return s
	}
	for _, turned := range []float64{0.01, 0.5} {
		s := sphere(turned)
		require.NoError(t, s.orientMesh(t.Context(), 0))
		s, err := EstimateNormals(t.Context(), s, nil, 0)
		require.NoError(t, err)
		assert.False(t, s.Unoriented)
		wrong := 0
		for i, n := range s.Normals {
			p := s.Offsets[i]
			if angleBetween(n, Vec32{p[0] / 5, p[1] / 5, p[2] / 5}) > 0.3 {
				wrong++
			}
		}
		assert.Less(t, float64(wrong)/float64(s.Len()), 0.01, "%g of the triangles turned", turned)
	}
	s := gridMesh(60, 60, nil)
	for i := range s.Triangles {
		if rng.IntN(2) == 0 {
			s.Triangles[i][0], s.Triangles[i][1] = s.Triangles[i][1], s.Triangles[i][0]
		}
	}
	require.NoError(t, s.orientMesh(t.Context(), 0))
	assert.True(t, s.Unoriented, "a flat mesh whose triangles face at random has no known side")
}

func TestMeshNormalsDoNotDependOnJobs(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	s := gridMesh(200, 150, nil)
	for i := range s.Offsets {
		s.Offsets[i][2] = rng.Float32()
	}
	rng.Shuffle(len(s.Triangles), func(i, j int) { s.Triangles[i], s.Triangles[j] = s.Triangles[j], s.Triangles[i] })
	s, err := EstimateNormals(t.Context(), s, nil, 1)
	require.NoError(t, err)
	want := s.Normals
	for _, jobs := range []int{2, 3, 8, 40} {
		s, err := EstimateNormals(t.Context(), s, nil, jobs)
		require.NoError(t, err)
		assert.Equal(t, want, s.Normals, "%d jobs", jobs)
	}
}

func TestAngleIsWithinItsBound(t *testing.T) {
	for i := range 10_001 {
		c := -1 + 2*float64(i)/10_000
		assert.InDelta(t, math.Acos(c), angle(c, 1), 7e-5, "cosine %g", c)
	}
}

func TestEstimateNormalsKeepsThoseOfTheFile(t *testing.T) {
	s := &Scan{Offsets: []Vec32{{0, 0, 0}, {1, 0, 0}}, Normals: []Vec32{{0, 0, 1}, {0, 1, 0}}}
	s, err := EstimateNormals(t.Context(), s, nil, 0)
	require.NoError(t, err)
	assert.False(t, s.Unoriented)
	assert.Equal(t, []Vec32{{0, 0, 1}, {0, 1, 0}}, s.Normals)
}

func TestEstimateNormalsStopsWhenCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for name, s := range map[string]*Scan{
		"mesh":  gridMesh(50, 50, nil),
		"cloud": {Offsets: onSphere(rand.New(rand.NewPCG(1, 1)), 1000, 5)},
	} {
		got, err := EstimateNormals(ctx, s, nil, 0)
		assert.ErrorIs(t, err, context.Canceled, name)
		assert.Nil(t, got, name)
	}
}

func ExampleEstimateNormals() {
	s := &Scan{
		Offsets:   []Vec32{{0, 0, 0}, {2, 0, 0}, {0, 2, 0}, {0, 0, 2}},
		Triangles: [][3]int32{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}},
	}
	s, err := EstimateNormals(context.Background(), s, nil, 0)
	n := s.Normal(0)
	fmt.Printf("%.3f %.3f %.3f %v %v\n", n.X, n.Y, n.Z, !s.Unoriented, err)
	// Output: -0.577 -0.577 -0.577 true <nil>
}

func BenchmarkMeshNormals(b *testing.B) {
	s := gridMesh(1200, 1250, nil) // 3 million triangles
	for b.Loop() {
		_, _ = EstimateNormals(b.Context(), s, nil, 0)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(s.Triangles)), "ns/triangle")
}
