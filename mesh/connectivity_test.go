package mesh

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Against a count of each edge's triangles in a map, on meshes of random
// triangles, closed pairs, some turned round, some doubled, some with a corner
// twice.
func TestOpenEdgesAreThoseOfOneTriangle(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	for range 300 {
		n := 3 + rng.IntN(30)
		s := &Scan{Offsets: make([]Vec32, n)}
		v := func() int32 { return int32(rng.IntN(n)) }
		for range 1 + rng.IntN(60) {
			a, b, c, d := v(), v(), v(), v()
			s.Triangles = append(s.Triangles, [3]int32{a, b, c})
			switch rng.IntN(5) {
			case 0: // its neighbour over bc
				s.Triangles = append(s.Triangles, [3]int32{c, b, d})
			case 1: // the other way round
				s.Triangles = append(s.Triangles, [3]int32{b, c, d})
			case 2: // its back: all closed
				s.Triangles = append(s.Triangles, [3]int32{c, b, a})
			case 3: // twice
				s.Triangles = append(s.Triangles, [3]int32{a, b, c})
			}
		}
		used := map[[2]int32]int{}
		for _, c := range s.Triangles {
			for k := range 3 {
				from, to := c[k], c[(k+1)%3]
				used[[2]int32{min(from, to), max(from, to)}]++
			}
		}
		var want []HalfEdge
		for i, c := range s.Triangles {
			for k := range 3 {
				from, to := c[k], c[(k+1)%3]
				if from != to && used[[2]int32{min(from, to), max(from, to)}] == 1 {
					want = append(want, HalfEdge{from, to, int32(i)})
				}
			}
		}
		got, _ := openEdges(t.Context(), s)
		require.ElementsMatch(t, want, got)
		require.True(t, slices.IsSortedFunc(got, func(a, b HalfEdge) int {
			return int(min(a.From, a.To)) - int(min(b.From, b.To))
		}), "by their lower vertex")
	}
}

func TestConnectedComponents(t *testing.T) {
	s := &Scan{
		Offsets: make([]Vec32, 12),
		Triangles: [][3]int32{
			{0, 1, 2},                       // alone
			{3, 4, 5}, {5, 6, 7}, {7, 8, 3}, // touching in corners
			{9, 10, 9}, // without area, yet a triangle
		},
	}
	label, sizes := ConnectedComponents(s)
	assert.Equal(t, []int32{1, 1, 1, 0, 0, 0, 0, 0, 0, 2, 2, 3}, label)
	assert.Equal(t, []int{3, 1, 1, 0}, sizes, "the last vertex is in no triangle")
}

func ExampleConnectedComponents() {
	s := &Scan{
		Offsets:   []Vec32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {1, 1, 0}, {9, 0, 0}, {9, 1, 0}, {9, 0, 1}},
		Triangles: [][3]int32{{4, 5, 6}, {0, 1, 2}, {1, 3, 2}},
	}
	label, sizes := ConnectedComponents(s)
	fmt.Println(label, sizes)
	// Output: [0 0 0 0 1 1 1] [2 1]
}
