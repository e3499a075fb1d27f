package report

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report/internal/testpart"
)

// A bore 0.1 mm beside a perfect circle sees a hole at the angle a turned by 0.1 sin(a)/R,
// to first order.
func TestClockingAboutTheBore(t *testing.T) {
	p := testpart.Kettle()
	p.Angles = []float64{0, 60, 120, 180, 240, 300}
	rep := reportOf(t, p)
	c := &rep.BoltCircles[0]
	rep.Bore = &Hole{ID: "C1", Centre: c.Centre, Face: c.Face, Uncertainty: Uncertainty{Centre: 0.01}}
	assert.Nil(t, rep.aboutBore(c), "about one axis")
	x := rep.Hole(c.Clocking[0].Hole).Centre.R3().Sub(c.Centre.R3()).Normalize()
	rep.Bore.Centre = vec(c.Centre.R3().Add(x.Mul(0.1)))
	a := rep.aboutBore(c)
	require.NotNil(t, a)
	assert.InDelta(t, 0.1, a.Offset, 1e-9)
	require.Len(t, a.Clocking, 6)
	for i, k := range a.Clocking {
		sin := math.Sin(float64(i) * math.Pi / 3)
		assert.InDelta(t, degrees(0.1*sin/42), k.DeviationDeg, 1e-3)
		assert.Positive(t, k.UncertaintyDeg)
	}
}

// Equal holes of a full ring look the same at six turns, with one of them offset at one.
func TestTurns(t *testing.T) {
	p := testpart.Kettle()
	rep := reportOf(t, p)
	assert.Equal(t, 6, rep.BoltCircles[0].Nominal.Turns)
	p.Angles = []float64{0, 70, 120, 180, 240, 300}
	p.Nominal = p.Angles
	rep = reportOf(t, p)
	assert.Equal(t, 1, rep.BoltCircles[0].Nominal.Turns)
}
