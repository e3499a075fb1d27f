package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// pieces labels what hangs together by looking at every pair.
func pieces(n int, joined func(i, j int) bool) []int {
	label := make([]int, n)
	for i := range label {
		label[i] = -1
	}
	var fill func(i, l int)
	fill = func(i, l int) {
		label[i] = l
		for j := range n {
			if label[j] < 0 && joined(i, j) {
				fill(j, l)
			}
		}
	}
	l := 0
	for i := range n {
		if label[i] < 0 {
			fill(i, l)
			l++
		}
	}
	return label
}

// samePieces checks that two labellings divide the points alike.
func samePieces(t require.TestingT, want []int, got []int32) {
	to := map[int]int32{}
	from := map[int32]int{}
	for i := range want {
		if g, ok := to[want[i]]; ok {
			require.Equal(t, g, got[i], "point %d", i)
		}
		if w, ok := from[got[i]]; ok {
			require.Equal(t, w, want[i], "point %d", i)
		}
		to[want[i]], from[got[i]] = got[i], want[i]
	}
}

func TestIslandsOfCloudProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		s := &Scan{}
		whole := rapid.Bool().Draw(t, "whole coordinates")
		for range rapid.IntRange(1, 300).Draw(t, "n") {
			v := Vec32{rng.Float32() * 12, rng.Float32() * 12, rng.Float32()}
			if whole { // distances of exactly reach
				v = Vec32{float32(rng.IntN(30)), float32(rng.IntN(30)), 0}
			}
			s.Offsets = append(s.Offsets, v)
		}
		reach := float32(rapid.SampledFrom([]float64{0.25, 0.5, 1, 2}).Draw(t, "reach"))
		want := pieces(s.Len(), func(i, j int) bool {
			a, b := s.Offsets[i], s.Offsets[j]
			return squared(a[0]-b[0], a[1]-b[1], a[2]-b[2]) <= reach*reach
		})
		got, sizes := Islands(s, nil, float64(reach))
		samePieces(t, want, got)
		count := make([]int, len(sizes))
		for _, l := range got {
			count[l]++
		}
		require.Equal(t, count, sizes)
		for k := 1; k < len(sizes); k++ {
			require.GreaterOrEqual(t, sizes[k-1], sizes[k], "largest first")
		}
	})
}

func TestIslandsOfMesh(t *testing.T) {
	s := &Scan{
		Offsets: make([]Vec32, 12),
		Triangles: [][3]int32{
			{0, 1, 2},                       // alone
			{3, 4, 5}, {5, 6, 7}, {7, 8, 3}, // touching in corners
			{9, 10, 9}, // without area, yet a triangle
		},
	}
	label, sizes := Islands(s, nil, 0)
	assert.Equal(t, []int32{1, 1, 1, 0, 0, 0, 0, 0, 0, 2, 2, 3}, label)
	assert.Equal(t, []int{3, 1, 1, 0}, sizes, "the last vertex is in no triangle")
}

func TestIslandsOfCloudWithoutReach(t *testing.T) {
	// Two squares of spacing 1, five apart.
	s := &Scan{}
	for i := range 20 {
		for j := range 20 {
			s.Offsets = append(s.Offsets, Vec32{float32(i), float32(j), 0})
			if i < 10 {
				s.Offsets = append(s.Offsets, Vec32{float32(i), float32(j) + 24, 0})
			}
		}
	}
	_, sizes := Islands(s, nil, 0)
	assert.Equal(t, []int{400, 200}, sizes)
	nan := float32(math.NaN())
	s.Offsets = append(s.Offsets, Vec32{nan, 0, 0}, Vec32{nan, 0, 0})
	_, sizes = Islands(s, nil, 4)
	assert.Equal(t, []int{400, 200, 1, 1}, sizes, "points nowhere are near nothing")
}

func ExampleIslands() {
	s := &Scan{
		Offsets:   []Vec32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {1, 1, 0}, {9, 0, 0}, {9, 1, 0}, {9, 0, 1}},
		Triangles: [][3]int32{{4, 5, 6}, {0, 1, 2}, {1, 3, 2}},
	}
	label, sizes := Islands(s, nil, 0)
	fmt.Println(label, sizes)
	// Output: [0 0 0 0 1 1 1] [2 1]
}

func BenchmarkIslands(b *testing.B) {
	const n = 1_000_000
	s := &Scan{Offsets: onSphere(rand.New(rand.NewPCG(5, 5)), n, 50)}
	ix := NewIndex(s.Offsets, 0)
	for b.Loop() {
		Islands(s, ix, 0.7)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/pt")
}
