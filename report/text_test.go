package report

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTextTry(t *testing.T) {
	var b bytes.Buffer
	rep := kettlePort().report(t)
	require.NoError(t, WriteText(&b, rep))
	t.Log("\n" + b.String())
	p, err := ParsePlan("p.yaml", []byte(`part: kettle port ring
unit: mm
frame:   {face: P1, axis: C1, clock: H1}
scanner: {noise: 0.03, length: {a: 0.02, b: 0.00004}, coating: {thickness: 0.008, u: 0.004}}
bolt_circles:
  - id: B1
    count: 6               # or angles: [0, 60, 120]
    spacing: {nominal: 60, band: [-0.25, 0.25]}     # degrees, hole to hole
    pitch_diameter: {nominal: 84, band: [-0.2, 0.2]}
    hole_diameter:  {nominal: 6.6, band: [0, 0.25]}
    clocking:       {band: [-0.25, 0.25]}           # degrees, each hole
    position:       {diameter: 0.3}                 # true position, optional
holes:     [{id: X1, at: [43.9, -4.6], diameter: {nominal: 12, band: [-0.1, 0.2]}}]
planes:    [{id: P1, flatness: 0.3}]
cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: [-0.1, 0.1]}, perpendicular_to: P1, perpendicularity: 0.1}]
`))
	require.NoError(t, err)
	require.NoError(t, Check(p, rep))
	b.Reset()
	require.NoError(t, WriteText(&b, rep))
	t.Log("\n" + b.String())
}
