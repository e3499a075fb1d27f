package report

import (
	"bytes"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const portPlan = `part: kettle port ring
unit: mm
frame:   {face: P1, axis: C1, clock: H1}
bolt_circles:
  - id: B1
    count: 6
    spacing: {nominal: 60, band: [-0.25, 0.25]}
    pitch_diameter: {nominal: 84, band: [-0.2, 0.2]}
    hole_diameter:  {nominal: 6.6, band: [0, 0.25]}
    clocking:       {band: [-0.25, 0.25]}
cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: [-0.1, 0.1]}, perpendicular_to: P1, perpendicularity: 0.1}]
`

func parse(t testing.TB, yaml string) *Plan {
	t.Helper()
	p, err := ParsePlan("port.yaml", []byte(yaml))
	require.NoError(t, err)
	return p
}

func checked(t testing.TB, p part, yaml string) *Report {
	t.Helper()
	rep := p.report(t)
	require.NoError(t, Check(parse(t, yaml), rep))
	return rep
}

// textOf is the full text, screenOf the first screen.
func textOf(t testing.TB, rep *Report) string {
	return said(t, TextOptions{Full: true}, ViewOptions{}, rep)
}

func screenOf(t testing.TB, rep *Report) string { return said(t, TextOptions{}, ViewOptions{}, rep) }

func said(t testing.TB, opt TextOptions, how ViewOptions, reps ...*Report) string {
	t.Helper()
	var views []*View
	for _, rep := range reps {
		v, err := NewView(rep, how)
		require.NoError(t, err)
		views = append(views, v)
	}
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, opt, views...))
	return b.String()
}

// Read these as the fabricator does: what is off, by how much, which way, and
// what to do next.
func TestTextGoldens(t *testing.T) {
	good := kettlePort()
	good.angles[2] = 120.004
	none := part{boreD: 40.02, u: 0.004, origin: good.origin, z: good.z}
	partial := part{pitch: 94.38, diameter: 7.18, angles: []float64{0, 60.03, 119.98}, nominal: []float64{0, 60, 120},
		u: 0.02, origin: good.origin, z: good.z, extra: []r3.Vector{{X: -39, Y: 20}}, extraD: 12.35}
	irregular := part{pitch: 70, diameter: 5.5, angles: []float64{0, 47, 160, 231}, irregular: true, u: 0.004,
		origin: good.origin, z: good.z}
	two := kettlePort()
	two.radial = []float64{0, 0, 0, 0, 0.15, 0}
	scatter := kettlePort()
	scatter.angles = []float64{0.1, 59.85, 120.12, 179.9, 240.17, 299.88}
	edge := kettlePort()
	edge.angles[2] = 120.285 // its deviation lies 0.0125 degrees inside the band, its uncertainty is 0.0122
	edge.u = 0.006
	fewer := kettlePort()
	fewer.angles = []float64{0, 60, 120, 180, 300}
	fewer.nominal = fewer.angles
	for name, rep := range map[string]*Report{
		"measured-one-off":     kettlePort().report(t),
		"measured-all-good":    good.report(t),
		"measured-no-holes":    none.report(t),
		"measured-partial":     partial.report(t),
		"measured-irregular":   irregular.report(t),
		"measured-two-off":     two.report(t),
		"measured-scatter":     scatter.report(t),
		"checked-one-off":      checked(t, kettlePort(), portPlan),
		"checked-all-good":     checked(t, good, portPlan),
		"checked-edge":         checked(t, edge, portPlan),
		"checked-hole-missing": checked(t, fewer, portPlan),
		"checked-no-holes":     checked(t, none, portPlan),
	} {
		t.Run(name, func(t *testing.T) {
			golden(t, name+".txt", textOf(t, rep), 1.1e-3)
			screen := screenOf(t, rep)
			assert.LessOrEqual(t, strings.Count(screen, "\n"), screenLines)
			golden(t, "screen-"+name+".txt", screen, 1.1e-3)
		})
	}
}

func TestTextSaysFirstWhatIsOff(t *testing.T) {
	text := flat(screenOf(t, kettlePort().report(t)))
	assert.Contains(t, text, "kettle-port.xyz unit: mm (given) 6 holes, 60 degrees apart, on a bolt circle of 84.000 +-0.007 mm. ONE IS OFF: "+
		"H3: 0.40 degrees counter-clockwise, 0.293 mm along the circle (+-0.01 degrees)",
		"0.4 degrees on a radius of 42 mm: 0.4 x pi/180 x 42 = 0.2932 mm")
	assert.Contains(t, text, "A scan approves nothing")
}

func TestTextIsPlainASCII(t *testing.T) {
	for _, c := range textOf(t, checked(t, kettlePort(), portPlan)) {
		require.Less(t, c, rune(127))
	}
}
