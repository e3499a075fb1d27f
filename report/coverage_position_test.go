package report_test

import (
	"cmp"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
	"spotface/report"
	"spotface/report/check"
	"spotface/report/plan"
)

// positions checks a report against its part's drawing and judges the interval of each
// hole's true position: twice how far it lies from its place on the planned circle about
// the bore's axis, or where the scan shows no bore about the circle's own centre, the
// pattern turned to its best fit.
func (c *wholeCount) positions(tb testing.TB, rep *report.Report, truth scansim.Truth, is map[string]int) {
	b := truth.Patterns[0]
	p := &plan.Plan{
		Frame:       plan.Frame{Axis: "bore"},
		BoltCircles: []plan.Circle{{ID: "B", PitchDiameter: &plan.Size{Nominal: b.PitchDiameter}, Position: plan.Zone{Diameter: 0.3}}},
		Cylinders:   []plan.Cylinder{{ID: "bore", Side: report.Internal, Diameter: &plan.Size{Nominal: 2 * faceOf(truth, "bore").Radius}}},
	}
	for _, a := range b.Nominal {
		p.BoltCircles[0].Angles = append(p.BoltCircles[0].Angles, (a - b.Nominal[0]).Degrees())
	}
	j, err := check.Check(p, rep)
	require.NoError(tb, err)
	rep = rep.Judged(j)

	y := b.Axis.Cross(b.X)
	centre := b.Centre
	if rep.Frame.Axis == rep.BoltCircles[0].ID {
		centre = b.FitCentre
	}
	off := func(k int, turn float64) (dx, dy float64) {
		d := truth.Holes[b.Holes[k]].Centre.Sub(centre)
		sin, cos := math.Sincos(b.Nominal[k].Radians() + turn)
		return d.Dot(b.X) - b.PitchDiameter/2*cos, d.Dot(y) - b.PitchDiameter/2*sin
	}
	turn := 0.0
	place := map[int]int{}
	for k, h := range b.Holes {
		d := truth.Holes[h].Centre.Sub(centre)
		turn += math.Remainder(math.Atan2(d.Dot(y), d.Dot(b.X))-b.Nominal[k].Radians(), 2*math.Pi) / float64(len(b.Holes))
		place[h] = k
	}
	for _, r := range rep.Results {
		if r.Characteristic != report.Position || r.Measured == nil {
			continue
		}
		_, hole, _ := strings.Cut(cmp.Or(r.Matched, r.Feature), "/")
		at, ok := is[hole]
		require.True(tb, ok, hole)
		c.position.add(*r.Measured-2*math.Hypot(off(place[at], turn)), r.Uncertainty)
	}
}
