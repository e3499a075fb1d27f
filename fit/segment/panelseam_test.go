package segment

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

func TestSeamsAndTJunctions(t *testing.T) {
	// The upper half of a bore is divided twice as finely as the lower, so
	// that its vertices stand on the sides of the lower's triangles, and one
	// face was written with coordinates a last digit away.
	coarse := ring(20, 10, 0, 0, 0, 0)
	fine := make([]r3.Vector, 0, 40)
	for i, p := range coarse {
		fine = append(fine, p, p.Add(coarse[(i+1)%20]).Mul(0.5))
	}
	outer := ring(50, 20, 0, 0, 0, 0)
	var m model
	m.wall(coarse, lifted(coarse, 10), false)
	m.wall(lifted(fine, 10), lifted(fine, 20), false)
	m.wall(outer, lifted(outer, 20), true)
	m.between(coarse, outer, false)
	m.between(lifted(fine, 20), lifted(outer, 20), true)
	for name, p := range poses() {
		t.Run(name, func(t *testing.T) {
			s, seg := m.segmented(t, p)
			require.Equal(t, [4]int{2, 2}, counts(seg))
			assert.InDelta(t, 10, seg.Cylinders()[1].Radius, 2*coordinateRounding(s))
			assert.InDelta(t, 20, seg.Cylinders()[1].Extent[1]-seg.Cylinders()[1].Extent[0], 1e-3)
			assert.NotContains(t, seg.TriangleSurface, int32(-1))
		})
	}
	// The same with every triangle's corners shaken by a last digit, so that
	// no two of them are equal any more.
	s := m.scan(t, randomPose(9, 50))
	rng := rand.New(rand.NewPCG(9, 9))
	var soup mesh.Scan
	soup.Origin = s.Origin
	for i, c := range s.Triangles {
		for _, v := range c {
			o := s.Offsets[v]
			for k := range o {
				if rng.IntN(2) == 0 {
					o[k] = math.Nextafter32(o[k], 1e9)
				}
			}
			soup.Offsets = append(soup.Offsets, o)
		}
		soup.Triangles = append(soup.Triangles, [3]int32{int32(3 * i), int32(3*i + 1), int32(3*i + 2)})
	}
	seg, err := segmentPanels(t.Context(), &soup, Options{})
	require.NoError(t, err)
	require.Equal(t, [4]int{2, 2}, counts(seg))
	assert.InDelta(t, 10, seg.Cylinders()[1].Radius, 1e-4)
	for _, c := range seg.Cylinders() {
		for _, i := range c.Points {
			assert.InDelta(t, 0, c.Distance(soup.Point(int(i))), 0.13, "all the scan's points, chords included")
		}
	}
}

func TestSliversDoNotHurt(t *testing.T) {
	// Each side of the wall is cut by a sliver along its upper edge, and the
	// top has one along each side.
	const n, r = 30, 10.0
	low := ring(n, r, 0, 0, 0, 0)
	high := lifted(low, 10)
	for _, thin := range []float64{1e-2, 1e-4, 1e-6} {
		var m model
		m.disc(low, false)
		for i := range n {
			j := (i + 1) % n
			mid := high[i].Add(high[j]).Mul(0.5)
			under := r3.Vector{X: mid.X, Y: mid.Y, Z: 10 - thin}
			m.tri(low[i], low[j], under)
			m.tri(low[j], high[j], under)
			m.tri(high[i], low[i], under)
			m.tri(high[j], high[i], under)
			centre := r3.Vector{Z: 10}
			inner := mid.Add(centre.Sub(mid).Normalize().Mul(thin))
			m.tri(high[i], high[j], inner)
			m.tri(high[j], centre, inner)
			m.tri(centre, high[i], inner)
		}
		for name, p := range poses() {
			t.Run(fmt.Sprintf("%g, %s", thin, name), func(t *testing.T) {
				s, seg := m.segmented(t, p)
				require.Equal(t, [4]int{2, 1}, counts(seg))
				assert.InDelta(t, r, seg.Cylinders()[0].Radius, 2*coordinateRounding(s))
				assert.InDelta(t, 360, seg.Cylinders()[0].Arc.Degrees(), 1e-3)
			})
		}
	}
}

func TestFlippedTrianglesAreTurned(t *testing.T) {
	var m model
	m.holePlate(20, 4.5, 2, []int{32, 32})
	rng := rand.New(rand.NewPCG(3, 3))
	for i, c := range m.tris {
		if rng.IntN(4) == 0 {
			m.tris[i] = [3]r3.Vector{c[0], c[2], c[1]}
		}
	}
	_, seg := m.segmented(t, randomPose(8, 20))
	require.Equal(t, [4]int{6, 2}, counts(seg))
	assert.True(t, seg.Cylinders()[0].Internal)
	assert.True(t, seg.Cylinders()[1].Internal)
}
