package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A face strewn at 4 points a mm² with a hole of radius 5, its wall scanned
// thinly, a tenth of the points astray, some within the hole. A point whose
// half disc of neighbours is missing sees a gap of half a turn; 30 neighbours
// all around leave a gap beyond 100 degrees at no more than 30·(1-100/360)^29
// = 0.2 % of the points (Stevens 1939: coverage of a circle, first term).
func TestBoundaryPointsOfAHoleInACloud(t *testing.T) {
	for seed := range uint64(3) {
		c := newSampler(seed, 0.02)
		c.flat(0, 20, 4, 1, func(x, y float64) float64 { return math.Hypot(x, y) - 5 })
		face := len(c.pts)
		c.wall(0, 0, 5, -4, 0, 0.5, -1, nil)
		c.astray(0.1)
		s := &Scan{Offsets: c.pts}
		_, err := SetNormals(t.Context(), s, nil, 0)
		require.NoError(t, err)
		idx := make([]int32, face)
		for i := range idx {
			idx[i] = int32(i)
		}
		got := BoundaryPoints(s, nil, idx, 30, 100*math.Pi/180)
		is := map[int32]bool{}
		for _, i := range got {
			is[i] = true
		}
		// By distance from the hole's edge or the square's, spacing 0.5 mm, the
		// 30 neighbours within 1.55 mm.
		var atEdge, atEdgeFound, inside, insideFound int
		for i := range int32(face) {
			p := s.Offsets[i]
			d := min(math.Hypot(float64(p[0]), float64(p[1]))-5, 20-math.Abs(float64(p[0])), 20-math.Abs(float64(p[1])))
			switch {
			case d < 0.15:
				atEdge++
				if is[i] {
					atEdgeFound++
				}
			case d > 2:
				inside++
				if is[i] {
					insideFound++
				}
			}
		}
		// One in 100 is missed and 0.2 % are marked inside: five standard
		// deviations from either, 6 comparisons, one false alarm in 100,000.
		assert.Greater(t, float64(atEdgeFound)/float64(atEdge), 0.95, "seed %d: points at an edge", seed)
		assert.Less(t, float64(insideFound)/float64(inside), 0.006, "seed %d: points inside", seed)
	}
}

func TestBoundaryPointsOfAGridAreExact(t *testing.T) {
	// 8 neighbours of a square grid: an edge point sees half a turn free, a
	// corner point three quarters, one inside an eighth.
	s := &Scan{}
	for y := range 10 {
		for x := range 10 {
			s.Offsets = append(s.Offsets, Vec32{float32(x), float32(y), 0})
		}
	}
	got := BoundaryPoints(s, nil, nil, 8, 0.9*math.Pi)
	var want []int32
	for i, p := range s.Offsets {
		if p[0] == 0 || p[0] == 9 || p[1] == 0 || p[1] == 9 {
			want = append(want, int32(i))
		}
	}
	assert.Equal(t, want, got)
	assert.Equal(t, []int32{9, 0}, BoundaryPoints(s, nil, []int32{9, 55, 0}, 8, 0.9*math.Pi), "those asked for, in their order")
	assert.Empty(t, BoundaryPoints(s, nil, nil, 8, 1.9*math.Pi))
	assert.Empty(t, BoundaryPoints(&Scan{}, nil, nil, 8, 1))
}

func ExampleBoundaryPoints() {
	s := &Scan{}
	for y := range 3 {
		for x := range 3 {
			s.Offsets = append(s.Offsets, Vec32{float32(x), float32(y), 0})
		}
	}
	fmt.Println(BoundaryPoints(s, nil, nil, 8, 3))
	// Output: [0 1 2 3 5 6 7 8]
}

func BenchmarkBoundaryPoints(b *testing.B) {
	const n = 100_000
	s := &Scan{Offsets: onSphere(rand.New(rand.NewPCG(5, 5)), n, 50)}
	ix := NewIndex(s.Offsets, 0)
	for b.Loop() {
		BoundaryPoints(s, ix, nil, 30, math.Pi/2)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/pt")
}
