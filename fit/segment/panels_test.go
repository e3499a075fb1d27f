package segment

import (
	"context"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// poses are how a model may lie: as drawn, turned, and a metre away, where
// single precision leaves steps of 6e-5 mm.
func poses() map[string]pose {
	return map[string]pose{
		"as drawn":            upright(),
		"turned":              randomPose(1, 30),
		"turned, 1 m away":    randomPose(2, 1e3),
		"turned, other side":  randomPose(3, 200),
		"only shifted by 1 m": {r3.Vector{X: 1}, r3.Vector{Y: 1}, r3.Vector{Z: 1}, r3.Vector{X: 1e3, Y: -1e3, Z: 1e3}},
	}
}

func counts(seg *Segmentation) [4]int {
	return [4]int{len(seg.Planes()), len(seg.Cylinders()), len(seg.Cones()), len(seg.Spheres())}
}

func TestPrismsOfUpToEightSidesArePlanes(t *testing.T) {
	for name, p := range poses() {
		for _, n := range []int{3, 4, 5, 6, 8} {
			t.Run(fmt.Sprintf("%d sides, %s", n, name), func(t *testing.T) {
				var m model
				m.prism(ring(n, 10, 0, 0, 0, 3), 12)
				s, seg := m.segmented(t, p)
				assert.True(t, isTessellated(s))
				assert.Equal(t, [4]int{n + 2}, counts(seg))
				assert.NotContains(t, seg.TriangleSurface, int32(-1))
				for _, q := range seg.Planes() {
					out := q.Point.Sub(p.of(r3.Vector{Z: 6}))
					assert.Positive(t, out.Dot(q.Normal), "normals point out of the material")
				}
			})
		}
	}
}

func TestHexagonRecessIsPlanes(t *testing.T) {
	var m model
	outer := ring(48, 20, 0, 0, 0, 0)
	recess := ring(6, 6, 0, 0, 4, 0)
	m.wall(outer, lifted(outer, 10), true)
	m.disc(outer, false)
	m.between(lifted(recess, 6), lifted(outer, 10), true)
	m.wall(recess, lifted(recess, 6), false)
	m.disc(recess, true)
	for name, p := range poses() {
		t.Run(name, func(t *testing.T) {
			_, seg := m.segmented(t, p)
			assert.Equal(t, [4]int{9, 1}, counts(seg))
			assert.False(t, seg.Cylinders()[0].Internal)
		})
	}
}

func TestCylindersOfManySidesWithTheirEnds(t *testing.T) {
	const radius, height = 7.5, 20
	for name, p := range poses() {
		for _, n := range []int{9, 10, 12, 16, 24, 33, 64, 200} {
			t.Run(fmt.Sprintf("%d sides, %s", n, name), func(t *testing.T) {
				var m model
				m.prism(ring(n, radius, 3, -4, 0, 11), height)
				s, seg := m.segmented(t, p)
				require.Equal(t, [4]int{2, 1}, counts(seg))
				c := seg.Cylinders()[0]
				near := 2 * coordinateRounding(s)
				assert.InDelta(t, radius, c.Radius, near)
				assert.InDelta(t, 1, math.Abs(c.Axis.Dot(p.z)), 1e-9)
				assert.Less(t, c.Point.Distance(p.of(r3.Vector{X: 3, Y: -4, Z: height / 2})), 3*near)
				assert.False(t, c.Internal)
				assert.InDelta(t, 360, c.Arc.Degrees(), 1e-6)
				assert.InDelta(t, height, c.Extent[1]-c.Extent[0], 3*near)
				assert.Len(t, c.Points, 2*n)
				assert.Len(t, seg.Planes()[0].Points, n)
				for k, id := range [...]string{"P1", "P2", "C1"} {
					assert.Equal(t, id, seg.Surfaces[k].ID)
				}
				assert.NotContains(t, seg.TriangleSurface, int32(-1))
				assert.NotContains(t, seg.PointSurface, int32(-1))
				assert.InDelta(t, 2*radius*float64(n)*math.Sin(math.Pi/float64(n))*height,
					areaOf(s, seg, "C1"), 100*near)
			})
		}
	}
}

// areaOf adds up the triangles of a surface.
func areaOf(s *mesh.Scan, seg *Segmentation, id string) float64 {
	sum := 0.0
	for i, f := range seg.TriangleSurface {
		if f >= 0 && seg.Surfaces[f].ID == id {
			c := s.Triangles[i]
			a := s.Point(int(c[0]))
			sum += s.Point(int(c[1])).Sub(a).Cross(s.Point(int(c[2])).Sub(a)).Norm() / 2
		}
	}
	return sum
}

func TestTubeHasAnInsideAndAnOutside(t *testing.T) {
	var m model
	in, out := ring(40, 15, 0, 0, 0, 0), ring(64, 20, 0, 0, 0, 5)
	m.wall(out, lifted(out, 30), true)
	m.wall(in, lifted(in, 30), false)
	m.between(lifted(in, 30), lifted(out, 30), true)
	m.between(in, out, false)
	for name, p := range poses() {
		t.Run(name, func(t *testing.T) {
			_, seg := m.segmented(t, p)
			require.Equal(t, [4]int{2, 2}, counts(seg))
			assert.InDelta(t, 20, seg.Cylinders()[0].Radius, 1e-4, "C1 is the larger")
			assert.False(t, seg.Cylinders()[0].Internal)
			assert.InDelta(t, 15, seg.Cylinders()[1].Radius, 1e-4)
			assert.True(t, seg.Cylinders()[1].Internal)
		})
	}
}

func TestPlateWithHolesOfDifferentTessellation(t *testing.T) {
	sides := []int{9, 12, 16, 17, 32, 64, 100, 6}
	var m model
	m.holePlate(20, 4.5, len(sides), sides)
	for name, p := range poses() {
		t.Run(name, func(t *testing.T) {
			s, seg := m.segmented(t, p)
			assert.True(t, isTessellated(s))
			require.Equal(t, [4]int{6 + 6, 7}, counts(seg), "the hole of six sides is planes")
			for _, c := range seg.Cylinders() {
				assert.True(t, c.Internal)
				assert.InDelta(t, 4.5, c.Radius, 2*coordinateRounding(s))
				assert.InDelta(t, 360, c.Arc.Degrees(), 1e-6)
				nearest := math.Inf(1)
				for i := range sides {
					nearest = min(nearest, c.Point.Distance(p.of(r3.Vector{X: 20 * float64(i), Z: 4})))
				}
				assert.Less(t, nearest, 4*coordinateRounding(s))
			}
			assert.NotContains(t, seg.TriangleSurface, int32(-1))
		})
	}
}

func TestEndsDividedDifferentlyAreOneCylinder(t *testing.T) {
	// The wall's triangles stand on the bottom and on the top ring in turn,
	// so no edge runs along the axis.
	for _, n := range []int{12, 25, 49} {
		low := ring(n, 50, 0, 0, 0, 0)
		high := ring(n, 50, 0, 0, 9.6, 180/float64(n))
		outer := square(70, 0, 0, 0)
		var m model
		for i := range n {
			j := (i + 1) % n
			m.tri(low[j], low[i], high[i])
			m.tri(high[i], high[j], low[j])
		}
		m.between(low, outer, false)
		m.between(high, lifted(outer, 9.6), true)
		m.wall(outer, lifted(outer, 9.6), true)
		for name, p := range poses() {
			t.Run(fmt.Sprintf("%d sides, %s", n, name), func(t *testing.T) {
				s, seg := m.segmented(t, p)
				require.Equal(t, [4]int{6, 1}, counts(seg))
				c := seg.Cylinders()[0]
				assert.InDelta(t, 50, c.Radius, 2*coordinateRounding(s))
				assert.True(t, c.Internal)
				assert.InDelta(t, 360, c.Arc.Degrees(), 1e-6)
				assert.NotContains(t, seg.TriangleSurface, int32(-1))
			})
		}
	}
}

func TestRoundedSlotIsNotOneCylinder(t *testing.T) {
	// A block with two of its upright edges rounded, radius 6, and two sharp
	// ones; a slot with round ends through it.
	for _, steps := range []int{5, 8, 20} {
		outline := slices.Concat(
			[]r3.Vector{{X: -30, Y: -15}, {X: 30, Y: -15}},
			arcPoints(steps, 6, 24, 9, 0, 0, 90),
			arcPoints(steps, 6, -24, 9, 0, 90, 180),
		)
		slot := slices.Concat(arcPoints(2*steps, 4, 8, 0, 0, -90, 90), arcPoints(2*steps, 4, -8, 0, 0, 90, 270))
		var m model
		m.wall(outline, lifted(outline, 10), true)
		m.wall(slot, lifted(slot, 10), false)
		m.between(lifted(slot, 10), lifted(outline, 10), true)
		m.between(slot, outline, false)
		for name, p := range poses() {
			t.Run(fmt.Sprintf("%d points a quarter, %s", steps, name), func(t *testing.T) {
				_, seg := m.segmented(t, p)
				// top, bottom, four sides, two of the slot
				require.Equal(t, [4]int{8, 4}, counts(seg))
				var internal, external []float64
				for _, c := range seg.Cylinders() {
					if c.Internal {
						internal = append(internal, c.Radius)
						assert.InDelta(t, 180, c.Arc.Degrees(), 0.01)
					} else {
						external = append(external, c.Radius)
						assert.InDelta(t, 90, c.Arc.Degrees(), 0.01)
					}
				}
				assert.InDeltaSlice(t, []float64{4, 4}, internal, 1e-3)
				assert.InDeltaSlice(t, []float64{6, 6}, external, 1e-3)
			})
		}
	}
}

func TestCurvesThatAreNoCirclesAreNoCylinders(t *testing.T) {
	for _, n := range []int{24, 60, 180, 400} {
		loop := ring(n, 10, 0, 0, 0, 0)
		for i := range loop {
			loop[i].X *= 1.3
		}
		var m model
		m.prism(loop, 8)
		_, seg := m.segmented(t, randomPose(7, 10))
		assert.Empty(t, seg.Cylinders(), "ellipse of %d sides", n)
		assert.GreaterOrEqual(t, len(seg.Planes()), 2)
	}
}

func TestHalvesOfABoreAreOneCylinder(t *testing.T) {
	// A bore with two keyways: its wall is in two pieces that do not touch.
	const n = 21
	key := func(x float64) []r3.Vector { return []r3.Vector{{X: x, Y: -2}, {X: x, Y: 2}} }
	a := math.Asin(2.0/10) * 180 / math.Pi
	bore := slices.Concat(
		key(12), arcPoints(n, 10, 0, 0, 0, a, 180-a),
		[]r3.Vector{{X: -12, Y: 2}, {X: -12, Y: -2}}, arcPoints(n, 10, 0, 0, 0, 180+a, 360-a),
	)
	outer := ring(50, 20, 0, 0, 0, 0)
	var m model
	m.wall(bore, lifted(bore, 15), false)
	m.wall(outer, lifted(outer, 15), true)
	m.between(lifted(bore, 15), lifted(outer, 15), true)
	m.between(bore, outer, false)
	for name, p := range poses() {
		t.Run(name, func(t *testing.T) {
			_, seg := m.segmented(t, p)
			require.Equal(t, [4]int{8, 2}, counts(seg))
			c := seg.Cylinders()[1]
			assert.True(t, c.Internal)
			assert.InDelta(t, 360-4*a, c.Arc.Degrees(), 0.01)
			assert.InDelta(t, 10, c.Radius, 1e-3)
			assert.Len(t, c.Points, 4*n)
		})
	}
}

func TestSamePanelsOnEveryRun(t *testing.T) {
	var m model
	m.holePlate(20, 4.5, 6, []int{9, 12, 16, 17, 32, 64})
	s := m.scan(t, randomPose(1, 30))
	first, err := segmentPanels(t.Context(), s, Options{Seed: 1, Jobs: 1})
	require.NoError(t, err)
	for i := range 5 {
		again, err := segmentPanels(t.Context(), s, Options{Seed: uint64(i), Jobs: i})
		require.NoError(t, err)
		require.Equal(t, first, again)
	}
}

func TestPanelsCanBeCancelled(t *testing.T) {
	var m model
	m.holePlate(20, 4.5, 1, []int{32})
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := segmentPanels(ctx, m.scan(t, upright()), Options{})
	assert.ErrorIs(t, err, context.Canceled)
}

func BenchmarkPanels(b *testing.B) {
	for _, holes := range []int{9, 100, 900} {
		b.Run(fmt.Sprintf("%d holes", holes), func(b *testing.B) {
			var m model
			sides := make([]int, holes)
			for i := range sides {
				sides[i] = 24 + i%3*8
			}
			m.holePlate(20, 4.5, int(math.Sqrt(float64(holes))), sides)
			s := m.scan(b, randomPose(1, 30))
			for b.Loop() {
				seg, err := segmentPanels(b.Context(), s, Options{})
				require.NoError(b, err)
				require.Equal(b, [4]int{6, holes}, counts(seg))
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(s.Triangles)), "ns/triangle")
		})
	}
}
