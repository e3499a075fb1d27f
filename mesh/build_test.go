package mesh

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"spotface/mesh/geom"
)

// firstOf is firstEqual by a map of the coordinates.
func firstOf(pts []r3.Vector) []int32 {
	seen := map[r3.Vector]int32{} // -0 equals 0 as a key
	first := []int32{}
	for i, p := range pts {
		f, ok := seen[p]
		switch {
		case !geom.Finite(p) || max(math.Abs(p.X), math.Abs(p.Y), math.Abs(p.Z)) > 1e15:
			f = -1
		case !ok:
			f = int32(i)
			seen[p] = f
		}
		first = append(first, f)
	}
	return first
}

func at(pts []r3.Vector) func(i int) r3.Vector { return func(i int) r3.Vector { return pts[i] } }

func TestFirstEqualFindsWhatAMapFinds(t *testing.T) {
	values := []float64{0, math.Copysign(0, -1), 1, math.Nextafter(1, 2), -1, 1e-300, math.NaN(), math.Inf(1), 1e10, 1e16}
	rapid.Check(t, func(t *rapid.T) {
		one := rapid.SampledFrom(values)
		pts := rapid.SliceOf(rapid.Custom(func(t *rapid.T) r3.Vector {
			return r3.Vector{X: one.Draw(t, "x"), Y: one.Draw(t, "y"), Z: one.Draw(t, "z")}
		})).Draw(t, "points")
		first, err := firstEqual(t.Context(), len(pts), at(pts), 1)
		require.NoError(t, err)
		require.Equal(t, firstOf(pts), first)
	})
}

// Many chunks and buckets, one of them crowded, on any number of cores.
func TestFirstEqualInManyBuckets(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	pts := make([]r3.Vector, 300_000)
	for i := range pts {
		if i%3 > 0 { // a third in one place
			pts[i] = r3.Vector{X: float64(rng.IntN(400)), Y: float64(rng.IntN(400)), Z: 0.1}
		}
	}
	want := firstOf(pts)
	for _, jobs := range []int{1, 3} {
		first, err := firstEqual(t.Context(), len(pts), at(pts), jobs)
		require.NoError(t, err)
		require.True(t, slices.Equal(want, first), "%d jobs", jobs)
	}
}

func TestBuildDropsAndMaps(t *testing.T) {
	pts := []r3.Vector{{X: 1e6}, {X: 1e6 + 1}, {X: 1e6, Y: 1}, {X: 1e6, Y: 0, Z: 0}, {X: math.NaN()}, {X: 1e6 + 9}, {X: 1e6 + 1, Y: 1}, {Y: 7}}
	s, err := Build(t.Context(), Items{Points: len(pts), At: at(pts),
		Normals:   []Vec32{{0, 0, 2}, {0, 0, 1}, {}, {0, 3, 0}, {}, {}, {0, 0, 1}},
		Triangles: [][3]int32{{0, 1, 2}, {0, 1, 4}, {0, 1, 8}, {3, 2, 1}, {0, 1, 3}, {0, 1, 5}, {1, 6, 2}}}, 0)
	require.NoError(t, err)
	assert.Equal(t, Removed{Broken: 2, ZeroArea: 2, Duplicate: 1}, s.Removed)
	assert.Equal(t, []int32{0, 6}, s.SourceIndex)
	assert.Equal(t, [][3]int32{{0, 1, 2}, {1, 3, 2}}, s.Triangles)
	require.Equal(t, 4, s.Len())
	assert.Equal(t, pts[6], s.Point(3))
	assert.Nil(t, s.Normals, "those of a mesh follow from its triangles")
	assert.Equal(t, []string{"1 point that no triangle uses was left out."}, s.Warnings)

	s, err = Build(t.Context(), Items{Points: 4, At: at([]r3.Vector{{X: 1}, {X: 1}, {X: math.Inf(1)}, {X: 2}})}, 0)
	require.NoError(t, err)
	assert.Equal(t, Removed{Broken: 1, Duplicate: 1}, s.Removed)
	assert.Equal(t, []int32{0, 3}, s.SourceIndex)
	assert.Nil(t, s.Triangles)
}

// A cone's tip belongs to many triangles; repeated ones are still found.
func TestRepeatedTrianglesAtOnePoint(t *testing.T) {
	pts := []r3.Vector{{Z: 5}}
	const n = 200
	var tris [][3]int32
	for i := range int32(n) {
		a := 2 * math.Pi * float64(i) / n
		pts = append(pts, r3.Vector{X: math.Cos(a), Y: math.Sin(a)})
		tris = append(tris, [3]int32{0, 1 + i, 1 + (i+1)%n}, [3]int32{1 + (i+1)%n, 1 + i, 0})
	}
	s, err := Build(t.Context(), Items{Points: len(pts), At: at(pts), Triangles: tris}, 2)
	require.NoError(t, err)
	assert.Equal(t, Removed{Duplicate: n}, s.Removed)
	require.Len(t, s.Triangles, n)
	for i, item := range s.SourceIndex {
		assert.Equal(t, int32(2*i), item)
	}
}

// BenchmarkBuild times welding, cleaning and rounding.
func ExampleNew() {
	s, err := New(context.Background(), []r3.Vector{{X: 1000.5}, {X: 1001}, {X: math.NaN()}, {X: 1001}}, nil, nil)
	fmt.Println(s.Len(), "points,", s.Removed.Broken, "broken,", s.Removed.Duplicate, "duplicate", err)
	fmt.Println(s.Point(0))
	// Output:
	// 2 points, 1 broken, 1 duplicate <nil>
	// (1000.500000000000000000000000, 0.000000000000000000000000, 0.000000000000000000000000)
}

func ExampleNew_normals() {
	s, err := New(context.Background(), []r3.Vector{{X: 1}, {X: 2}}, []r3.Vector{{Z: 5}, {Z: 1}}, nil)
	fmt.Println(s.Normals, err)
	// Output: [[0 0 1] [0 0 1]] <nil>
}

func ExampleNew_triangles() {
	// A tetrahedron, one of whose triangles is wound the wrong way.
	pts := []r3.Vector{{}, {X: 1}, {Y: 1}, {Z: 1}}
	s, err := New(context.Background(), pts, nil, [][3]int32{{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {2, 3, 0}})
	fmt.Println(s.Triangles, s.Removed.Rewound, "rewound", err)
	// Output: [[0 2 1] [0 1 3] [1 2 3] [2 0 3]] 1 rewound <nil>
}

func TestConstructorsSayWhatIsWrong(t *testing.T) {
	_, err := New(t.Context(), []r3.Vector{{X: math.Inf(1)}}, nil, nil)
	assert.ErrorContains(t, err, "no point")
	_, err = New(t.Context(), make([]r3.Vector, 3), make([]r3.Vector, 2), nil)
	assert.ErrorContains(t, err, "3 points and 2 normals")
	_, err = New(t.Context(), []r3.Vector{{}, {X: 1}, {X: 2}}, nil, [][3]int32{{0, 1, 2}})
	assert.ErrorContains(t, err, "no triangle")
	tris := [][3]int32{{0, 1, 2}, {0, 2, 9}}
	s, err := New(t.Context(), []r3.Vector{{}, {X: 1}, {Y: 2}, {Y: 7}}, nil, tris)
	require.NoError(t, err)
	assert.Equal(t, Removed{Broken: 1}, s.Removed)
	assert.Equal(t, [3]int32{0, 2, 9}, tris[1], "the caller's triangles are not changed")
	assert.Equal(t, 4, s.Source.Points)
}

func BenchmarkBuild(b *testing.B) {
	const n = 1000
	pts := make([]r3.Vector, 0, n*n)
	for j := range n {
		for i := range n {
			x, y := 0.1*float64(i), 0.1*float64(j)
			pts = append(pts, r3.Vector{X: x, Y: y, Z: 5 * math.Sin(x/9) * math.Cos(y/7)})
		}
	}
	for _, shuffled := range []bool{false, true} {
		name := "in-order"
		if shuffled {
			name = "shuffled"
			rng := rand.New(rand.NewPCG(5, 6))
			rng.Shuffle(len(pts), func(i, j int) { pts[i], pts[j] = pts[j], pts[i] })
		}
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := Build(b.Context(), Items{Points: len(pts), At: at(pts)}, 0); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(pts)), "ns/point")
		})
	}
}
