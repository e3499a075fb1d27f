package step_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/golang/geo/r2"
	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"spotface/report/step"
)

// requireClosed checks that each side of a triangle is another's, the other way round, and
// returns the volume by the divergence theorem.
func requireClosed(t require.TestingT, points []r3.Vector, triangles [][3]int32) float64 {
	sides := map[[2]int32]int{}
	volume := 0.0
	for _, k := range triangles {
		for i := range 3 {
			sides[[2]int32{k[i], k[(i+1)%3]}]++
		}
		volume += points[k[0]].Dot(points[k[1]].Cross(points[k[2]])) / 6
	}
	for s, n := range sides {
		require.Equal(t, 1, n)
		require.Equal(t, 1, sides[[2]int32{s[1], s[0]}])
	}
	return volume
}

func TestTrianglesEncloseTheBody(t *testing.T) {
	b := ring()
	last := math.Inf(1)
	for _, chord := range []float64{0.1, 0.03, 0.01} {
		points, triangles, err := b.Triangles(chord)
		require.NoError(t, err)
		off := math.Abs(requireClosed(t, points, triangles) - ringVolume())
		// No chord is farther from its arc, so no wall farther than that from its surface.
		area := 2 * math.Pi * (54*10 + 20*6 + 25*4 + 6*6.3*10 + 2*14*10)
		assert.Less(t, off, area*chord)
		assert.Less(t, off, last)
		last = off
	}
}

// Whatever holes a plate has, the triangles enclose it.
func TestTrianglesOfAnyPlate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		outer := step.Circle(r2.Point{}, 50)
		if rapid.Bool().Draw(t, "square") {
			outer = step.Polygon(r2.Point{X: -50, Y: -50}, r2.Point{X: 50, Y: -50}, r2.Point{X: 50, Y: 50}, r2.Point{X: -50, Y: 50})
		}
		b := step.Body{Walls: []step.Wall{step.Straight("outside", outer, 0, 5, false)}}
		var inner []step.Contour
		var centres []r2.Point
		var radii []float64
		for i := range rapid.IntRange(0, 20).Draw(t, "holes") {
			// Round numbers, so that corners align.
			c := r2.Point{X: float64(rapid.IntRange(-12, 12).Draw(t, "x")) * 2.5, Y: float64(rapid.IntRange(-12, 12).Draw(t, "y")) * 2.5}
			r := float64(rapid.IntRange(1, 6).Draw(t, "r"))
			free := true
			for j, o := range centres {
				free = free && c.Sub(o).Norm() > r+radii[j]+0.1
			}
			if !free {
				continue
			}
			centres, radii = append(centres, c), append(radii, r)
			inner = append(inner, step.Circle(c, r))
			b.Walls = append(b.Walls, step.Straight(fmt.Sprint(i), inner[len(inner)-1], 0, 5, true))
		}
		b.Floors = []step.Floor{{Z: 5, Up: true, Outer: outer, Inner: inner}, {Z: 0, Outer: outer, Inner: inner}}
		points, triangles, err := b.Triangles(0.1)
		require.NoError(t, err)
		assert.InEpsilon(t, volumeOf(&b), requireClosed(t, points, triangles), 0.01)
	})
}

// The corner above both holes is where the lower one's bridge would go, through the rightmost
// point of the other.
func TestTrianglesOfHolesInLine(t *testing.T) {
	outer := step.Polygon(r2.Point{X: -50, Y: -50}, r2.Point{X: 50, Y: -50}, r2.Point{X: 50, Y: 50},
		r2.Point{X: 2, Y: 11}, r2.Point{X: -50, Y: 50})
	low, high := step.Circle(r2.Point{Y: -10}, 2), step.Circle(r2.Point{}, 2)
	floor := step.Floor{Z: 5, Up: true, Outer: outer, Inner: []step.Contour{low, high}}
	foot := floor
	foot.Z, foot.Up = 0, false
	b := step.Body{Floors: []step.Floor{floor, foot}, Walls: []step.Wall{
		step.Straight("outside", outer, 0, 5, false), step.Straight("low", low, 0, 5, true),
		step.Straight("high", high, 0, 5, true)}}
	points, triangles, err := b.Triangles(0.01)
	require.NoError(t, err)
	assert.InEpsilon(t, volumeOf(&b), requireClosed(t, points, triangles), 1e-3)
}

func TestTrianglesOfAnOpenBody(t *testing.T) {
	b := ring()
	b.Floors = b.Floors[:1]
	_, _, err := b.Triangles(0.01)
	assert.ErrorIs(t, err, step.ErrOpen)
	b = ring()
	_, _, err = b.Triangles(0)
	assert.ErrorContains(t, err, "above zero")
}
