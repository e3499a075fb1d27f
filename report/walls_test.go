package report

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"spotface/bolt"
)

// The wall of a hole has the hole's diameter, with its uncertainty, and is no surer of its
// place and its axis than the noise of walls makes it.
func TestOneWallHasOneDiameter(t *testing.T) {
	own := Uncertainty{Diameter: 0.004, Point: 0.002, AxisDeg: 0.05}
	cylinders := []Cylinder{{ID: "C1", Diameter: 40.01, Uncertainty: own}, {ID: "C2", Diameter: 6.6, Uncertainty: own}, {ID: "C4", Diameter: 80, Uncertainty: own}}
	(&builder{}).knownWalls(&Report{Cylinders: cylinders}, []bolt.WallOf{
		{ID: "C2", Diameter: 6.61, DiameterU: 0.01, UnseenU: 0.005, PlaceCov: [2][2]float64{{1e-4, 0}, {0, 1e-4}}, LeanCov: [2][2]float64{{1e-6, 0}, {0, 1e-6}}},
		{ID: "C1", Diameter: 40.02, DiameterU: 0.005}})
	c := cylinders
	assert.Equal(t, 40.02, c[0].Diameter)
	assert.Equal(t, Uncertainty{Diameter: 0.01, Point: 0.002, AxisDeg: 0.05}, c[0].Uncertainty)
	assert.Equal(t, 6.61, c[1].Diameter)
	assert.InDelta(t, 0.02, c[1].Uncertainty.Diameter, 1e-12)
	assert.InDelta(t, 0.01, c[1].Uncertainty.DiameterUnseen, 1e-12)
	assert.InDelta(t, 0.024477, c[1].Uncertainty.Point, 1e-6, "two directions of 0.01 mm")
	assert.InDelta(t, 2.4477e-3*180/3.14159265, c[1].Uncertainty.AxisDeg, 1e-5, "two directions of 1 mrad")
	assert.Equal(t, Cylinder{ID: "C4", Diameter: 80, Uncertainty: own}, c[2])
}
