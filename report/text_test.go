package report_test

import (
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/internal/testpart"
)

// Read these as the fabricator does: what is off, how far, which way, and
// what to do next.
func TestTextGoldens(t *testing.T) {
	good := testpart.Kettle()
	good.Angles[2] = 120.004
	none := testpart.Part{BoreD: 40.02, U: 0.004, Origin: good.Origin, Z: good.Z}
	partial := testpart.Part{Pitch: 94.38, Diameter: 7.18, Angles: []float64{0, 60.03, 119.98}, Nominal: []float64{0, 60, 120},
		U: 0.02, Origin: good.Origin, Z: good.Z, Extra: []r3.Vector{{X: -39, Y: 20}}, ExtraD: 12.35}
	irregular := testpart.Part{Pitch: 70, Diameter: 5.5, Angles: []float64{0, 47, 160, 231}, Irregular: true, U: 0.004,
		Origin: good.Origin, Z: good.Z}
	two := testpart.Kettle()
	two.Radial = []float64{0, 0, 0, 0, 0.15, 0}
	scatter := testpart.Kettle()
	scatter.Angles = []float64{0.1, 59.85, 120.12, 179.9, 240.17, 299.88}
	edge := testpart.Kettle()
	edge.Angles[2] = 120.285 // its deviation lies 0.0125 degrees inside the band, its uncertainty is 0.0122
	edge.U = 0.006
	fewer := testpart.Kettle()
	fewer.Angles = []float64{0, 60, 120, 180, 300}
	fewer.Nominal = fewer.Angles
	for name, rep := range map[string]*report.Report{
		"measured-one-off":     reportOf(t, testpart.Kettle()),
		"measured-all-good":    reportOf(t, good),
		"measured-no-holes":    reportOf(t, none),
		"measured-partial":     reportOf(t, partial),
		"measured-irregular":   reportOf(t, irregular),
		"measured-two-off":     reportOf(t, two),
		"measured-scatter":     reportOf(t, scatter),
		"checked-one-off":      checked(t, testpart.Kettle(), testpart.Plan),
		"checked-all-good":     checked(t, good, testpart.Plan),
		"checked-edge":         checked(t, edge, testpart.Plan),
		"checked-hole-missing": checked(t, fewer, testpart.Plan),
		"checked-no-holes":     checked(t, none, testpart.Plan),
	} {
		t.Run(name, func(t *testing.T) {
			testpart.Golden(t, name+".txt", textOf(t, rep), 1.1e-3)
			screen := screenOf(t, rep)
			assert.LessOrEqual(t, strings.Count(screen, "\n"), report.ScreenLines)
			testpart.Golden(t, "screen-"+name+".txt", screen, 1.1e-3)
		})
	}
}

func TestTextSaysFirstWhatIsOff(t *testing.T) {
	text := flat(screenOf(t, reportOf(t, testpart.Kettle())))
	assert.Contains(t, text, "kettle-port.xyz unit: mm (given) 6 holes, 60 degrees apart, on a bolt circle of 84.000 +-0.007 mm. ONE IS OFF: "+
		"H3: 0.40 degrees counter-clockwise, 0.293 mm along the circle (+-0.01 degrees)",
		"0.4 degrees on a radius of 42 mm: 0.4 x pi/180 x 42 = 0.2932 mm")
	assert.Contains(t, text, "A scan approves nothing")
}

func TestTextIsPlainASCII(t *testing.T) {
	for _, c := range textOf(t, checked(t, testpart.Kettle(), testpart.Plan)) {
		require.Less(t, c, rune(127))
	}
}
