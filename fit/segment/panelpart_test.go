package segment

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// turned adds a solid of revolution through the profile's points (radius,
// height), from the axis below to the axis above.
func (m *model) turned(n int, profile [][2]float64) { m.latitudes(n, profile, true) }

func TestTurnedPartWithFillets(t *testing.T) {
	// A stepped shaft: radius 20 and 10, a fillet of radius 3 in the corner
	// between, a rounding of radius 2 at the top and a chamfer at the bottom.
	profile := slices.Concat(
		[][2]float64{{0, 0}, {18, 0}, {20, 1}, {20, 15}},
		arcProfile(7, 3, 13, 18, -90, -180),
		arcProfile(6, 2, 8, 38, 0, 90),
		[][2]float64{{0, 40}},
	)
	var m model
	m.turned(48, profile)
	for name, p := range poses() {
		t.Run(name, func(t *testing.T) {
			s, seg := m.segmented(t, p)
			assert.True(t, isTessellated(s))
			require.Equal(t, [4]int{3, 2, 1}, counts(seg), "the fillet and the rounding are tori")
			assert.InDelta(t, 20, seg.Cylinders()[0].Radius, 1e-3)
			assert.InDelta(t, 10, seg.Cylinders()[1].Radius, 1e-3)
			assert.InDelta(t, math.Atan2(2, 1), seg.Cones()[0].HalfAngle.Radians(), 1e-3)
		})
	}
}

func TestBlindHoleWithADrillPoint(t *testing.T) {
	const n = 24
	rim, deep := ring(n, 4, 0, 0, 20, 0), ring(n, 4, 0, 0, 8, 0)
	outer := square(12, 0, 0, 0)
	var m model
	m.disc(outer, false)
	m.wall(outer, lifted(outer, 20), true)
	m.between(rim, lifted(outer, 20), true)
	m.wall(deep, rim, false)
	tip := r3.Vector{Z: 8 - 4/math.Tan(59*math.Pi/180)}
	for i := range n {
		m.tri(deep[i], deep[(i+1)%n], tip)
	}
	for name, p := range poses() {
		t.Run(name, func(t *testing.T) {
			s, seg := m.segmented(t, p)
			require.Equal(t, [4]int{6, 1, 1}, counts(seg))
			k := seg.Cones()[0]
			near := coordinateRounding(s)
			assert.InDelta(t, 59, k.HalfAngle.Degrees(), 100*near)
			assert.True(t, k.Internal)
			assert.Less(t, k.Apex.Distance(p.of(tip)), 10*near)
			assert.InDelta(t, 1, k.Axis.Dot(p.z), 1e-8)
		})
	}
}

func TestShaftWithAFlat(t *testing.T) {
	// The flat's edges lie on the shaft, as any chord's do.
	for _, half := range []float64{25, 40, 80} {
		outline := arcPoints(40, 10, 0, 0, 0, half, 360-half)
		var m model
		m.prism(outline, 30)
		for name, p := range poses() {
			t.Run(fmt.Sprintf("%g degrees, %s", 2*half, name), func(t *testing.T) {
				_, seg := m.segmented(t, p)
				require.Equal(t, [4]int{3, 1}, counts(seg))
				assert.InDelta(t, 360-2*half, seg.Cylinders()[0].Arc.Degrees(), 0.01)
				assert.InDelta(t, 10, seg.Cylinders()[0].Radius, 1e-3)
			})
		}
	}
}

func TestCylinderCutOffAtAnAngle(t *testing.T) {
	// A solid modeller cuts the flat sides, not the cylinder: a plane at a
	// slant, and one along the axis through the middle of two sides, leave
	// corners on the chords.
	const n = 32
	low := ring(n, 10, 0, 0, 0, 0)
	high := make([]r3.Vector, n)
	for i, q := range low {
		high[i] = r3.Vector{X: q.X, Y: q.Y, Z: 30 + q.X/2}
	}
	var slant model
	slant.wall(low, high, true)
	slant.disc(low, false)
	slant.disc(high, true)

	mid := func(a, b r3.Vector) r3.Vector { return a.Add(b).Mul(0.5) }
	from := mid(low[0], low[1])
	to := mid(low[20], low[21])
	outline := slices.Concat([]r3.Vector{from}, low[1:21], []r3.Vector{to})
	var along model
	along.prism(outline, 30)

	for name, p := range poses() {
		t.Run(name, func(t *testing.T) {
			s, seg := slant.segmented(t, p)
			require.Equal(t, [4]int{2, 1}, counts(seg))
			assert.InDelta(t, 10, seg.Cylinders()[0].Radius, 2*coordinateRounding(s))
			assert.InDelta(t, 360, seg.Cylinders()[0].Arc.Degrees(), 1e-6)
			s, seg = along.segmented(t, p)
			require.Equal(t, [4]int{3, 1}, counts(seg))
			assert.InDelta(t, 10, seg.Cylinders()[0].Radius, 3*coordinateRounding(s))
			assert.NotContains(t, seg.TriangleSurface, int32(-1), "the half sides at the ends too")
			assert.InDelta(t, 360*20/n, seg.Cylinders()[0].Arc.Degrees(), 0.5)
		})
	}
}

func TestStackedBoresComeApart(t *testing.T) {
	// Radii 4 % apart, and a short lead-in of 15 degrees.
	const n = 40
	z := []float64{0, 10, 10, 25, 25 + 2/math.Tan(15*math.Pi/180)}
	r := []float64{10, 10, 10.4, 10.4, 12.4}
	loops := make([][]r3.Vector, len(z))
	for i := range z {
		loops[i] = ring(n, r[i], 0, 0, z[i], 0)
	}
	outer := ring(n, 20, 0, 0, 0, 0)
	top := z[len(z)-1]
	var m model
	m.between(loops[0], outer, false)
	m.wall(loops[0], loops[1], false)
	m.between(loops[1], loops[2], true)
	m.wall(loops[2], loops[3], false)
	m.wall(loops[3], loops[4], false)
	m.between(loops[4], lifted(outer, top), true)
	m.wall(outer, lifted(outer, top), true)
	for name, p := range poses() {
		t.Run(name, func(t *testing.T) {
			_, seg := m.segmented(t, p)
			require.Equal(t, [4]int{3, 3, 1}, counts(seg))
			assert.InDelta(t, 10.4, seg.Cylinders()[1].Radius, 1e-3)
			assert.InDelta(t, 10, seg.Cylinders()[2].Radius, 1e-3)
			assert.InDelta(t, 15, seg.Cones()[0].HalfAngle.Degrees(), 1e-2)
		})
	}
}

func TestWallOfTwoTessellationsIsOneCylinder(t *testing.T) {
	// The lower half has 20 sides, the upper 33; they meet along a ring with
	// no vertex in common. Open ends: nothing else is there.
	var m model
	low, high := ring(20, 10, 0, 0, 0, 0), ring(33, 10, 0, 0, 10, 4)
	m.wall(low, lifted(low, 10), false)
	m.wall(high, lifted(high, 10), false)
	for name, p := range poses() {
		t.Run(name, func(t *testing.T) {
			_, seg := m.segmented(t, p)
			require.Equal(t, [4]int{0, 1}, counts(seg))
			assert.Len(t, seg.Cylinders()[0].Points, 2*(20+33))
			assert.InDelta(t, 20, seg.Cylinders()[0].Extent[1]-seg.Cylinders()[0].Extent[0], 1e-3)
		})
	}
}

func TestCoaxialHolesOfAForkStayTwo(t *testing.T) {
	// Two ears with a hole each on one axis, 20 apart: two faces of the part.
	var m model
	for _, x := range []float64{0, 28} {
		hole, edge := ring(32, 5, 0, 0, x, 0), square(12, 0, 0, x)
		m.between(hole, edge, false)
		m.between(lifted(hole, 8), lifted(edge, 8), true)
		m.wall(hole, lifted(hole, 8), false)
		m.wall(edge, lifted(edge, 8), true)
	}
	_, seg := m.segmented(t, randomPose(1, 50))
	assert.Equal(t, [4]int{12, 2}, counts(seg))
}

func TestRoundedBlockHasCylindersAndBalls(t *testing.T) {
	// A block 60 x 40 x 20 with all its edges rounded, radius 5: 6 faces, 12
	// quarter cylinders, 8 eighths of a ball.
	const r, steps = 5.0, 6
	half := r3.Vector{X: 30 - r, Y: 20 - r, Z: 10 - r}
	// at is the point of the rounded block in a direction of a cube's face grid.
	corner := func(sx, sy, sz float64, i, j int) r3.Vector {
		lat, lon := float64(i)*math.Pi/2/steps, float64(j)*math.Pi/2/steps
		d := r3.Vector{X: math.Cos(lat) * math.Cos(lon), Y: math.Cos(lat) * math.Sin(lon), Z: math.Sin(lat)}.Mul(r)
		return r3.Vector{X: sx * (half.X + d.X), Y: sy * (half.Y + d.Y), Z: sz * (half.Z + d.Z)}
	}
	var m model
	quad := func(a, b, c, d r3.Vector) { // turned outward, seen from the middle
		if b.Sub(a).Cross(c.Sub(a)).Dot(a) < 0 {
			a, b, c, d = d, c, b, a
		}
		if a.Distance(b) > 1e-9 {
			m.tri(a, b, c)
		}
		if c.Distance(d) > 1e-9 {
			m.tri(a, c, d)
		}
	}
	for _, sz := range []float64{-1, 1} {
		for _, sx := range []float64{-1, 1} {
			for _, sy := range []float64{-1, 1} {
				for i := range steps {
					for j := range steps {
						quad(corner(sx, sy, sz, i, j), corner(sx, sy, sz, i, j+1), corner(sx, sy, sz, i+1, j+1), corner(sx, sy, sz, i+1, j))
					}
				}
			}
		}
		for i := range steps {
			for _, s := range []float64{-1, 1} {
				quad(corner(s, -1, sz, i, 0), corner(s, 1, sz, i, 0), corner(s, 1, sz, i+1, 0), corner(s, -1, sz, i+1, 0))
				quad(corner(-1, s, sz, i, steps), corner(1, s, sz, i, steps), corner(1, s, sz, i+1, steps), corner(-1, s, sz, i+1, steps))
			}
		}
		quad(corner(-1, -1, sz, steps, 0), corner(1, -1, sz, steps, 0), corner(1, 1, sz, steps, 0), corner(-1, 1, sz, steps, 0))
	}
	for _, sx := range []float64{-1, 1} {
		for _, sy := range []float64{-1, 1} {
			for j := range steps {
				quad(corner(sx, sy, -1, 0, j), corner(sx, sy, -1, 0, j+1), corner(sx, sy, 1, 0, j+1), corner(sx, sy, 1, 0, j))
			}
		}
		quad(corner(sx, -1, -1, 0, 0), corner(sx, 1, -1, 0, 0), corner(sx, 1, 1, 0, 0), corner(sx, -1, 1, 0, 0))
		quad(corner(-1, sx, -1, 0, steps), corner(1, sx, -1, 0, steps), corner(1, sx, 1, 0, steps), corner(-1, sx, 1, 0, steps))
	}
	for name, p := range poses() {
		t.Run(name, func(t *testing.T) {
			_, seg := m.segmented(t, p)
			require.Equal(t, [4]int{6, 12, 0, 8}, counts(seg))
			for _, c := range seg.Cylinders() {
				assert.InDelta(t, r, c.Radius, 1e-3)
				assert.InDelta(t, 90, c.Arc.Degrees(), 0.1)
			}
			for _, c := range seg.Spheres() {
				assert.InDelta(t, r, c.Radius, 1e-3)
			}
			assert.NotContains(t, seg.TriangleSurface, int32(-1))
		})
	}
}

func TestFewDecimalsAreStood(t *testing.T) {
	var m model
	m.holePlate(20, 4.5, 3, []int{12, 24, 32, 48, 64, 100})
	for _, step := range []float64{1e-4, 1e-3} {
		for name, p := range poses() {
			t.Run(fmt.Sprintf("%g mm, %s", step, name), func(t *testing.T) {
				s := rounded(m.scan(t, p), step)
				require.True(t, isTessellated(s))
				seg, err := segmentPanels(t.Context(), s, Options{})
				require.NoError(t, err)
				require.Equal(t, [4]int{6, 6}, counts(seg))
				for _, c := range seg.Cylinders() {
					assert.InDelta(t, 4.5, c.Radius, step)
					assert.InDelta(t, 360, c.Arc.Degrees(), 1e-6)
				}
			})
		}
	}
}

func TestTipsOfTeethAreOneCylinder(t *testing.T) {
	// 16 teeth about a bore; each tip is two sides, each gap a flat. Then
	// lugs with flat ends of one side each, which are planes.
	outline := func(sides int) []r3.Vector {
		var out []r3.Vector
		for k := range 16 {
			a := 22.5 * float64(k)
			out = append(out, arcPoints(sides+1, 30, 0, 0, 0, a, a+9)...)
			out = append(out, arcPoints(2, 25, 0, 0, 0, a+11, a+20)...)
		}
		return out
	}
	for sides, want := range map[int][4]int{2: {2 + 3*16, 2}, 1: {2 + 4*16, 1}} {
		loop, bore := outline(sides), ring(40, 12, 0, 0, 0, 3)
		var m model
		m.wall(loop, lifted(loop, 10), true)
		m.wall(bore, lifted(bore, 10), false)
		inner := make([]r3.Vector, len(loop)) // within the teeth, point by point
		for i, q := range loop {
			inner[i] = q.Mul(18 / q.Norm())
		}
		m.wall(inner, loop, true)
		m.wall(lifted(inner, 10), lifted(loop, 10), false)
		m.between(bore, inner, false)
		m.between(lifted(bore, 10), lifted(inner, 10), true)
		for name, p := range poses() {
			t.Run(fmt.Sprintf("%d sides, %s", sides, name), func(t *testing.T) {
				s, seg := m.segmented(t, p)
				require.Equal(t, want, counts(seg))
				if sides == 2 {
					assert.InDelta(t, 30, seg.Cylinders()[0].Radius, 2*coordinateRounding(s))
					assert.InDelta(t, 16*9, seg.Cylinders()[0].Arc.Degrees(), 0.01)
				}
			})
		}
	}
}

func TestCoarseRoundingOfAnEdge(t *testing.T) {
	// Three sides of 30 degrees round an edge; three sides of a bevel that
	// have their four edges on a cylinder too, as those of any symmetric one.
	round := slices.Concat(
		[]r3.Vector{{X: -20, Y: 20}, {X: -20, Y: -20}, {X: 20, Y: -20}},
		arcPoints(4, 8, 12, 12, 0, 0, 90),
	)
	bevel := slices.Concat(
		[]r3.Vector{{X: -20, Y: 20}, {X: -20, Y: -20}, {X: 20, Y: -20}},
		arcPoints(2, 8, 12, 12, 0, 0, 28), arcPoints(2, 8, 12, 12, 0, 62, 90),
	)
	for name, p := range poses() {
		t.Run(name, func(t *testing.T) {
			var m, n model
			m.prism(round, 10)
			_, seg := m.segmented(t, p)
			require.Equal(t, [4]int{6, 1}, counts(seg))
			assert.InDelta(t, 8, seg.Cylinders()[0].Radius, 1e-3)
			assert.InDelta(t, 90, seg.Cylinders()[0].Arc.Degrees(), 0.01)
			n.prism(bevel, 10)
			_, seg = n.segmented(t, p)
			assert.Equal(t, [4]int{9}, counts(seg))
		})
	}
}
