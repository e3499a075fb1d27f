package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"spotface/report/wording"
)

// judged lists every characteristic that the plan asks for, in the plan's order.
func (b *viewer) judged() {
	if len(b.results) == 0 {
		return
	}
	tab := &wording.Table{Head: []string{"<feature", "<characteristic", "<unit", "nominal",
		"measured", "off", "+-", "from", "to", "<verdict"}}
	for i := range b.results {
		r := &b.results[i]
		d := r.decimals()
		cell := func(v *float64, say func(float64) string) string {
			if v == nil {
				return ""
			}
			return say(*v)
		}
		u := strings.TrimPrefix(wording.PlusMinus(r.Uncertainty, d), " +-")
		tab.Add(r.name(), plain(r.Characteristic), r.Unit, cell(r.Nominal, wording.Short),
			cell(r.Measured, func(v float64) string { return wording.Fixed(v, d) }),
			cell(r.Deviation, func(v float64) string { return raw(v, 0).rounded(d).Signed() }), u,
			cell(r.Lower, wording.Short), cell(r.Upper, wording.Short), string(r.Verdict))
	}
	b.v.Judged = tab
	b.detail("What the plan judges (off: measured less nominal; from, to: its band)", tab)
}

// name is "B1/H3", or "C1 (C2 here)" where the scan has another id for it.
func (r *Result) name() string {
	if r.Matched != "" {
		return fmt.Sprintf("%s (%s here)", r.Feature, r.Matched)
	}
	return r.Feature
}

// scanID is the feature's id in the scan.
func (r *Result) scanID() string { return cmp.Or(r.Matched, r.Feature) }

// sentences counts and says the results of one verdict, one line each. More than three like
// ones (a characteristic of the holes of one circle) are one line, by the
// worst. A missing feature has one line.
func sentences(results []Result, v Verdict) (n int, out []string) {
	for _, g := range likeResults(results, func(r *Result) bool { return r.Verdict == v }) {
		n += len(g)
		if v == Missing {
			if s := g[0].Feature + ": " + g[0].Why; !slices.Contains(out, s) {
				out = append(out, s)
			}
			continue
		}
		if len(g) <= 3 {
			for _, r := range g {
				out = append(out, r.sentence())
			}
			continue
		}
		worst := slices.MinFunc(g, func(a, b *Result) int {
			return cmp.Compare(*cmp.Or(a.Probability, new(1.0)), *cmp.Or(b.Probability, new(1.0)))
		})
		out = append(out, fmt.Sprintf("%s of %d in circle %s, worst %s",
			plain(worst.Characteristic), len(g), worst.parent(), worst.sentence()))
	}
	return n, out
}

// plain is a characteristic in words: "pitch diameter".
func plain(c Characteristic) string { return strings.ReplaceAll(string(c), "_", " ") }

// likeResults groups those results that are wanted by circle and characteristic, each of a
// feature beside circles by itself, in their order.
func likeResults(results []Result, wanted func(*Result) bool) [][]*Result {
	var list []*Result
	for i := range results {
		if wanted(&results[i]) {
			list = append(list, &results[i])
		}
	}
	return gather(list, func(g []*Result, r *Result) bool {
		return r.parent() != "" && r.parent() == g[0].parent() && r.Characteristic == g[0].Characteristic
	})
}

// parent is the circle that a hole's result belongs to, or "".
func (r *Result) parent() string {
	if circle, _, ok := strings.Cut(r.Feature, "/"); ok {
		return circle
	}
	return ""
}

// sentence is the result in a line: feature, characteristic, number, band.
func (r *Result) sentence() string {
	s := r.name() + " " + plain(r.Characteristic)
	if r.Measured != nil {
		d := r.decimals()
		u := wording.PlusMinus(r.Uncertainty, d)
		switch angle := r.Unit == "deg"; {
		case angle && r.Nominal != nil && r.Deviation != nil:
			s += fmt.Sprintf(" %s%s degrees from %s", wording.Signed(*r.Deviation, d), u,
				wording.Short(*r.Nominal))
		case r.Nominal != nil && *r.Nominal != 0 && r.Deviation != nil:
			s += fmt.Sprintf(" %s %s, %s%s from %s", wording.Fixed(*r.Measured, d), r.Unit,
				wording.Signed(*r.Deviation, d), u, wording.Short(*r.Nominal))
		default:
			s += " " + wording.Fixed(*r.Measured, d) + u + " " + r.unitWord()
		}
		s += " (band " + wording.Band(r.Lower, r.Upper) + ")"
	}
	if r.Why != "" {
		s += ": " + r.Why
	}
	return s
}

func (r *Result) unitWord() string {
	if r.Unit == "deg" {
		return "degrees"
	}
	return r.Unit
}

// openPoints says what would settle each indeterminate result; of more than three
// like ones the one that is nearest its limit.
func (b *viewer) openPoints() {
	var text []string
	for _, g := range likeResults(b.results,
		func(r *Result) bool { return r.Verdict == Indeterminate }) {
		if len(g) > 3 {
			g = []*Result{slices.MinFunc(g,
				func(x, y *Result) int { return cmp.Compare(x.gap(), y.gap()) })}
		}
		for _, r := range g {
			text = append(text, plain(r.Characteristic)+" "+r.name()+": "+r.settle())
		}
	}
	if len(text) > 0 {
		b.v.Details = append(b.v.Details,
			Section{Title: "What would settle the open points", Text: text, ToDo: true})
	}
}

// FormOrNoise is what is in the way where noise looks like form.
const FormOrNoise = "the scan's noise is correlated over so much of it that form cannot be " +
	"distinguished from noise"

// gap is the distance of the deviation from the nearest limit: an uncertainty below
// it decides.
func (r *Result) gap() float64 {
	gap := math.Inf(1)
	for _, limit := range []*float64{r.Lower, r.Upper} {
		if limit != nil && r.Deviation != nil {
			gap = min(gap, math.Abs(*r.Deviation-*limit))
		}
	}
	return gap
}

// settle says what would turn an indeterminate result into a decided one.
func (r *Result) settle() string {
	if r.Deviation == nil || !(r.Uncertainty > 0) {
		return "scan the feature again with more of it in view; this scan does not say how " +
			"sure the number is."
	}
	if r.Why == FormOrNoise {
		return "no more points of the same kind: noise over so much of the surface looks like " +
			"form. Scan it again from another side or with another scanner, or take it with a " +
			"straightedge and feeler gauges."
	}
	gap, unit, d, k := r.gap(), r.unitWord(), r.decimals(), r.CoverageFactor
	fixed := func(v float64) string { return wording.Fixed(v, d) }
	s := fmt.Sprintf("it lies %s %s from its limit, the uncertainty is +-%s. ", fixed(gap), unit,
		fixed(r.Uncertainty))
	if r.Lower != nil && r.Upper != nil && *r.Upper-*r.Lower < 2*r.Uncertainty {
		s = fmt.Sprintf("the band is %s %s wide and the uncertainty +-%s, so nothing could pass. ",
			wording.Short(*r.Upper-*r.Lower), unit, fixed(r.Uncertainty))
	}
	s += "To decide: "
	p := math.Pow(10, float64(d))
	widen := fmt.Sprintf("widen the limit by %s %s.", fixed(math.Ceil((r.Uncertainty-gap)*p)/p), unit)
	// The plan's source that contributes most.
	worst := BudgetLine{}
	for _, l := range r.Budget {
		if !l.FromScan() && l.Contribution > worst.Contribution {
			worst = l
		}
	}
	// This source known so well, the others as they are, brings the uncertainty down to the gap.
	rest := sq2(r.Uncertainty/k) - sq2(worst.Contribution)
	need := math.Sqrt(max(sq2(gap/k)-rest, 0)) / worst.Contribution * worst.Standard
	switch times := r.pointsToSettle(); {
	case r.FromPlan < gap && times <= 30:
		return s + fmt.Sprintf("scan closer or add passes, about %s times the points in all, or %s",
			wording.Fixed(math.Ceil(times*10)/10, 1), widen)
	case r.FromPlan < gap:
		return s + "take it by hand with a finer gauge, since no scan is fine enough, or " + widen
	case worst.Source == SourceLength &&
		(r.Characteristic == Diameter || r.Characteristic == PitchDiameter):
		return s + fmt.Sprintf("take this length by hand to +-%s %s, in the plan under "+
			"reference_lengths with set_scale, or %s The %s alone is +-%s.",
			wording.Digits(gap), unit, widen, worst.Source, fixed(k*worst.Contribution))
	case need > 0:
		return s + fmt.Sprintf("know the %s to +-%s %s instead of +-%s, or %s More points do not help.",
			worst.Source, wording.Digits(k*need), worst.Unit, wording.Digits(k*worst.Standard), widen)
	}
	return s + fmt.Sprintf("take it by hand with a finer gauge, or %s More points do not help: "+
		"what the plan adds, most of it %s, is +-%s.", widen, worst.Source, fixed(r.FromPlan))
}

// pointsToSettle is how many times the points it takes for the uncertainty to
// shrink to the gap; infinite where what the plan adds is more than that already. Noise
// falls with the root of the number of points, smoothing with the square of their spacing:
// with n times the points on the surface,
//
//	noise²/n + smoothing²/n² + plan² = gap²
func (r *Result) pointsToSettle() float64 {
	u2 := 0.0
	for _, l := range r.Budget {
		if l.Source == SourceSmoothing {
			u2 += sq2(r.CoverageFactor * l.Contribution)
		}
	}
	n2 := max(0, sq2(r.Uncertainty)-sq2(r.FromPlan)-u2)
	room := sq2(r.gap()) - sq2(r.FromPlan)
	if room <= 0 {
		return math.Inf(1)
	}
	return (n2 + math.Sqrt(n2*n2+4*u2*room)) / (2 * room)
}

func sq2(v float64) float64 { return v * v }

// name is "diameter C1 (C2 here)".
func (l *ScaleLength) name() string {
	s := plain(l.Of) + " " + strings.Join(l.Features, " to ")
	if len(l.Matched) > 0 {
		s += " (" + strings.Join(l.Matched, " to ") + " here)"
	}
	return s
}

// sentences say whether the scan's scale agrees, or what set it.
func (s *Scale) sentences(unit lengthUnit) []string {
	var out []string
	remedy := "Take the length again, check the scanner's calibration, or let the length set " +
		"the scale (set_scale: true)."
	if s.Set {
		remedy = "Take the lengths again, and check the scanner's calibration."
		n := 0
		for _, l := range s.Lengths {
			if l.SetScale {
				n++
			}
		}
		line := fmt.Sprintf("The scale is set by %s taken by hand: judged lengths are "+
			"multiplied by %s +-%s", wording.Things(n, "length"),
			wording.Fixed(s.Factor, 5), wording.Fixed(s.Uncertainty, 5))
		if short := 100 * (s.Factor - 1); math.Abs(short) >= 0.0005 {
			way := map[bool]string{true: "short", false: "long"}[short > 0]
			line += fmt.Sprintf(" (the scan reads %s %% %s)", wording.Digits(math.Abs(short)), way)
		}
		out = append(out, line+".")
	}
	for i := range s.Lengths {
		l := &s.Lengths[i]
		if s.Set && l.SetScale {
			continue
		}
		length := func(mm float64) Number { return unit.number(mm, l.Uncertainty) }
		line := fmt.Sprintf("%s: %s by hand, %s scanned, %s %s between them", l.name(),
			length(l.Value), length(l.Scanned), length(l.Difference).SignedU(), unit.name)
		if l.Agrees {
			out = append(out, "Scale checked by "+line+": they agree.")
			continue
		}
		out = append(out,
			fmt.Sprintf("The scan's scale disagrees with %s. Every length of this report may "+
				"be off by %s %%; angles are not. %s",
				line, wording.Digits(100*math.Abs(l.Difference)/l.Value), remedy))
	}
	// One by one they agree with the scan, or set its scale, but not with each other.
	alone := func(l ScaleLength) bool { return !l.Agrees && !l.SetScale }
	if s.DoF > 0 && !s.Agrees && !slices.ContainsFunc(s.Lengths, alone) {
		out = append(out,
			fmt.Sprintf("The lengths taken by hand disagree with each other (chi-squared %s "+
				"for %s): take them again, one of them is of another feature or misread.",
				wording.Fixed(s.ChiSquared, 1), wording.Things(s.DoF, "degree")+" of freedom"))
	}
	return out
}

// Budgets is the whole uncertainty budget of every kind of judged characteristic, each by
// the feature of its kind that is known worst: source, value, standard uncertainty u,
// distribution, degrees of freedom, sensitivity, what it contributes to the result's u, and
// its share of the variance, down to 0.05 %. The budgets of all features are in the JSON.
// Without a check there is none.
func Budgets(rep *Report, opt ViewOptions) []Section {
	var out []Section
	results := opt.unit().results(rep)
	for _, g := range likeResults(results, func(r *Result) bool { return len(r.Budget) > 0 }) {
		r := slices.MaxFunc(g,
			func(a, b *Result) int { return cmp.Compare(a.Uncertainty, b.Uncertainty) })
		head := fmt.Sprintf("Uncertainty of %s: %s", plain(r.Characteristic)+" "+r.name(), r.amount())
		if len(g) > 1 {
			head += fmt.Sprintf(", the largest of %d", len(g))
		}
		out = append(out, Section{Title: head, Table: r.budgetTable()})
	}
	if len(out) > 0 {
		out = append(out, Section{Title: "How to read this",
			Text: []string{"u is a standard uncertainty; +- is k times the combined one. " +
				"Sensitivity is the change of the result for a change of one unit of the " +
				"source, share that of the variance, dof the degrees of freedom where they are " +
				"few."}})
	}
	return out
}

// amount is "84.001 +-0.023 mm (k = 2)".
func (r *Result) amount() string {
	d := r.decimals()
	s := fmt.Sprintf("%s +-%s %s (k = %s", wording.Fixed(*r.Measured, d),
		wording.Fixed(r.Uncertainty, d),
		r.Unit, wording.Short(raw(r.CoverageFactor, 0).rounded(2).Value))
	if r.EffectiveDoF > 0 && r.EffectiveDoF < 100 && r.CoverageFactor > Coverage {
		s += fmt.Sprintf(", %.0f degrees of freedom", r.EffectiveDoF)
	}
	return s + ")"
}

func (r *Result) budgetTable() *wording.Table {
	tab := &wording.Table{Head: []string{"<source", "value", "<", "u", "<distribution", "dof",
		"sensitivity", "u " + r.Unit, "share"}}
	total := 0.0
	for _, l := range slices.SortedStableFunc(slices.Values(r.Budget),
		func(a, b BudgetLine) int { return cmp.Compare(b.Share, a.Share) }) {
		total += l.Share
		if l.Share < 5e-4 {
			continue
		}
		dof := ""
		if l.DoF > 0 && l.DoF < 1000 {
			dof = wording.Short(raw(l.DoF, 0).rounded(1).Value)
		}
		tab.Add(l.Source, significant(l.Value, 6), l.Unit, significant(l.Standard, 2),
			l.Distribution, dof, significant(l.Sensitivity, 3), significant(l.Contribution, 2),
			wording.Fixed(100*l.Share, 1)+" %")
	}
	tab.Add("combined", "", "", "", "", "", "", significant(r.Uncertainty/r.CoverageFactor, 2),
		wording.Fixed(100*total, 1)+" %")
	return tab
}

// significant prints v with n significant digits, powers of ten beyond 1e-4.
func significant(v float64, n int) string { return strconv.FormatFloat(v+0, 'g', n, 64) }

// Rule says how an uncertain number is held against a band.
type Rule string

const (
	// Guarded is the standard's rule: conforming where the whole of the
	// uncertainty lies inside the band, nonconforming where the whole of it lies
	// outside, else indeterminate (ISO 14253-1:2017, with U = k u for guard band,
	// k = 2).
	Guarded Rule = "guarded"
	// SimpleAcceptance looks at the number alone (JCGM 106:2012, 8.2). It never
	// says indeterminate, and near a limit it is wrong half the time.
	SimpleAcceptance Rule = "simple-acceptance"
	// GuardedRejection calls nonconforming only what lies outside by more than
	// its uncertainty, and all else conforming (JCGM 106:2012, 8.3.3).
	GuardedRejection Rule = "guarded-rejection"
)

// sentence says for a person what the rule does, and the coverage factors that it
// was used with.
func (r Rule) sentence(results []Result) string {
	k, most, place := "k = 2", 0.0, 0.0
	for _, v := range results {
		if v.Characteristic == Position {
			place = max(place, v.CoverageFactor)
		} else {
			most = max(most, v.CoverageFactor)
		}
	}
	if most > 2.005 {
		k = fmt.Sprintf("k = 2, up to %s where the plan's degrees of freedom are few",
			wording.Fixed(most, 2))
	}
	if place > 2.005 {
		k += fmt.Sprintf(" (of positions up to %s, since near zero they err upward only)",
			wording.Fixed(place, 2))
	}
	switch r {
	case SimpleAcceptance:
		return "Rule: the measured number alone decides (simple acceptance); near a limit it " +
			"may well be wrong."
	case GuardedRejection:
		return "Rule: nonconforming is only what lies outside by more than its uncertainty, " + k +
			" (guarded rejection)."
	}
	return "Rule: conforming with the whole uncertainty inside the band, nonconforming with " +
		"the whole of it outside, " + k + " (ISO 14253-1)."
}

// Printed is how a printed trial differs from the plan that it was printed from:
//
//	length = scale × nominal,   diameter = scale × nominal + offset
//
// with one scale in the planes of the layers and one along the build direction, which is taken
// as perpendicular to the mounting face, and one offset for holes and one for outside diameters.
type Printed struct {
	InPlane *PrintError `json:"in_plane_scale,omitempty"` // nil: this part does not show it
	Along   *PrintError `json:"along_scale,omitempty"`
	Holes   *PrintError `json:"hole_offset,omitempty"`    // mm, below zero where holes came out small
	Outside *PrintError `json:"outside_offset,omitempty"` // mm
	// Cautions are complete sentences.
	Cautions []string `json:"cautions,omitempty"`
}

// PrintError is a scale or an offset of a print.
type PrintError struct {
	Value       float64 `json:"value"`
	Uncertainty float64 `json:"uncertainty"` // expanded, with what lengths of this print scatter by
	// CoverageFactor is more than 2 where the scatter is known from few lengths only.
	CoverageFactor float64 `json:"coverage_factor"`
	Lengths        int     `json:"lengths"` // distances, or diameters, that tell it
	// Corrected says that the next print's nominals are corrected by it: only what is more
	// than its uncertainty is.
	Corrected bool `json:"corrected"`
}

// Lines say what was found and what is corrected, lengths in mm.
func (p *Printed) Lines() []string { return p.lines(millimetre) }

func (p *Printed) lines(unit lengthUnit) (out []string) {
	say := func(what string, e *PrintError, off Number, in, one string) {
		done := "not corrected, since it is within its uncertainty"
		if e.Corrected {
			done = "corrected"
		}
		by := wording.Things(e.Lengths, one)
		if e.Lengths == 1 {
			by += ", which does not show what prints scatter by"
		}
		out = append(out, fmt.Sprintf("%s: %s %s (by %s): %s", what, off.SignedU(), in, by, done))
	}
	scale := func(what string, e *PrintError) {
		if e == nil {
			out = append(out, what+": not shown by two features whose places the plan has, so not corrected")
			return
		}
		u := 100 * e.Uncertainty
		say(what, e, raw(100*(e.Value-1), u).rounded(wording.Decimals(u)), "%", "length")
	}
	offset := func(what string, e *PrintError) {
		if e != nil {
			say(what+", beside that", e, unit.number(e.Value, e.Uncertainty), unit.name, "diameter")
		}
	}
	scale("lengths in plane", p.InPlane)
	scale("lengths along the build direction", p.Along)
	offset("holes", p.Holes)
	offset("outside diameters", p.Outside)
	return out
}

// printed says how a trial came out.
func (b *viewer) printed() {
	if p := b.rep.Printed; p != nil {
		b.v.Headline = append(b.v.Headline,
			Statement{"Printed against the plan's own nominals:", p.lines(b.unit)})
		b.detail("Before the next print", nil, p.Cautions...)
	}
}
