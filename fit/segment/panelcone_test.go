package segment

import (
	"fmt"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestCountersinkIsAConeOverACylinder(t *testing.T) {
	for _, half := range []float64{15, 30, 41, 45, 60} {
		const n = 36
		depth := 3 / math.Tan(half*math.Pi/180)
		hole, rim := ring(n, 4, 0, 0, 0, 0), ring(n, 7, 0, 0, 20, 0)
		neck := lifted(hole, 20-depth)
		outer := square(15, 0, 0, 0)
		var m model
		m.wall(hole, neck, false)
		m.wall(neck, rim, false)
		m.between(rim, lifted(outer, 20), true)
		m.between(hole, outer, false)
		m.wall(outer, lifted(outer, 20), true)
		for name, p := range poses() {
			t.Run(fmt.Sprintf("%g degrees, %s", 2*half, name), func(t *testing.T) {
				s, seg := m.segmented(t, p)
				require.Equal(t, [4]int{6, 1, 1}, counts(seg))
				k := seg.Cones()[0]
				near := coordinateRounding(s)
				assert.True(t, k.Internal)
				assert.InDelta(t, half, k.HalfAngle.Degrees(), 60*near)
				assert.InDelta(t, 1, k.Axis.Dot(p.z), 1e-9, "from the apex into the cone")
				assert.Less(t, k.Apex.Distance(p.of(r3.Vector{Z: 20 - 7/math.Tan(half*math.Pi/180)})), 40*near)
				assert.InDelta(t, 4, seg.Cylinders()[0].Radius, 2*near)
				assert.InDelta(t, 360, k.Arc.Degrees(), 1e-6)
			})
		}
	}
}

func TestPyramidsAreNoCones(t *testing.T) {
	for _, n := range []int{4, 6, 8} {
		var m model
		low := ring(n, 10, 0, 0, 0, 0)
		m.disc(low, false)
		for i := range n {
			m.tri(low[i], low[(i+1)%n], r3.Vector{Z: 15})
		}
		_, seg := m.segmented(t, randomPose(4, 10))
		assert.Equal(t, [4]int{n + 1}, counts(seg))
	}
	var m model
	low := ring(40, 10, 0, 0, 0, 0)
	m.disc(low, false)
	for i := range low {
		m.tri(low[i], low[(i+1)%len(low)], r3.Vector{Z: 15})
	}
	_, seg := m.segmented(t, randomPose(4, 10))
	require.Equal(t, [4]int{1, 0, 1}, counts(seg))
	assert.InDelta(t, math.Atan2(10, 15), seg.Cones()[0].HalfAngle.Radians(), 1e-6)
	assert.False(t, seg.Cones()[0].Internal)
}

func TestBallIsOneSphere(t *testing.T) {
	for _, n := range []int{12, 20, 48} {
		var m model
		m.latitudes(n, arcProfile(n/2+1, 12, 0, 0, -90, 90), true)
		for name, p := range poses() {
			t.Run(fmt.Sprintf("%d sides, %s", n, name), func(t *testing.T) {
				s, seg := m.segmented(t, p)
				require.Equal(t, [4]int{0, 0, 0, 1}, counts(seg))
				assert.InDelta(t, 12, seg.Spheres()[0].Radius, 2*coordinateRounding(s))
				assert.False(t, seg.Spheres()[0].Internal)
				assert.NotContains(t, seg.TriangleSurface, int32(-1))
			})
		}
	}
}

func TestDoublyCurvedBandsAreNoConesNorCylinders(t *testing.T) {
	var torus model
	profile := arcProfile(25, 5, 20, 0, -180, 180)
	torus.latitudes(48, profile, true)
	_, seg := torus.segmented(t, randomPose(5, 10))
	assert.Equal(t, [4]int{}, counts(seg), "torus")

	var vase model
	var p [][2]float64
	for i := range 41 {
		z := float64(i)
		p = append(p, [2]float64{20 + 5*math.Sin(z/7), z})
	}
	vase.latitudes(48, p, true)
	vase.disc(ring(48, p[0][0], 0, 0, 0, 0), false)
	vase.disc(ring(48, p[40][0], 0, 0, 40, 0), true)
	_, seg = vase.segmented(t, randomPose(6, 10))
	assert.Equal(t, [4]int{2}, counts(seg), "turned profile")
}

func TestRingsOfUnlikeDivision(t *testing.T) {
	// The wall and the countersink each have another number of vertices at
	// their upper end than at their lower one.
	for _, n := range [][3]int{{24, 36, 30}, {17, 40, 23}, {64, 20, 50}} {
		hole, neck, rim := ring(n[0], 5, 0, 0, 0, 0), ring(n[1], 5, 0, 0, 15, 2), ring(n[2], 8, 0, 0, 18, 1)
		outer := square(15, 0, 0, 0)
		var m model
		m.between(hole, neck, true)
		m.between(neck, rim, true)
		m.between(rim, lifted(outer, 18), true)
		m.between(hole, outer, false)
		m.wall(outer, lifted(outer, 18), true)
		for name, p := range poses() {
			t.Run(fmt.Sprintf("%v, %s", n, name), func(t *testing.T) {
				s, seg := m.segmented(t, p)
				require.Equal(t, [4]int{6, 1, 1}, counts(seg))
				near := coordinateRounding(s)
				assert.InDelta(t, 5, seg.Cylinders()[0].Radius, 2*near)
				assert.True(t, seg.Cylinders()[0].Internal)
				assert.InDelta(t, 45, seg.Cones()[0].HalfAngle.Degrees(), 60*near)
				assert.Less(t, seg.Cones()[0].Apex.Distance(p.of(r3.Vector{Z: 10})), 40*near)
				assert.True(t, seg.Cones()[0].Internal)
				assert.NotContains(t, seg.TriangleSurface, int32(-1))
			})
		}
	}
}
