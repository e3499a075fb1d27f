package main

import (
	"fmt"
	"math"
)

// compare compares the report with the simulated truth.
func (d *demonstration) compare() string {
	const unseen = "The scan is simulated, so the truth is known; this report found no bolt " +
		"circle to hold against it.\n"
	if len(d.report.BoltCircles) == 0 || len(d.truth.Patterns) == 0 {
		return unseen
	}
	circle, truth := d.report.BoltCircles[0], d.truth.Patterns[0]
	worst, seen := 0.0, 0
	for i, h := range truth.Holes {
		at := d.truth.Holes[h].Centre
		for _, found := range d.report.Holes {
			if found.Centre.R3().Sub(at).Norm() > 1 { // mm; the holes are far apart
				continue
			}
			for _, c := range circle.Clocking {
				if c.Hole == found.ID && c.DeviationDeg != nil {
					worst = max(worst, math.Abs(*c.DeviationDeg-truth.BestFit[i].Degrees()))
					seen++
				}
			}
		}
	}
	if seen == 0 {
		return unseen
	}
	return fmt.Sprintf(`The scan is simulated, so the truth is known. Of %d holes %d were found; against
what is true, the largest error of a hole's angle is %.3f degrees, and the pitch diameter
is off by %.3f mm.
`, len(truth.Holes), seen, worst, math.Abs(circle.PitchDiameter-truth.FitPitchDiameter))
}
