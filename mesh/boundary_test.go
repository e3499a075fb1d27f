package mesh

import (
	"context"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// gridMesh returns a flat mesh of nx by ny squares of side 1, each of two
// triangles facing +Z, without the squares that hole names. Vertex (x, y) is
// number y(nx+1)+x.
func gridMesh(nx, ny int, hole func(x, y int) bool) *Scan {
	s := &Scan{}
	for y := range ny + 1 {
		for x := range nx + 1 {
			s.Offsets = append(s.Offsets, Vec32{float32(x), float32(y), 0})
		}
	}
	for y := range ny {
		for x := range nx {
			if hole != nil && hole(x, y) {
				continue
			}
			a := int32(y*(nx+1) + x)
			b, c, d := a+1, a+int32(nx)+1, a+int32(nx)+2
			s.Triangles = append(s.Triangles, [3]int32{a, b, d}, [3]int32{a, d, c})
		}
	}
	return s
}

func loopsOf(t require.TestingT, s *Scan) []BoundaryLoop {
	loops, err := BoundaryLoops(context.Background(), s, 2)
	require.NoError(t, err)
	return loops
}

// area returns twice the signed area that a loop goes round, seen from +Z.
func loopArea(s *Scan, r BoundaryLoop) (area2 float64) {
	for i, p := range r.Points {
		a, b := s.Offsets[p], s.Offsets[r.Points[(i+1)%len(r.Points)]]
		area2 += float64(a[0]*b[1] - a[1]*b[0])
	}
	return area2
}

func TestBoundaryLoopsOfPlateWithHole(t *testing.T) {
	s := gridMesh(5, 5, func(x, y int) bool { return x == 2 && (y == 1 || y == 2) })
	loops := loopsOf(t, s)
	require.Len(t, loops, 2)
	assert.Equal(t, 20, len(loops[0].Points))
	assert.Equal(t, 50.0, loopArea(s, loops[0]), "the outline runs counter-clockwise, the surface on its left")
	assert.Equal(t, 6, len(loops[1].Points))
	assert.Equal(t, -4.0, loopArea(s, loops[1]), "the hole's loop runs clockwise, the surface on its left")
	for _, r := range loops {
		assert.True(t, r.Closed)
		assert.Equal(t, slices.Min(r.Points), r.Points[0])
	}
}

func TestBoundaryLoopsOfClosedMesh(t *testing.T) {
	s := &Scan{
		Offsets:   []Vec32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
		Triangles: [][3]int32{{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {2, 0, 3}},
	}
	assert.Empty(t, loopsOf(t, s))
	s.Triangles[2] = [3]int32{1, 3, 2} // flipped
	assert.Empty(t, loopsOf(t, s), "a flipped triangle opens nothing")
	assert.Empty(t, loopsOf(t, &Scan{}))
}

func TestBoundaryLoopsOfMoebiusBand(t *testing.T) {
	// A strip of n squares, its ends joined after half a turn: one loop, which
	// goes round twice.
	const n = 20
	s := &Scan{}
	for i := range n {
		phi := 2 * math.Pi * float64(i) / n
		for _, w := range []float64{-1, 1} {
			r := 5 + w*math.Cos(phi/2)
			s.Offsets = append(s.Offsets, Vec32{float32(r * math.Cos(phi)), float32(r * math.Sin(phi)), float32(w * math.Sin(phi/2))})
		}
	}
	for i := range int32(n) {
		a, b := 2*i, 2*i+1
		c, d := a+2, b+2
		if i == n-1 {
			c, d = 1, 0
		}
		s.Triangles = append(s.Triangles, [3]int32{a, c, b}, [3]int32{b, c, d})
	}
	loops := loopsOf(t, s)
	require.Len(t, loops, 1)
	assert.True(t, loops[0].Closed)
	assert.Len(t, loops[0].Points, 2*n)
}

func TestBoundaryLoopsWhereThingsTouch(t *testing.T) {
	t.Run("bow tie of two triangles", func(t *testing.T) {
		s := &Scan{
			Offsets:   []Vec32{{0, 0, 0}, {-1, -1, 0}, {-1, 1, 0}, {1, -1, 0}, {1, 1, 0}},
			Triangles: [][3]int32{{0, 2, 1}, {0, 3, 4}},
		}
		assert.Equal(t, []BoundaryLoop{{[]int32{0, 2, 1}, true}, {[]int32{0, 3, 4}, true}}, loopsOf(t, s))
	})
	t.Run("two holes touching in a corner", func(t *testing.T) {
		s := gridMesh(6, 6, func(x, y int) bool { return x == 2 && y == 2 || x == 3 && y == 3 })
		loops := loopsOf(t, s)
		require.Len(t, loops, 3)
		for _, r := range loops[1:] {
			assert.Len(t, r.Points, 4)
			assert.Equal(t, -2.0, loopArea(s, r))
		}
	})
	t.Run("four holes round one square, touching in its corners", func(t *testing.T) {
		s := gridMesh(5, 5, func(x, y int) bool { return (x == 2) != (y == 2) && x > 0 && x < 4 && y > 0 && y < 4 })
		loops := loopsOf(t, s)
		require.Len(t, loops, 5)
		for _, r := range loops[1:] {
			assert.Len(t, r.Points, 4)
			assert.Equal(t, -2.0, loopArea(s, r))
		}
	})
	t.Run("hole touching the outline", func(t *testing.T) {
		s := gridMesh(4, 4, func(x, y int) bool { return x == 0 && y == 0 || x == 1 && y == 1 })
		total := 0.0
		for _, r := range loopsOf(t, s) {
			assert.True(t, r.Closed)
			total += loopArea(s, r)
		}
		assert.Equal(t, 28.0, total)
	})
}

func TestBoundaryLoopsEndWhereThreeTrianglesMeet(t *testing.T) {
	s := &Scan{
		Offsets:   []Vec32{{0, 0, 0}, {0, 1, 0}, {1, 0, 0}, {-1, 0, 0}, {0, 0, 1}},
		Triangles: [][3]int32{{0, 2, 1}, {0, 1, 3}, {0, 1, 4}},
	}
	loops := loopsOf(t, s)
	edges := 0
	for _, r := range loops {
		edges += len(r.Points) - 1
		if r.Closed {
			edges++
		}
		for i := 1; i < len(r.Points); i++ {
			assert.NotEqual(t, [2]int32{0, 1}, [2]int32{min(r.Points[i-1], r.Points[i]), max(r.Points[i-1], r.Points[i])})
		}
	}
	assert.Equal(t, 6, edges, "all open edges, each once")
}

func TestBoundaryLoopsOfAFanWithManyTriangles(t *testing.T) {
	// One vertex with 100,000 triangles around it: comparing each edge with
	// each would take minutes.
	const n = 100_000
	s := &Scan{Offsets: []Vec32{{0, 0, 0}}}
	for i := range n {
		phi := 2 * math.Pi * float64(i) / n
		s.Offsets = append(s.Offsets, Vec32{float32(math.Cos(phi)), float32(math.Sin(phi)), 0})
		s.Triangles = append(s.Triangles, [3]int32{0, int32(1 + i), int32(1 + (i+1)%n)})
	}
	loops := loopsOf(t, s)
	require.Len(t, loops, 1)
	assert.Len(t, loops[0].Points, n)
}

func TestBoundaryLoopsProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nx, ny := rapid.IntRange(1, 6).Draw(t, "nx"), rapid.IntRange(1, 6).Draw(t, "ny")
		gone := rapid.SliceOfN(rapid.Bool(), nx*ny, nx*ny).Draw(t, "gone")
		s := gridMesh(nx, ny, func(x, y int) bool { return gone[y*nx+x] })
		flip := rapid.Bool().Draw(t, "flip")
		for i := range s.Triangles {
			if flip && rapid.IntRange(0, 3).Draw(t, "turn") == 0 {
				s.Triangles[i][0], s.Triangles[i][1] = s.Triangles[i][1], s.Triangles[i][0]
			}
		}
		// Every open edge by counting, whatever the winding.
		uses := map[[2]int32]int{}
		for _, tr := range s.Triangles {
			for k := range 3 {
				a, b := tr[k], tr[(k+1)%3]
				uses[[2]int32{min(a, b), max(a, b)}]++
			}
		}
		open := map[[2]int32]bool{}
		for e, n := range uses {
			if n == 1 {
				open[e] = true
			}
		}
		area := 0.0
		for _, r := range loopsOf(t, s) {
			require.True(t, r.Closed, "no edge here has three triangles")
			require.Len(t, slices.Compact(slices.Sorted(slices.Values(r.Points))), len(r.Points), "no vertex twice")
			for i, p := range r.Points {
				q := r.Points[(i+1)%len(r.Points)]
				e := [2]int32{min(p, q), max(p, q)}
				require.True(t, open[e], "edge %v is open and in one loop only", e)
				delete(open, e)
			}
			area += loopArea(s, r)
		}
		require.Empty(t, open, "every open edge is in a loop")
		if !flip {
			// Green's theorem: the loops, surface on the left, go round it.
			require.Equal(t, float64(len(s.Triangles)), area)
		}
	})
}

func ExampleBoundaryLoops() {
	// A square washer of eight triangles.
	s := &Scan{
		Offsets: []Vec32{{0, 0, 0}, {3, 0, 0}, {3, 3, 0}, {0, 3, 0}, {1, 1, 0}, {2, 1, 0}, {2, 2, 0}, {1, 2, 0}},
		Triangles: [][3]int32{{0, 1, 4}, {1, 5, 4}, {1, 2, 5}, {2, 6, 5},
			{2, 3, 6}, {3, 7, 6}, {3, 0, 7}, {0, 4, 7}},
	}
	loops, _ := BoundaryLoops(context.Background(), s, 0)
	for _, r := range loops {
		fmt.Println(r.Points, r.Closed)
	}
	// Output:
	// [0 1 2 3] true
	// [4 7 6 5] true
}

func BenchmarkBoundaryLoops(b *testing.B) {
	s := gridMesh(1000, 1000, func(x, y int) bool { return x%50 < 10 && y%50 < 10 })
	for b.Loop() {
		_, _ = BoundaryLoops(b.Context(), s, 0)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(s.Triangles)), "ns/triangle")
}
