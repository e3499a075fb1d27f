package mesh

import (
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

// area returns twice the signed area that a rim goes round, seen from +Z.
func rimArea(s *Scan, r Rim) (area2 float64) {
	for i, p := range r.Points {
		a, b := s.Offsets[p], s.Offsets[r.Points[(i+1)%len(r.Points)]]
		area2 += float64(a[0]*b[1] - a[1]*b[0])
	}
	return area2
}

func TestRimsOfPlateWithHole(t *testing.T) {
	s := gridMesh(5, 5, func(x, y int) bool { return x == 2 && (y == 1 || y == 2) })
	rims := Rims(s)
	require.Len(t, rims, 2)
	assert.Equal(t, 20, len(rims[0].Points))
	assert.Equal(t, 50.0, rimArea(s, rims[0]), "the outline runs counter-clockwise, the surface on its left")
	assert.Equal(t, 6, len(rims[1].Points))
	assert.Equal(t, -4.0, rimArea(s, rims[1]), "the hole's rim runs clockwise, the surface on its left")
	for _, r := range rims {
		assert.True(t, r.Closed)
		assert.Equal(t, slices.Min(r.Points), r.Points[0])
	}
}

func TestRimsOfClosedMesh(t *testing.T) {
	s := &Scan{
		Offsets:   []Vec32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
		Triangles: [][3]int32{{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {2, 0, 3}},
	}
	assert.Empty(t, Rims(s))
	s.Triangles[2] = [3]int32{1, 3, 2} // flipped
	assert.Empty(t, Rims(s), "a flipped triangle opens nothing")
	assert.Empty(t, Rims(&Scan{}))
}

func TestRimsOfMoebiusBand(t *testing.T) {
	// A strip of n squares, its ends joined after half a turn: one rim, which
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
	rims := Rims(s)
	require.Len(t, rims, 1)
	assert.True(t, rims[0].Closed)
	assert.Len(t, rims[0].Points, 2*n)
}

func TestRimsWhereThingsTouch(t *testing.T) {
	t.Run("bow tie of two triangles", func(t *testing.T) {
		s := &Scan{
			Offsets:   []Vec32{{0, 0, 0}, {-1, -1, 0}, {-1, 1, 0}, {1, -1, 0}, {1, 1, 0}},
			Triangles: [][3]int32{{0, 2, 1}, {0, 3, 4}},
		}
		assert.Equal(t, []Rim{{[]int32{0, 2, 1}, true}, {[]int32{0, 3, 4}, true}}, Rims(s))
	})
	t.Run("two holes touching in a corner", func(t *testing.T) {
		s := gridMesh(6, 6, func(x, y int) bool { return x == 2 && y == 2 || x == 3 && y == 3 })
		rims := Rims(s)
		require.Len(t, rims, 3)
		for _, r := range rims[1:] {
			assert.Len(t, r.Points, 4)
			assert.Equal(t, -2.0, rimArea(s, r))
		}
	})
	t.Run("four holes round one square, touching in its corners", func(t *testing.T) {
		s := gridMesh(5, 5, func(x, y int) bool { return (x == 2) != (y == 2) && x > 0 && x < 4 && y > 0 && y < 4 })
		rims := Rims(s)
		require.Len(t, rims, 5)
		for _, r := range rims[1:] {
			assert.Len(t, r.Points, 4)
			assert.Equal(t, -2.0, rimArea(s, r))
		}
	})
	t.Run("hole touching the outline", func(t *testing.T) {
		s := gridMesh(4, 4, func(x, y int) bool { return x == 0 && y == 0 || x == 1 && y == 1 })
		total := 0.0
		for _, r := range Rims(s) {
			assert.True(t, r.Closed)
			total += rimArea(s, r)
		}
		assert.Equal(t, 28.0, total)
	})
}

func TestRimsEndWhereThreeTrianglesMeet(t *testing.T) {
	s := &Scan{
		Offsets:   []Vec32{{0, 0, 0}, {0, 1, 0}, {1, 0, 0}, {-1, 0, 0}, {0, 0, 1}},
		Triangles: [][3]int32{{0, 2, 1}, {0, 1, 3}, {0, 1, 4}},
	}
	rims := Rims(s)
	edges := 0
	for _, r := range rims {
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

func TestRimsOfAFanWithManyTriangles(t *testing.T) {
	// One vertex with 100,000 triangles around it: comparing each edge with
	// each would take minutes.
	const n = 100_000
	s := &Scan{Offsets: []Vec32{{0, 0, 0}}}
	for i := range n {
		phi := 2 * math.Pi * float64(i) / n
		s.Offsets = append(s.Offsets, Vec32{float32(math.Cos(phi)), float32(math.Sin(phi)), 0})
		s.Triangles = append(s.Triangles, [3]int32{0, int32(1 + i), int32(1 + (i+1)%n)})
	}
	rims := Rims(s)
	require.Len(t, rims, 1)
	assert.Len(t, rims[0].Points, n)
}

func TestRimsProperty(t *testing.T) {
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
		for _, r := range Rims(s) {
			require.True(t, r.Closed, "no edge here has three triangles")
			require.Len(t, slices.Compact(slices.Sorted(slices.Values(r.Points))), len(r.Points), "no vertex twice")
			for i, p := range r.Points {
				q := r.Points[(i+1)%len(r.Points)]
				e := [2]int32{min(p, q), max(p, q)}
				require.True(t, open[e], "edge %v is open and in one rim only", e)
				delete(open, e)
			}
			area += rimArea(s, r)
		}
		require.Empty(t, open, "every open edge is in a rim")
		if !flip {
			// Green's theorem: the rims, surface on the left, go round it.
			require.Equal(t, float64(len(s.Triangles)), area)
		}
	})
}

func ExampleRims() {
	// A square washer of eight triangles.
	s := &Scan{
		Offsets: []Vec32{{0, 0, 0}, {3, 0, 0}, {3, 3, 0}, {0, 3, 0}, {1, 1, 0}, {2, 1, 0}, {2, 2, 0}, {1, 2, 0}},
		Triangles: [][3]int32{{0, 1, 4}, {1, 5, 4}, {1, 2, 5}, {2, 6, 5},
			{2, 3, 6}, {3, 7, 6}, {3, 0, 7}, {0, 4, 7}},
	}
	for _, r := range Rims(s) {
		fmt.Println(r.Points, r.Closed)
	}
	// Output:
	// [0 1 2 3] true
	// [4 7 6 5] true
}

func BenchmarkRims(b *testing.B) {
	s := gridMesh(1000, 1000, func(x, y int) bool { return x%50 < 10 && y%50 < 10 })
	for b.Loop() {
		Rims(s)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(s.Triangles)), "ns/triangle")
}
