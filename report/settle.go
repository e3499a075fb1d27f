package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"spotface/report/wording"
)

// openPoints says what would settle each indeterminate result; of more than three
// like ones the one that is nearest its limit.
func (b *viewer) openPoints() {
	var text []string
	scan := b.rep.Scan
	scan.Spacing /= b.unit.mm
	scan.CorrelationLength /= b.unit.mm
	for _, g := range likeResults(b.results, Indeterminate) {
		if len(g) > 3 {
			g = []*Result{slices.MinFunc(g, func(x, y *Result) int { return cmp.Compare(x.gap(), y.gap()) })}
		}
		for _, r := range g {
			text = append(text, r.Feature+" "+strings.ReplaceAll(string(r.Characteristic), "_", " ")+": "+r.settle(&scan, b.unit))
		}
	}
	b.detail("What would settle the open points", nil, text...)
}

// FormOrNoise is what is in the way where noise looks like form.
const FormOrNoise = "the scan's noise hangs together over so much of it that form cannot be told from noise"

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

// settle says what would turn an indeterminate result into a decided one; result and scan
// have their lengths in the unit.
func (r *Result) settle(scan *Scan, length lengthUnit) string {
	if r.Deviation == nil || !(r.Uncertainty > 0) {
		return "scan the feature again with more of it in view; this scan does not say how sure the number is."
	}
	if r.Why == FormOrNoise {
		return "no more points of the same kind: noise over so much of the surface looks like form. Scan it again from another side or with another scanner, or take it with a straightedge and feeler gauges."
	}
	gap, unit, d := r.gap(), r.unitWord(), r.decimals()
	s := fmt.Sprintf("it lies %s %s from its limit, the uncertainty is +-%s. ", fixed(gap, d), unit, fixed(r.Uncertainty, d))
	if r.Lower != nil && r.Upper != nil && *r.Upper-*r.Lower < 2*r.Uncertainty {
		s = fmt.Sprintf("the band is %s %s wide and the uncertainty +-%s, so nothing could pass. ",
			wording.Short(*r.Upper-*r.Lower), unit, fixed(r.Uncertainty, d))
	}
	further := fixed(math.Ceil((r.Uncertainty-gap)*1e3)/1e3, 3) + " " + unit + " further out"
	p := r.parts()
	switch times := r.pointsToSettle(); {
	case gap < 1e-3*r.Uncertainty:
		return s + "That is its limit to the last digit: measure it by hand with a finer gauge, or let the limit be " + further + "."
	case p.plan >= gap:
		return s + r.settlePlan(gap) + " So would a limit " + further + "."
	case p.unseen > p.noise && scan.Spacing > 0 && sq2(gap) > sq2(p.plan)+sq2(p.noise):
		return s + fmt.Sprintf("Most of it is how far the scan may have smoothed or rounded the surface. A mesh of %s %s between points instead of %s would settle it; so would a limit %s.",
			length.number(r.spacingToSettle(scan.Spacing)*length.mm, 0), length.name, length.number(scan.Spacing*length.mm, 0), further)
	case times > 30:
		return s + "Too near for a better scan: measure it by hand with a finer gauge, or let the limit be " + further + "."
	default:
		points := fmt.Sprintf("A scan with %s times the points, or %s of the noise, would settle it", fixed(math.Ceil(times*10)/10, 1), percent(r.noiseToSettle()))
		if scan.CorrelationLength > scan.Spacing {
			points = fmt.Sprintf("About %s times the points from further scans (neighbours share their error over %s %s, so points in between add little), or %s of the noise, would settle it",
				fixed(math.Ceil(times*10)/10, 1), length.number(scan.CorrelationLength*length.mm, 0), length.name, percent(r.noiseToSettle()))
		}
		return s + points + "; so would a limit " + further + "."
	}
}

// parts of an expanded uncertainty: of noise, which falls with the root of the
// number of points; of smoothing, which falls with the square of their spacing; and
// what the plan adds, which no scan takes away.
type parts struct{ noise, unseen, plan float64 }

func (r *Result) parts() parts {
	p := parts{plan: r.FromPlan}
	for _, l := range r.Budget {
		if l.Source == SourceSmoothing {
			p.unseen = math.Hypot(p.unseen, r.CoverageFactor*l.Contribution)
		}
	}
	p.noise = math.Sqrt(max(0, sq2(r.Uncertainty)-sq2(p.plan)-sq2(p.unseen)))
	return p
}

// pointsToSettle is how many times the points it takes for the uncertainty to
// shrink to the gap; infinite where what the plan adds is more than that already.
// With n times the points on the surface,
//
//	noise²/n + smoothing²/n² + plan² = gap²
func (r *Result) pointsToSettle() float64 {
	p := r.parts()
	room := sq2(r.gap()) - sq2(p.plan)
	if room <= 0 {
		return math.Inf(1)
	}
	n2, u2 := sq2(p.noise), sq2(p.unseen)
	return (n2 + math.Sqrt(n2*n2+4*u2*room)) / (2 * room)
}

// noiseToSettle is the share of the noise with which the uncertainty is the gap, 0
// where not even no noise does.
func (r *Result) noiseToSettle() float64 {
	p := r.parts()
	room := sq2(r.gap()) - sq2(p.plan) - sq2(p.unseen)
	if room <= 0 || p.noise == 0 {
		return 0
	}
	return math.Sqrt(room) / p.noise
}

// spacingToSettle is the spacing of points, mm, with which smoothing alone brings
// the uncertainty down to the gap, the noise as it is.
func (r *Result) spacingToSettle(spacing float64) float64 {
	p := r.parts()
	return spacing * math.Pow((sq2(r.gap())-sq2(p.plan)-sq2(p.noise))/sq2(p.unseen), 0.25)
}

// settlePlan says what would settle a result that no better scan does, since what
// the plan adds is more than the gap.
func (r *Result) settlePlan(gap float64) string {
	worst := r.worstOfPlan()
	k, unit := r.CoverageFactor, r.unitWord()
	alone := k * worst.Contribution
	s := fmt.Sprintf("Not by more points: what the plan adds, most of it %s, is +-%s %s.", worst.Source, fixed(r.FromPlan, 3), unit)
	if alone >= gap {
		s = fmt.Sprintf("Not by more points: the %s alone is +-%s %s.", worst.Source, fixed(alone, 3), unit)
	}
	if few := r.fewReadings(); few != "" && r.Uncertainty*Coverage/k <= gap {
		return s + fmt.Sprintf(" More readings of the %s would: with few of them k is %s.", few, fixed(k, 2))
	}
	need := k * r.standardToSettle(worst)
	known := fmt.Sprintf(" known to +-%s %s instead of +-%s", digits(need), worst.Unit, digits(k*worst.Standard))
	switch {
	case worst.Source == SourceLength && (r.Characteristic == Diameter || r.Characteristic == PitchDiameter):
		return s + fmt.Sprintf(" This length taken by hand to +-%s %s, in the plan under reference_lengths with set_scale, would.", digits(gap), unit)
	case need == 0:
		return s + " It takes several of them known better, or a finer gauge."
	case worst.Source == SourceLength:
		return s + fmt.Sprintf(" A scanner with %s of that length error would.", percent(need/(k*worst.Standard)))
	case worst.Source == SourceCoating:
		return s + " A coat" + known + ", or none, would."
	case worst.Source == SourceTemperature:
		return s + " A temperature" + known + " would."
	case worst.Source == SourceExpansion:
		return s + " A part at 20 degrees C, where it does not matter, would."
	case worst.Source == SourceScatter:
		return s + " Take the reference lengths again: they do not agree."
	}
	return s + " A " + worst.Source + known + " would."
}

// worstOfPlan is the plan's source that contributes most.
func (r *Result) worstOfPlan() BudgetLine {
	var worst BudgetLine
	for _, l := range r.Budget {
		if !l.FromScan() && l.Contribution > worst.Contribution {
			worst = l
		}
	}
	return worst
}

// standardToSettle is the standard uncertainty of a source with which that of the
// result is the gap, the coverage factor and the others as they are; 0 where they
// are too much already.
func (r *Result) standardToSettle(l BudgetLine) float64 {
	rest := sq2(r.Uncertainty/r.CoverageFactor) - sq2(l.Contribution)
	return math.Sqrt(max(sq2(r.gap()/r.CoverageFactor)-rest, 0)) / l.Contribution * l.Standard
}

// fewReadings names the source whose few degrees of freedom raise the coverage
// factor most, "" where none does.
func (r *Result) fewReadings() string {
	name, most := "", 0.0
	for _, l := range r.Budget {
		if l.DoF > 0 && !l.FromScan() && r.Characteristic != Position && r.CoverageFactor > Coverage {
			if w := math.Pow(l.Contribution, 4) / l.DoF; w > most {
				name, most = l.Source, w
			}
		}
	}
	return name
}

func percent(share float64) string { return fixed(math.Floor(100*share), 0) + " %" }

func sq2(v float64) float64 { return v * v }
