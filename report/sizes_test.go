package report

import (
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/bolt/sizes"
	"spotface/mesh"
	"spotface/report/internal/testpart"
)

// scannedIn is the report of a part whose scan is read as millimetres but is in a unit of
// so many.
func scannedIn(t *testing.T, p testpart.Part, unit float64, source mesh.UnitSource) *Report {
	p.Pitch, p.Diameter, p.BoreD, p.U = p.Pitch/unit, p.Diameter/unit, p.BoreD/unit, p.U/unit
	scan, seg, m := p.Measure(t)
	scan.Source.UnitSource = source
	return built(t, scan, seg, m)
}

func TestUnitIsProposed(t *testing.T) {
	inches := testpart.Kettle()
	inches.Diameter, inches.Pitch, inches.BoreD = 0.2813*25.4+0.01, 3.5*25.4, 1.5*25.4
	rep := scannedIn(t, inches, 25.4, mesh.UnitAssumed)
	require.NotNil(t, rep.Scan.UnitCheck)
	assert.True(t, rep.Scan.UnitCheck.Doubt)
	assert.Equal(t, "in", rep.Scan.UnitCheck.Readings[0].Unit)
	v, err := NewView(rep, ViewOptions{})
	require.NoError(t, err)
	require.Len(t, v.Alarms, 1, "above all else")
	assert.Contains(t, v.Alarms[0], "sizes speak for inches")
	assert.Contains(t, v.Alarms[0], "7.145: clearance for 1/4 in")
	assert.InDelta(t, 3.5, rep.BoltCircles[0].PitchDiameter, 0.01, "nothing is rescaled")

	err = rep.UnitInDoubt()
	assert.ErrorIs(t, err, ErrUnitInDoubt)
	assert.ErrorContains(t, err, "sizes speak for inches")

	// Of a unit that is known nothing is said, and of millimetres neither.
	for _, source := range []mesh.UnitSource{mesh.UnitGiven, mesh.UnitFile} {
		assert.Nil(t, scannedIn(t, inches, 25.4, source).Scan.UnitCheck, source)
	}
	assert.Nil(t, scannedIn(t, inches, 1, mesh.UnitAssumed).Scan.UnitCheck)
	rep = scannedIn(t, testpart.Kettle(), 1, mesh.UnitAssumed)
	assert.Nil(t, rep.Scan.UnitCheck)
	assert.NoError(t, rep.UnitInDoubt())
	metres := scannedIn(t, testpart.Kettle(), 1000, mesh.UnitAssumed)
	assert.Equal(t, "m", metres.Scan.UnitCheck.Readings[0].Unit)
}

// Two units of which both make standard sizes are both named: holes of 1 and a bore of 3.
func TestTwoUnitsWithStandardSizes(t *testing.T) {
	rep := &Report{Scan: Scan{Warnings: []string{}}}
	rep.checkUnit(sizes.ReadUnits([]sizes.Feature{
		{Kind: sizes.Hole, Size: 1, U: 0.0005}, {Kind: sizes.Bore, Size: 3, U: 0.0005}}, 0), 0)
	require.NotNil(t, rep.Scan.UnitCheck)
	require.Len(t, rep.Scan.Warnings, 1)
	assert.Regexp(t, "In inches: [0-9.]+: ", rep.Scan.Warnings[0])
	assert.Regexp(t, "In millimetres: [0-9.]+: ", rep.Scan.Warnings[0])
}

// The holes of a circle are named alike, one that is of another size by itself, and the
// distance is each hole's own.
func TestEqualHolesAreNamedTogether(t *testing.T) {
	p := testpart.Kettle()
	p.Extra, p.ExtraD = []r3.Vector{{X: -30, Y: 35}}, 5.01
	rep := reportOf(t, p)
	require.Len(t, rep.Holes, 7)
	for _, h := range rep.Holes[:6] {
		assert.Equal(t, "clearance for M6", h.Sizes[0].Name)
		assert.InDelta(t, (6.61-6.6)/0.004, h.Sizes[0].Off, 1e-6)
		assert.Equal(t, rep.Holes[0].Sizes[0].Probability, h.Sizes[0].Probability)
	}
	odd := rep.Holes[6].Sizes
	assert.Equal(t, 5.0, odd[0].Diameter)
	assert.True(t, slices.ContainsFunc(odd, func(c sizes.Candidate) bool { return c.Name == "tapped M6" }), odd)
	text := textOf(t, rep)
	assert.Contains(t, text, "6.6: clearance for M6 (ISO 273 medium)")
	assert.Contains(t, text, "5: whole millimetre (ISO 3 R10) or tapped M6 (drill of ISO 2306)")
	require.Len(t, rep.BoltCircles, 1)
	assert.Equal(t, 84.0, rep.BoltCircles[0].Sizes[0].Diameter)
}
