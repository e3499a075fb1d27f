package forecast

import (
	"context"
	"fmt"
	"math"
	"strings"

	"spotface/report"
	"spotface/report/check"
	"spotface/report/plan"
)

// reading is one number of one simulated scan as a check judges it. The simulated
// part has all nominal sizes exactly, so its deviation is its error.
type reading struct {
	deviation float64 // measured less nominal, of the scan alone
	scan      float64 // expanded uncertainty that the scan shows of itself
	plan      float64 // expanded, what the plan's scanner figures add
	total     float64 // expanded, of both, as a check would state it
	factor    float64 // coverage factor of total
}

// group is all readings of one kind in one scan: the clocking of all holes of a
// circle.
type group struct {
	feature string
	what    report.Characteristic
	unit    string
	lower   *float64
	upper   *float64
	read    []reading
	missing int // not found, or found without an uncertainty
}

// outcome of one simulated scan.
type outcome struct {
	points int
	groups []group
	// Of the main bolt circle: the clocking of its holes, degrees, and how many
	// points a hole's wall has on average, 0 where no walls were seen.
	clocking []reading
	onHole   float64
}

// trial simulates a scan and takes it through the whole of what a real one goes
// through: surfaces, holes, check.
func trial(ctx context.Context, p *plan.Plan, s *scanner, seed uint64) (outcome, error) {
	scan, _, err := s.scan(ctx, seed)
	if err != nil {
		return outcome{}, fmt.Errorf("forecast: %w", err)
	}
	rep, err := report.Measure(ctx, scan, report.MeasureOptions{Jobs: 1})
	if err != nil {
		return outcome{}, fmt.Errorf("forecast: %w", err)
	}
	// Once without what the plan knows of the scanner, which the simulated scan
	// has none of: no coat, no heat. Once with it, for the uncertainty alone.
	bare := *p
	bare.Scanner = plan.Scanner{}
	alone, err := check.Check(&bare, rep)
	if err != nil {
		return outcome{}, err
	}
	out := outcome{points: scan.Len()}
	out.circle(p, rep.Judged(alone))
	full, err := check.Check(p, rep)
	if err != nil {
		return outcome{}, err
	}
	if len(full.Results) != len(alone.Results) {
		return outcome{}, fmt.Errorf("forecast: %d characteristics with the plan's scanner, %d without: this is a fault of the program", len(full.Results), len(alone.Results))
	}
	for i := range alone.Results {
		out.add(&alone.Results[i], &full.Results[i])
	}
	return out, nil
}

// add sorts a result into its group.
func (o *outcome) add(alone, full *report.Result) {
	if alone.Characteristic == report.Presence && alone.Verdict != report.Missing {
		return
	}
	feature, _, _ := strings.Cut(alone.Feature, "/")
	k := 0
	for k < len(o.groups) && (o.groups[k].feature != feature || o.groups[k].what != alone.Characteristic) {
		k++
	}
	if k == len(o.groups) {
		o.groups = append(o.groups, group{feature: feature, what: alone.Characteristic})
	}
	g := &o.groups[k]
	if alone.Deviation == nil || full.Deviation == nil || !(alone.Uncertainty > 0) || !(full.Uncertainty > 0) {
		g.missing++
		return
	}
	g.unit, g.lower, g.upper = alone.Unit, alone.Lower, alone.Upper
	g.read = append(g.read, reading{
		deviation: *alone.Deviation, scan: alone.Uncertainty, plan: full.FromPlan,
		total: full.Uncertainty, factor: full.CoverageFactor})
}

// circle takes the clocking of the plan's main circle, judged or not.
func (o *outcome) circle(p *plan.Plan, rep *report.Report) {
	main := mainCircle(p)
	if main < 0 {
		return
	}
	want := &p.BoltCircles[main]
	var c *report.BoltCircle
	off := math.Inf(1)
	for i := range rep.BoltCircles {
		k := &rep.BoltCircles[i]
		if d := math.Abs(k.PitchDiameter - want.PitchDiameter.Nominal); len(k.Clocking) == len(want.Angles) && d < off {
			c, off = k, d
		}
	}
	if c == nil {
		return
	}
	for _, k := range c.Clocking {
		if k.DeviationDeg != nil && k.UncertaintyDeg > 0 {
			o.clocking = append(o.clocking, reading{deviation: *k.DeviationDeg, scan: k.UncertaintyDeg})
		}
	}
	o.onHole = wallPoints(rep, c)
}

// wallPoints is the mean number of points on the walls of a circle's holes.
func wallPoints(rep *report.Report, c *report.BoltCircle) float64 {
	sum, n := 0, 0
	for _, id := range c.Holes {
		for _, h := range rep.Holes {
			for _, w := range rep.Cylinders {
				if h.ID == id && h.Wall != "" && w.ID == h.Wall {
					sum, n = sum+w.Support, n+1
				}
			}
		}
	}
	if n == 0 {
		return 0
	}
	return float64(sum) / float64(n)
}
