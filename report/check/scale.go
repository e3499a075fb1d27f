package check

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/report"
	"spotface/report/budget"
	"spotface/report/plan"
)

// measuredLength is a reference length with the scan's own.
type measuredLength struct {
	*plan.ReferenceLength
	entry   string // its number in the plan: one length may be taken twice
	scan    scanned
	matched []string
}

func (m *measuredLength) name() string {
	return report.SourceReference + plainName(m.ReferenceLength)
}

// plainName is "diameter C1", "distance P1 to P2".
func plainName(l *plan.ReferenceLength) string {
	return strings.ReplaceAll(string(l.Of), "_", " ") + " " + strings.Join(l.Features, " to ")
}

// scale compares the scan with the plan's reference lengths, and sets c.lengths.
func (c *checker) scale() *report.Scale {
	s := &c.plan.Scanner
	c.lengths = atTemperature(s)
	var all, setters []measuredLength
	for i := range s.ReferenceLengths {
		m, why := c.referenceLength(i)
		if why != "" {
			c.note("The reference length %s could not be compared: %s.",
				plainName(m.ReferenceLength), why)
			continue
		}
		all = append(all, m)
		if m.SetScale {
			setters = append(setters, m)
		}
	}
	if len(all) == 0 {
		return nil
	}
	out := &report.Scale{Agrees: true}
	plain := c.lengths
	used := all
	if len(setters) > 0 {
		used, out.Set = setters, true
	}
	factor, terms, chi2, agree := plain.meanRatio(used, out.Set)
	if out.Set {
		c.lengths = &lengths{scanner: s, factor: factor, terms: terms, set: true}
	}
	u := terms.combined()
	out.Factor, out.Uncertainty, out.CoverageFactor, out.EffectiveDoF = factor, u.Expanded(),
		u.CoverageFactor(), u.DoF
	if n := len(used); n > 1 {
		out.ChiSquared, out.DoF, out.Agrees = chi2, n-1, agree
	}
	for _, m := range all {
		by := plain // how a setter differs before it sets
		if !m.SetScale {
			by = c.lengths
		}
		l := by.compare(m)
		out.Agrees = out.Agrees && (l.Agrees || m.SetScale)
		out.Lengths = append(out.Lengths, l)
	}
	return out
}

// compare compares a length taken by hand with the scan's.
func (l *lengths) compare(m measuredLength) report.ScaleLength {
	y, src := l.correct(m.scan)
	ref := m.StandardU
	out := report.ScaleLength{Of: m.Of, Features: m.Features, Matched: m.matched, Value: m.Value,
		U:       ref.Expanded(),
		Scanned: y, ScannedUncertainty: src.combined().Expanded(), Difference: y - m.Value,
		SetScale: m.SetScale}
	src.add(m.name(), m.entry, m.Value, "mm", ref, -1)
	out.Uncertainty = src.combined().Expanded()
	out.En = math.Abs(out.Difference) / out.Uncertainty
	out.Agrees = out.En <= 1
	return out
}

// ratio is a length by hand over the scanned one, and what it depends on. Where ratios set the
// scale they are of lengths as they were scanned, at the part's temperature; else of lengths
// at 20 degrees C.
func (l *lengths) ratio(m measuredLength, set bool) (ratio float64, depends *sources) {
	bare, factor := m.scan.bare(l.scanner), l.factor
	if set {
		factor = 1
	}
	ratio, depends = m.Value/(factor*bare), &sources{}
	depends.add(m.name(), m.entry, m.Value, "mm", m.StandardU, ratio/m.Value)
	l.own(depends, m.scan, -ratio/bare)
	constant := lengths{scanner: l.scanner, set: true} // a alone: the ratio shows b
	constant.scanError(depends, m.scan.feature, bare, -ratio/bare)
	if !set {
		l.scaleError(depends, -ratio)
		depends.addAll(l.terms, -ratio/factor)
	}
	return ratio, depends
}

// meanRatio is the mean of the ratios by generalised least squares, what it depends on, and
// chi-squared of n - 1 degrees of freedom, which tests whether they agree. Where they do not,
// the mean's uncertainty is widened by the root of their quotient (R. T. Birge, Phys. Rev. 40
// (1932) 207-227).
func (l *lengths) meanRatio(list []measuredLength, set bool) (mean float64, terms *sources,
	chi2 float64, agree bool) {
	n := len(list)
	ratio, one := mat.NewVecDense(n, nil), mat.NewDense(n, 1, nil)
	depends := make([]*sources, n)
	for i, m := range list {
		r, d := l.ratio(m, set)
		ratio.SetVec(i, r)
		one.Set(i, 0, 1)
		depends[i] = d
	}
	w, inverse, err := weights(one, covarianceOf(depends))
	if err != nil { // they share so much that their differences say nothing
		w = mat.NewDense(1, n, slices.Repeat([]float64{1 / float64(n)}, n))
	}
	terms = &sources{}
	for i := range n {
		mean += w.At(0, i) * ratio.AtVec(i)
		terms.addAll(depends[i], w.At(0, i))
	}
	if n < 2 || err != nil {
		return mean, terms, 0, true
	}
	var off, scaled mat.VecDense
	off.AddScaledVec(ratio, -mean, one.ColView(0))
	if inverse.SolveVecTo(&scaled, &off) == nil {
		chi2 = mat.Dot(&off, &scaled)
	}
	dof := float64(n - 1)
	if agree = chi2 <= (distuv.ChiSquared{K: dof}).Quantile(0.95); !agree {
		spread := terms.combined().U * math.Sqrt(chi2/dof-1)
		terms.add(report.SourceScatter, "", 0, "", budget.Standard{U: spread, DoF: dof}, 1)
	}
	return mean, terms, chi2, agree
}
