package plan

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/budget"
)

const features = `
bolt_circles: [{id: B1, count: 6}]
holes: [{id: X1, at: [43.9, -4.6]}]
planes: [{id: P1}, {id: P2}]
cylinders: [{id: C1, diameter: {nominal: 40}}]
`

func scannerOf(t *testing.T, keys string) Scanner {
	t.Helper()
	return parse(t, "scanner:\n"+keys+features).Scanner
}

func TestScannerKeys(t *testing.T) {
	s := scannerOf(t, `
  noise: 0.03
  correlation_length: 1.2
  spacing: 0.25
  length: {a: 0.06, b: 0.0003, distribution: rectangular}
  coating: {thickness: 0.01, half_width: 0.006, distribution: triangular}
  temperature: {part: 24, half_width: 1, distribution: u-shaped, expansion: 11.5e-6, expansion_u: 1e-6}
  reference_lengths:
    - {diameter: C1, value: 40.02, half_width: 0.03, distribution: rectangular, set_scale: true}
    - {distance: [B1/1, B1/4], value: 84.1, expanded: 0.04, k: 2, dof: 9}
    - {distance: [P1, P2], value: 12, expanded: 0.02, confidence: 95}
    - {pitch_diameter: B1, value: 84, u: 0.02}
`)
	assert.Equal(t, []float64{0.03, 1.2, 0.25}, []float64{s.Noise, s.CorrelationLength, s.Spacing})
	assert.InDelta(t, 0.06/math.Sqrt(3), s.Length.A, 1e-15)
	assert.InDelta(t, 0.0003/math.Sqrt(3), s.Length.B, 1e-15)
	assert.Equal(t, budget.Rectangular, s.Length.Distribution)
	assert.Equal(t, 0.01, s.Coating.Thickness)
	assert.InDelta(t, 0.006/math.Sqrt(6), s.Coating.StandardU.U, 1e-15)
	require.NotNil(t, s.Temperature)
	assert.Equal(t, 24.0, s.Temperature.Part)
	assert.InDelta(t, 1/math.Sqrt(2), s.Temperature.StandardU.U, 1e-15)
	assert.Equal(t, budget.Arcsine, s.Temperature.StandardU.Distribution)
	assert.Equal(t, 11.5e-6, s.Temperature.Expansion)
	assert.Equal(t, 1e-6, s.Temperature.ExpansionU.U)
	require.Len(t, s.ReferenceLengths, 4)
	assert.Equal(t, ReferenceLength{Of: report.Diameter, Features: []string{"C1"}, Value: 40.02, SetScale: true,
		StandardU: budget.Standard{U: 0.03 / math.Sqrt(3), Distribution: budget.Rectangular}}, s.ReferenceLengths[0])
	assert.Equal(t, []string{"B1/1", "B1/4"}, s.ReferenceLengths[1].Features)
	assert.Equal(t, budget.Standard{U: 0.02, Distribution: budget.Normal, DoF: 9}, s.ReferenceLengths[1].StandardU)
	assert.InDelta(t, 0.02/1.959964, s.ReferenceLengths[2].StandardU.U, 1e-8)
	assert.Equal(t, report.PitchDiameter, s.ReferenceLengths[3].Of)

	s = scannerOf(t, "  temperature: {part: 22, u: 0.5, expansion: {value: 23e-6, half_width: 2e-6, distribution: rectangular, dof: 50}}\n")
	assert.InDelta(t, 2e-6/math.Sqrt(3), s.Temperature.ExpansionU.U, 1e-18)
	assert.Equal(t, 50.0, s.Temperature.ExpansionU.DoF)

	// A maximum permissible error, an expanded one, and with confidence.
	assert.InDelta(t, 0.01, scannerOf(t, "  length: {a: 0.02, b: 0.0001, k: 2}\n").Length.A, 1e-15)
	assert.InDelta(t, 0.01, scannerOf(t, "  length: {a: 0.0196, confidence: 95}\n").Length.A, 1e-6)
}

// Lengths of a plan in inches scale, temperatures and coefficients do not.
func TestScannerInInches(t *testing.T) {
	s := parse(t, `
unit: in
scanner: {spacing: 0.01, coating: {thickness: 0.0004, expanded: 0.0002, k: 2},
  temperature: {part: 22, u: 1, expansion: 11.5e-6, expansion_u: 1e-6},
  reference_lengths: [{diameter: C1, value: 1.5, u: 0.001}]}
cylinders: [{id: C1, diameter: {nominal: 1.5}}]
`).Scanner
	assert.InDelta(t, 0.254, s.Spacing, 1e-12)
	assert.InDelta(t, 0.0001*25.4, s.Coating.StandardU.U, 1e-12)
	assert.Equal(t, 22.0, s.Temperature.Part)
	assert.Equal(t, 1.0, s.Temperature.StandardU.U)
	assert.InDelta(t, 38.1, s.ReferenceLengths[0].Value, 1e-12)
	assert.InDelta(t, 0.0254, s.ReferenceLengths[0].StandardU.U, 1e-12)
}

// Odd input gets one line with its place and how to mend it.
func TestScannerErrors(t *testing.T) {
	ref := func(keys string) string { return "  reference_lengths: [{" + keys + "}]\n" }
	hot := "  temperature: {part: 24, u: 1, expansion: 11.5e-6, expansion_u: 1e-6"
	for _, row := range []struct {
		name, keys   string
		line, column int
		message      string
	}{
		{"negative u", "  coating: {thickness: 0.01, u: -0.004}\n", 2, 33, "coating u is -0.004, need zero or more"},
		{"u and half_width", "  coating: {thickness: 0.01, u: 0.004, half_width: 0.01, distribution: rectangular}\n", 2, 52, "has both u and half_width"},
		{"no uncertainty", "  coating: {thickness: 0.01}\n", 2, 0, "does not say how sure it is"},
		{"unknown distribution", "  coating: {thickness: 0.01, half_width: 0.01, distribution: flat}\n", 2, 62, `distribution is "flat", need rectangular`},
		{"half_width alone", "  coating: {thickness: 0.01, half_width: 0.01}\n", 2, 42, "has half_width but no distribution"},
		{"normal half_width", "  coating: {thickness: 0.01, half_width: 0.01, distribution: normal}\n", 2, 42, "confidence: 95"},
		{"distribution of u", "  coating: {thickness: 0.01, u: 0.01, distribution: rectangular}\n", 2, 53, "distribution goes with half_width"},
		{"expanded alone", "  coating: {thickness: 0.01, expanded: 0.01}\n", 2, 40, "expanded but no k"},
		{"k alone", "  coating: {thickness: 0.01, u: 0.01, k: 2}\n", 2, 42, "k goes with expanded"},
		{"k of zero", "  coating: {thickness: 0.01, expanded: 0.01, k: 0}\n", 2, 49, "need more than zero"},
		{"k and confidence", "  coating: {thickness: 0.01, expanded: 0.01, k: 2, confidence: 95}\n", 2, 64, "both k and confidence"},
		{"confidence of a share", "  coating: {thickness: 0.01, expanded: 0.01, confidence: 0.95}\n", 2, 58, "per cent"},
		{"confidence of u", "  coating: {thickness: 0.01, u: 0.01, confidence: 95}\n", 2, 51, "confidence goes with expanded"},
		{"dof below one", "  coating: {thickness: 0.01, u: 0.01, dof: 0.5}\n", 2, 44, "n readings have n - 1"},
		{"typo", "  coating: {thicknes: 0.01, u: 0.01}\n", 2, 13, `did you mean "thickness"?`},
		{"hot", "  temperature: {part: 400, u: 1, expansion: 11.5e-6, expansion_u: 1e-6}\n", 2, 23, "400 degrees C, need -50 to 150"},
		{"no part", "  temperature: {u: 1, expansion: 11.5e-6, expansion_u: 1e-6}\n", 2, 0, "has no part"},
		{"no expansion", "  temperature: {part: 24, u: 1}\n", 2, 0, "has no expansion"},
		{"no expansion_u", "  temperature: {part: 24, u: 1, expansion: 11.5e-6}\n", 2, 0, "has no expansion_u"},
		{"expansion per million", "  temperature: {part: 24, u: 1, expansion: 11.5, expansion_u: 1e-6}\n", 2, 44, "expansion is 11.5, need it per kelvin"},
		{"expansion twice unsure", "  temperature: {part: 24, u: 1, expansion: {value: 11.5e-6, u: 1e-6}, expansion_u: 1e-6}\n", 2, 84, "leave one of them"},
		{"expansion without value", "  temperature: {part: 24, u: 1, expansion: {u: 1e-6}}\n", 2, 0, "expansion has no value"},
		{"temperature without u", strings.Replace(hot, "u: 1, ", "", 1) + "}\n", 2, 0, "temperature does not say how sure it is"},
		{"spacing of zero", "  spacing: 0\n", 2, 12, "need more than zero"},
		{"negative correlation", "  correlation_length: -1\n", 2, 23, "need zero or more"},
		{"length b per metre", "  length: {a: 0.02, b: 0.4}\n", 2, 0, "more than a tenth of any length"},
		{"length with u", "  length: {a: 0.02, u: 0.4}\n", 2, 21, `unknown key "u"`},
		{"reference of nothing", ref("value: 40, u: 0.01"), 2, 0, "names no feature"},
		{"reference of two", ref("diameter: C1, pitch_diameter: B1, value: 40, u: 0.01"), 2, 54, "an entry of its own"},
		{"reference to an unknown feature", ref("diameter: C7, value: 40, u: 0.01"), 2, 34, "diameter of C7: no such feature in this plan"},
		{"place beyond the circle", ref("diameter: B1/7, value: 6, u: 0.01"), 2, 34, "places 1 to 6"},
		{"diameter of a plane", ref("diameter: P1, value: 40, u: 0.01"), 2, 34, "which is a plane"},
		{"pitch of a cylinder", ref("pitch_diameter: C1, value: 40, u: 0.01"), 2, 40, "name a bolt circle"},
		{"distance of one", ref("distance: [P1], value: 40, u: 0.01"), 2, 34, "names 1 feature, need two"},
		{"distance of itself", ref("distance: [P1, P1], value: 40, u: 0.01"), 2, 34, "from itself"},
		{"distance of a mixture", ref("distance: [P1, C1], value: 40, u: 0.01"), 2, 34, "name two planes, or two of holes and cylinders"},
		{"zero length", ref("diameter: C1, value: 0, u: 0.01"), 2, 45, "need more than zero"},
		{"no length", ref("diameter: C1, u: 0.01"), 2, 0, "has no value"},
		{"exact length", ref("diameter: C1, value: 40, u: 0"), 2, 0, "no gauge reads exactly"},
		{"set_scale", ref("diameter: C1, value: 40, u: 0.01, set_scale: maybe"), 2, 69, "need true or false"},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := Parse("port.yaml", []byte("scanner:\n"+row.keys+features))
			var pe *Error
			require.ErrorAs(t, err, &pe)
			assert.Contains(t, pe.Error(), row.message)
			assert.NotContains(t, pe.Error(), "\n", "one line")
			assert.Equal(t, row.line, pe.Line, pe.Error())
			if row.column > 0 {
				assert.Equal(t, row.column, pe.Column, pe.Error())
			} else {
				assert.Positive(t, pe.Column)
			}
		})
	}
}
