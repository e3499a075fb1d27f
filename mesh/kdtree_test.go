package mesh

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// nearestByHand is what Nearest must return: every distance looked at.
func nearestByHand(pts []Vec32, q Vec32, k int, maxDist float32) []Neighbour {
	all := []Neighbour{}
	for i, p := range pts {
		d2 := squared(q[0]-p[0], q[1]-p[1], q[2]-p[2])
		if d2 <= math.MaxFloat32 && (maxDist <= 0 || d2 <= float32(maxDist*maxDist)) {
			all = append(all, Neighbour{int32(i), d2})
		}
	}
	slices.SortFunc(all, func(a, b Neighbour) int {
		return cmp.Or(cmp.Compare(a.D2, b.D2), cmp.Compare(a.I, b.I))
	})
	return all[:min(k, len(all))]
}

func withinByHand(pts []Vec32, q Vec32, radius float32) []int32 {
	var all []int32
	for i, p := range pts {
		if squared(q[0]-p[0], q[1]-p[1], q[2]-p[2]) <= float32(radius*radius) {
			all = append(all, int32(i))
		}
	}
	return all
}

// onSphere returns n points spread at random over a sphere about the origin.
func onSphere(rng *rand.Rand, n int, r float64) []Vec32 {
	out := make([]Vec32, n)
	for i := range out {
		x, y, z := rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()
		l := r / math.Sqrt(x*x+y*y+z*z)
		out[i] = Vec32{float32(x * l), float32(y * l), float32(z * l)}
	}
	return out
}

func TestKDTreeFindsWhatLookingAtEveryPointFinds(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	grid := func(n int) (out []Vec32) { // many equal coordinates and distances
		for i := range n {
			out = append(out, Vec32{float32(i % 17), float32(i / 17 % 13), float32(i % 3)})
		}
		return out
	}
	sets := map[string][]Vec32{
		"one point":            {{1, 2, 3}},
		"a leaf":               onSphere(rng, 12, 5),
		"just over a leaf":     onSphere(rng, 13, 5),
		"sphere":               onSphere(rng, 3000, 40),
		"grid with duplicates": grid(1500),
		"all points equal":     make([]Vec32, 100),
		"a line": func() (o []Vec32) {
			for i := range 500 {
				o = append(o, Vec32{0, float32(i) * .1, 0})
			}
			return
		}(),
	}
	for name, pts := range sets {
		t.Run(name, func(t *testing.T) {
			tree := NewKDTree(pts, 2)
			var nb []Neighbour
			var in []int32
			for i := range 100 {
				q := pts[rng.IntN(len(pts))]
				if i%2 == 0 {
					for c := range q {
						q[c] += float32(rng.NormFloat64())
					}
				}
				k := 1 + rng.IntN(40)
				maxDist := float32(0)
				if i%3 == 0 {
					maxDist = rng.Float32() * 5
				}
				nb = tree.Nearest(q, k, maxDist, nb[:0])
				require.Equal(t, nearestByHand(pts, q, k, maxDist), append([]Neighbour{}, nb...), "q %v k %d within %g", q, k, maxDist)
				r := rng.Float32() * 4
				in = tree.InRadius(q, r, in[:0])
				got := slices.Sorted(slices.Values(in))
				require.Equal(t, withinByHand(pts, q, r), got, "q %v r %g", q, r)
			}
		})
	}
}

func TestKDTreeProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Small whole coordinates: ties everywhere.
		coord := rapid.Float32Range(-4, 4)
		if rapid.Bool().Draw(t, "whole") {
			coord = rapid.Map(rapid.IntRange(-3, 3), func(i int) float32 { return float32(i) })
		}
		vec := rapid.Custom(func(t *rapid.T) Vec32 {
			return Vec32{coord.Draw(t, "x"), coord.Draw(t, "y"), coord.Draw(t, "z")}
		})
		pts := rapid.SliceOfN(vec, 1, 120).Draw(t, "pts")
		q := vec.Draw(t, "q")
		k := rapid.IntRange(0, 130).Draw(t, "k")
		tree := NewKDTree(pts, rapid.IntRange(1, 3).Draw(t, "jobs"))
		got := tree.Nearest(q, k, 0, []Neighbour{{-1, -1}})
		assert.Equal(t, Neighbour{-1, -1}, got[0], "what stood in the buffer stays")
		assert.Equal(t, nearestByHand(pts, q, k, 0), append([]Neighbour{}, got[1:]...))
	})
}

func TestKDTreeDoesNotDependOnJobs(t *testing.T) {
	pts := onSphere(rand.New(rand.NewPCG(2, 2)), 50_000, 30)
	one := NewKDTree(pts, 1)
	for _, jobs := range []int{2, 3, 8} {
		assert.Equal(t, one, NewKDTree(pts, jobs), "%d jobs", jobs)
	}
}

func TestKDTreeLeavesOutPointsThatAreNowhere(t *testing.T) {
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	pts := onSphere(rand.New(rand.NewPCG(3, 3)), 200, 3)
	good := slices.Clone(pts)
	for i := range 30 {
		pts = append(pts, Vec32{nan, float32(i), 0}, Vec32{0, -inf, 0})
	}
	tree := NewKDTree(pts, 1)
	assert.Equal(t, nearestByHand(good, Vec32{}, 500, 0), tree.Nearest(Vec32{}, 500, 0, nil))
	assert.Empty(t, tree.Nearest(Vec32{nan, 0, 0}, 5, 0, nil), "no place, no neighbours")
	assert.Empty(t, NewKDTree(nil, 1).Nearest(Vec32{}, 3, 0, nil))
	assert.Empty(t, NewKDTree(nil, 1).InRadius(Vec32{}, 3, nil))
}

func TestKDTreeIsSafeForConcurrentUseAndAllocatesNothing(t *testing.T) {
	pts := onSphere(rand.New(rand.NewPCG(4, 4)), 2000, 20)
	tree := NewKDTree(pts, 0)
	want := nearestByHand(pts, pts[7], 12, 0)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			buf := make([]Neighbour, 0, 12)
			for range 200 {
				buf = tree.Nearest(pts[7], 12, 0, buf[:0])
				assert.Equal(t, want, buf)
			}
		})
	}
	wg.Wait()
	buf := make([]Neighbour, 0, 12)
	in := make([]int32, 0, 2000)
	assert.Zero(t, testing.AllocsPerRun(100, func() {
		buf = tree.Nearest(pts[9], 12, 0, buf[:0])
		in = tree.InRadius(pts[9], 3, in[:0])
	}))
}

func ExampleKDTree_Nearest() {
	pts := []Vec32{{0, 0, 0}, {3, 0, 0}, {0, 4, 0}, {9, 9, 9}}
	tree := NewKDTree(pts, 0)
	for _, n := range tree.Nearest(Vec32{1, 0, 0}, 3, 0, nil) {
		fmt.Printf("point %d at %.3f mm\n", n.I, math.Sqrt(float64(n.D2)))
	}
	// Output:
	// point 0 at 1.000 mm
	// point 1 at 2.000 mm
	// point 2 at 4.123 mm
}

func BenchmarkNewKDTree(b *testing.B) {
	for _, n := range []int{100_000, 1_000_000, 10_000_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			pts := onSphere(rand.New(rand.NewPCG(5, 5)), n, 50)
			for b.Loop() {
				NewKDTree(pts, 0)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/pt")
		})
	}
}

func BenchmarkNearest(b *testing.B) {
	const n = 1_000_000
	pts := onSphere(rand.New(rand.NewPCG(5, 5)), n, 50)
	tree := NewKDTree(pts, 0)
	for _, k := range []int{1, 12, 24} {
		b.Run(fmt.Sprintf("k=%d/tree order", k), func(b *testing.B) {
			buf := make([]Neighbour, 0, k)
			i := 0
			for b.Loop() {
				buf = tree.Nearest(pts[tree.Order(i)], k, 0, buf[:0])
				i = (i + 1) % n
			}
		})
		b.Run(fmt.Sprintf("k=%d/any order", k), func(b *testing.B) {
			buf := make([]Neighbour, 0, k)
			i := 0
			for b.Loop() {
				buf = tree.Nearest(pts[i], k, 0, buf[:0])
				i = (i + 1) % n
			}
		})
	}
}
