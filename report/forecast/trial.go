package forecast

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"spotface/mesh/parallel"
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

func (g *group) is(feature string, what report.Characteristic) bool {
	return g.feature == feature && g.what == what
}

// outcome of one simulated scan.
type outcome struct {
	points int
	groups []group
	onHole float64 // points that a wall of the main circle's holes has on average
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
	out := outcome{points: scan.Len(), onHole: wallPoints(rep)}
	full, err := check.Check(p, rep)
	if err != nil {
		return outcome{}, err
	}
	if len(full.Results) != len(alone.Results) {
		return outcome{}, fmt.Errorf("forecast: %d characteristics with the plan's scanner, %d "+
			"without: this is a fault of the program", len(full.Results), len(alone.Results))
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
	k := slices.IndexFunc(o.groups, func(g group) bool { return g.is(feature, alone.Characteristic) })
	if k < 0 {
		k = len(o.groups)
		o.groups = append(o.groups, group{feature: feature, what: alone.Characteristic})
	}
	g := &o.groups[k]
	known := func(r *report.Result) bool { return r.Deviation != nil && r.Uncertainty > 0 }
	if !known(alone) || !known(full) {
		g.missing++
		return
	}
	g.unit, g.lower, g.upper = alone.Unit, alone.Lower, alone.Upper
	g.read = append(g.read, reading{
		deviation: *alone.Deviation, scan: alone.Uncertainty, plan: full.FromPlan,
		total: full.Uncertainty, factor: full.CoverageFactor})
}

// wallPoints is the mean number of points on the walls of the main circle's holes.
func wallPoints(rep *report.Report) float64 {
	var support mean
	if c := rep.MainCircle(); c != nil {
		for _, id := range c.Holes {
			if w := rep.Cylinder(rep.Hole(id).Wall); w != nil {
				support.add(float64(w.Support))
			}
		}
	}
	return support.value()
}

// repeat runs trial(0), trial(1), ... on jobs processors until enough is content
// with the results so far or there are most of them, and returns them in order.
//
// enough sees the results in order, one more each time, and never those of later
// trials that are done already: how many trials are used does not depend on the
// number of processors. tell, if set, hears of every result.
func repeat[T any](ctx context.Context, jobs, most int,
	trial func(context.Context, int) (T, error), enough func([]T) bool,
	tell func(done []T)) ([]T, error) {
	var done []T
	for len(done) < most {
		first, batch := len(done), make([]T, min(jobs, most-len(done)))
		err := parallel.Workers(ctx, jobs, len(batch), 1, func(_, i, _ int) (err error) {
			batch[i], err = trial(ctx, first+i)
			return err
		})
		if err != nil {
			return nil, err
		}
		for _, r := range batch {
			done = append(done, r)
			if tell != nil {
				tell(done)
			}
			if enough(done) {
				return done, nil
			}
		}
	}
	return done, nil
}
