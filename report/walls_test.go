package report

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// The wall of a hole and of the bore has one diameter, with one uncertainty, and is no
// surer of its place and its axis than the hole's noise makes it.
func TestOneWallHasOneDiameter(t *testing.T) {
	hole := Hole{ID: "H1", Kind: "round", Diameter: 6.61, Wall: "C2", Uncertainty: Uncertainty{Diameter: 0.02, DiameterUnseen: 0.01, Centre: 0.03}}
	lean := hole.asBolt()
	lean.LeanCov = [2][2]float64{{1e-6, 0}, {0, 1e-6}}
	hole.measured = &lean
	bore := Hole{ID: "C1", Kind: "round", Diameter: 40.02, Wall: "C1", Uncertainty: Uncertainty{Diameter: 0.01, Centre: 0.001}}
	slot := Hole{ID: "H2", Kind: "slot", Wall: "C3"}
	own := Uncertainty{Diameter: 0.004, Point: 0.002, AxisDeg: 0.05}
	rep := &Report{Holes: []Hole{hole, slot}, Bore: &bore, Cylinders: []Cylinder{
		{ID: "C1", Diameter: 40.01, Uncertainty: own}, {ID: "C2", Diameter: 6.6, Uncertainty: own},
		{ID: "C3", Diameter: 5, Uncertainty: own}, {ID: "C4", Diameter: 80, Uncertainty: own}}}
	rep.wallsAsHoles()
	c := rep.Cylinders
	assert.Equal(t, 40.02, c[0].Diameter)
	assert.Equal(t, Uncertainty{Diameter: 0.01, Point: 0.002, AxisDeg: 0.05}, c[0].Uncertainty)
	assert.Equal(t, 6.61, c[1].Diameter)
	assert.Equal(t, 0.03, c[1].Uncertainty.Point)
	assert.InDelta(t, 2.4477e-3*180/3.14159265, c[1].Uncertainty.AxisDeg, 1e-5, "two directions of 1 mrad")
	assert.Equal(t, own, c[2].Uncertainty, "a slot's end is no hole's wall")
	assert.Equal(t, Cylinder{ID: "C4", Diameter: 80, Uncertainty: own}, c[3])
}
