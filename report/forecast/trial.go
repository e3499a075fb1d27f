package forecast

import (
	"context"
	"fmt"

	"spotface/mesh/parallel"
	"spotface/report"
	"spotface/report/check"
	"spotface/report/plan"
)

// judged is one result of a simulated scan, without what the plan knows of the scanner and with
// it. The simulated part has all nominal sizes exactly, so its deviation is its error.
type judged struct{ alone, full report.Result }

// outcome of one simulated scan.
type outcome struct {
	points  int
	onHole  float64 // points that a wall of the main circle's holes has on average
	results []judged
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
	for i, r := range alone.Results {
		if r.Characteristic != report.Presence || r.Verdict == report.Missing {
			out.results = append(out.results, judged{r, full.Results[i]})
		}
	}
	return out, nil
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
