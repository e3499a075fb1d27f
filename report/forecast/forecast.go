// Package forecast says, before anything is scanned, what a scanner would see of
// a planned part: how sure each characteristic would be that the plan judges, and
// whether its band can be judged at all.
//
// Input is a plan.Plan and the scanner's noise, mm, and point spacing, mm, both
// as the report of a real scan states them; nothing of them is made up. Output is a
// Forecast, as text or JSON. Run builds the simplest part that carries the plan's
// holes exactly (a disc with holes and bores through it; what the plan leaves open is in
// Assumed, other faces and bosses are in LeftOut), simulates scans of it
// (package mesh/scansim), and takes each through the whole of what a real one goes
// through: report.Measure and check.Check. As the truth is known, the uncertainty
// that a check would state is beside what 95 % of the errors stayed within.
//
// Trials go on until the standard error of every mean stated uncertainty is within the share
// precision of it, or until the number of trials is used up: Case.Stable says which. Where the
// band is wide, less is enough. The same plan, options and seed give the same figures on any
// number of processors.
//
// The ratio of band to uncertainty is the measurement capability index of JCGM
// 106:2012, 7.6.3. Simulated scans have no gaps, coats, dirt or error of scale;
// what the plan states of the latter is added as a check adds it.
package forecast

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"

	"spotface/mesh"
	"spotface/report/plan"
	"spotface/report/wording"
)

// Options of Run. The zero value works where the plan says the scanner's noise
// and spacing.
type Options struct {
	Kind Kind // empty: Mesh
	// Noise, mm, is the standard deviation of a scanned point across the surface,
	// Spacing, mm, how far apart points lie, both as a report states them. Zero
	// means the plan's.
	Noise, Spacing float64
	// CorrelationLength, mm, is where the noise's correlation along the surface
	// has fallen to 1/e; zero says that it is independent from point to point. Nil
	// means the plan's; where that says nothing, both independent noise and noise
	// that is shared over a quarter of the holes' radius are forecast.
	CorrelationLength *float64
	// Depth is the thickness of the simulated part, mm. Zero means the diameter of
	// its smallest hole.
	Depth float64
	// Trials is the largest number of trials of each case and step. Zero means 80.
	Trials int
	// Seed picks the noise. Same plan, options and seed: same forecast, on any
	// number of cores.
	Seed uint64
	// Jobs is the number of goroutines; zero means GOMAXPROCS.
	Jobs int
	// Progress, if set, is called from one goroutine at a time with the stage at
	// work; total is an estimate that changes. It must return quickly.
	Progress func(stage string, done, total int)
	// Warn, if set, hears in sentences, before the work begins, what makes it long.
	Warn func(string)
}

// MissingError says which figure of the scanner neither plan nor options give.
type MissingError struct {
	File, Key, Example string
	Unit               mesh.Unit // of the plan, and so of the example
}

// missing is the error of a figure, with an example of so many mm.
func missing(p *plan.Plan, key string, example float64) *MissingError {
	unit := cmp.Or(p.Unit, mesh.Millimetre)
	if mm, err := unit.Millimetres(); err == nil {
		example /= mm
	}
	return &MissingError{p.File, key, key + ": " + wording.Short(example), unit}
}

func (e *MissingError) Error() string {
	return fmt.Sprintf("%s: the scanner's %s is not said, and a forecast makes none up: add %q (%s) "+
		"under scanner", cmp.Or(e.File, "plan"), e.Key, e.Example, e.Unit)
}

// Run forecasts what a scanner would see of the plan's part: it builds the
// simplest part that carries the plan's features, simulates scans of it, and takes
// each through the whole of measuring and checking. See the package for what the
// figures mean.
//
// Errors: *MissingError where noise or spacing is not said, *plan.Error
// where the plan lacks a size or is of no one part, and the context's.
func Run(ctx context.Context, p *plan.Plan, opt Options) (*Forecast, error) {
	r, err := newRun(p, opt)
	if err != nil {
		return nil, err
	}
	f := &Forecast{Schema: Schema, Plan: p.File, Part: p.Part, Seed: opt.Seed,
		Precision: precision, Scan: Scan{Kind: r.opt.Kind, Noise: r.opt.Noise,
			Spacing: r.opt.Spacing, CorrelationLength: r.opt.CorrelationLength},
		Assumed: append([]string{}, r.layout.assumed...),
		LeftOut: append([]string{}, r.layout.leftOut...)}
	for i, length := range r.lengths() {
		c, err := r.forecast(ctx, i, length)
		if err != nil {
			return nil, err
		}
		f.Cases = append(f.Cases, c)
	}
	return f, nil
}

// run is one forecast at work.
type run struct {
	opt    Options // no longer with zeros that mean something else
	layout *layout
}

func newRun(p *plan.Plan, opt Options) (*run, error) {
	opt.Kind = cmp.Or(opt.Kind, Mesh)
	opt.Noise = cmp.Or(opt.Noise, p.Scanner.Noise)
	opt.Spacing = cmp.Or(opt.Spacing, p.Scanner.Spacing)
	opt.Trials = cmp.Or(opt.Trials, 80)
	if opt.CorrelationLength == nil && p.Scanner.CorrelationLength > 0 {
		opt.CorrelationLength = &p.Scanner.CorrelationLength
	}
	if opt.Jobs <= 0 {
		opt.Jobs = runtime.GOMAXPROCS(0)
	}
	length := opt.CorrelationLength
	positive := func(v float64) bool { return v > 0 && !math.IsInf(v, 0) }
	switch {
	case opt.Kind != Mesh && opt.Kind != Cloud:
		return nil, fmt.Errorf("forecast: a scan is a %s or a %s, not a %q", Mesh, Cloud, opt.Kind)
	case opt.Noise == 0:
		return nil, missing(p, "noise", 0.03)
	case opt.Spacing == 0:
		return nil, missing(p, "spacing", 0.4)
	case !positive(opt.Noise) || !positive(opt.Spacing):
		return nil, fmt.Errorf("forecast: noise of %v mm at a spacing of %v mm: both must be above "+
			"zero", opt.Noise, opt.Spacing)
	case length != nil && !positive(*length) && *length != 0:
		return nil, fmt.Errorf("forecast: a correlation length of %v mm: it must not be negative",
			*length)
	case opt.Depth < 0 || math.IsInf(opt.Depth, 0) || math.IsNaN(opt.Depth):
		return nil, fmt.Errorf("forecast: a part %v mm thick: it must be above zero", opt.Depth)
	case opt.Trials < 1:
		return nil, fmt.Errorf("forecast: %d trials: there must be one", opt.Trials)
	}
	l, err := layOut(p, opt.Depth, opt.Spacing)
	if err != nil {
		return nil, err
	}
	r := &run{opt: opt, layout: l}
	return r, r.checkSize()
}

// checkSize refuses scans that are too large to simulate.
func (r *run) checkSize() error {
	spacing := r.opt.Spacing
	n := r.layout.area() / (spacing * spacing)
	if r.opt.Kind == Mesh {
		n *= 1.3 // points of a mesh lie closer in rows that cross the grid
	}
	switch {
	case n > tooManyPoints:
		return r.layout.fail("a spacing of %s mm makes scans of %.0f million points of this part, %d "+
			"at most can be simulated: give a wider spacing, from %s mm", wording.Short(spacing), n/1e6,
			tooManyPoints/1_000_000,
			wording.Short(math.Ceil(spacing*math.Sqrt(n/tooManyPoints)*100)/100))
	case n < 300:
		return r.layout.fail("a spacing of %s mm leaves some %.0f points on this part: give a closer "+
			"one", wording.Short(spacing), n)
	}
	if n > manyPoints && r.opt.Warn != nil {
		r.opt.Warn(fmt.Sprintf("simulated scans have some %.1f million points each, so this takes "+
			"long; a wider spacing is quicker", n/1e6))
	}
	return nil
}

// lengths are the correlation lengths to forecast for: where none is known, 0 and a
// quarter of the radius of the smallest hole, bore or boss.
func (r *run) lengths() []float64 {
	if r.opt.CorrelationLength != nil {
		return []float64{*r.opt.CorrelationLength}
	}
	least := math.Inf(1)
	for _, f := range r.layout.on {
		least = min(least, f.r)
	}
	if math.IsInf(least, 0) {
		least = 8 * r.opt.Spacing
	}
	return []float64{0, least / 4}
}

// forecast makes one case.
func (r *run) forecast(ctx context.Context, number int, length float64) (Case, error) {
	noise, rule := "independent noise", r.layout.plan.Decision
	if length > 0 {
		noise = fmt.Sprintf("noise shared over %s mm", wording.Short(length))
	}
	all, err := r.trials(ctx, noise, number, length, func(o []outcome) float64 {
		_, allowedFor := worst(tallies(o, rule))
		return allowedFor
	})
	if err != nil {
		return Case{}, err
	}
	list := tallies(all, rule)
	if len(list) == 0 {
		return Case{}, r.layout.fail("nothing that can be simulated is judged: add a band")
	}
	var points, onHole mean
	for _, o := range all {
		points.add(float64(o.points))
		onHole.add(o.onHole)
	}
	share, allowedFor := worst(list)
	c := Case{CorrelationLength: length, Trials: len(all), Points: int(math.Round(points.value())),
		OnHole: int(math.Round(onHole.value())), Worst: finite(share),
		Stable: allowedFor <= precision}
	for _, t := range list {
		c.Expected = append(c.Expected, t.expected())
	}
	return c, nil
}

// trials repeats trials of one case until the relative error that judge returns is within the
// precision.
func (r *run) trials(ctx context.Context, stage string, stream int, length float64,
	judge func([]outcome) float64) ([]outcome, error) {
	s, err := newScanner(ctx, r.layout.part(), r.opt.Kind, r.opt.Noise, length, r.opt.Spacing)
	if err != nil {
		return nil, err
	}
	tell := func(done []outcome) {
		if r.opt.Progress == nil || len(done) == 0 {
			return
		}
		// Errors of means fall with the root of the number.
		n := float64(len(done))
		need := float64(r.opt.Trials)
		if e := judge(done); !math.IsInf(e, 0) {
			need = min(need, max(n*math.Pow(e/precision, 2), leastTrials))
		}
		r.opt.Progress(stage, len(done), int(math.Ceil(max(need, n))))
	}
	if r.opt.Progress != nil {
		r.opt.Progress(stage, 0, leastTrials)
	}
	return repeat(ctx, r.opt.Jobs, r.opt.Trials,
		func(ctx context.Context, i int) (outcome, error) {
			rng := rand.New(rand.NewPCG(r.opt.Seed, uint64(stream)<<32|uint64(i)))
			return trial(ctx, r.layout.plan, s, rng.Uint64())
		},
		func(done []outcome) bool {
			return len(done) >= leastTrials && judge(done) <= precision
		}, tell)
}
