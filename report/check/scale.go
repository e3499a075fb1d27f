package check

import (
	"math"
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
	r := ratios{lengths: plain, set: out.Set, list: used}
	r.mean()
	if out.Set {
		c.lengths = &lengths{scanner: s, factor: r.factor, terms: r.terms, set: true}
	}
	u := r.terms.combined()
	out.Factor, out.Uncertainty, out.CoverageFactor, out.EffectiveDoF = r.factor, u.Expanded(),
		u.CoverageFactor(), u.DoF
	if n := len(used); n > 1 {
		out.ChiSquared, out.DoF = r.chi2, n-1
		out.Agrees = r.agree
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

// compare holds a length by hand against the scan's.
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

// ratios are lengths by hand over scanned ones.
type ratios struct {
	lengths *lengths
	set     bool // the ratios are to set the scale: they hold the temperature
	list    []measuredLength

	factor float64
	terms  *sources // of factor
	chi2   float64
	agree  bool
}

// one is the ratio of one length, what it depends on by itself, and what it shares
// with the others. Where ratios set the scale they are of lengths as they were
// scanned, at the part's temperature; else of lengths at 20 degrees C.
func (r *ratios) one(m measuredLength) (ratio float64, own, shared *sources) {
	own, shared = &sources{}, &sources{}
	l := r.lengths
	bare := m.scan.bare(l.scanner)
	factor := l.factor
	if r.set {
		factor = 1
	}
	ratio = m.Value / (factor * bare)
	own.add(m.name(), m.entry, m.Value, "mm", m.StandardU, ratio/m.Value)
	uncoated := m.scan
	uncoated.coats = 0
	l.own(own, uncoated, -ratio/bare)
	constant := lengths{scanner: l.scanner, set: true} // a alone: b is what the ratio tells
	constant.scanError(own, m.scan.feature, bare, -ratio/bare)
	if m.scan.coats != 0 {
		l.coat(shared, -ratio/bare*m.scan.coats)
	}
	if e := l.scanner.Length; !r.set {
		if e.B > 0 {
			shared.add(report.SourceLength, "all", 0, "",
				budget.Standard{U: e.B, Distribution: e.Distribution, DoF: e.DoF}, -ratio)
		}
		shared.addAll(l.terms, -ratio/factor)
	}
	return ratio, own, shared
}

// mean takes the mean of the ratios, weighted by what each has of its own, and
// tests whether they agree: the sum of squared differences, weighed by the inverse
// of their whole covariance, is chi-squared of n - 1 degrees of freedom. Where they
// do not, the mean's uncertainty is widened by the root of their quotient (R. T.
// Birge, Phys. Rev. 40 (1932) 207-227).
func (r *ratios) mean() {
	n := len(r.list)
	ratio := make([]float64, n)
	whole := make([]*sources, n)
	weight := make([]float64, n)
	total := 0.0
	for i, m := range r.list {
		var own, shared *sources
		ratio[i], own, shared = r.one(m)
		u := own.combined().U
		weight[i] = 1 / (u * u)
		total += weight[i]
		whole[i] = own
		whole[i].addAll(shared, 1)
	}
	r.terms, r.agree = &sources{}, true
	for i := range ratio {
		w := weight[i] / total
		r.factor += w * ratio[i]
		r.terms.addAll(whole[i], w)
	}
	if n < 2 {
		return
	}
	dof := float64(n - 1)
	var ok bool
	if r.chi2, ok = chiSquared(ratio, whole); !ok {
		return
	}
	if r.agree = r.chi2 <= (distuv.ChiSquared{K: dof}).Quantile(0.95); !r.agree {
		spread := math.Sqrt((r.chi2/dof - 1) / total)
		r.terms.add(report.SourceScatter, "", 0, "", budget.Standard{U: spread, DoF: dof}, 1)
	}
}

// chiSquared is the sum of squared differences of x from their common value, by
// the inverse of their covariance:
//
//	x' V⁻¹ x - (1' V⁻¹ x)² / 1' V⁻¹ 1
//
// ok is false where that covariance has no inverse: what the lengths share is then
// so large beside what they have of their own that their differences say nothing.
func chiSquared(x []float64, depends []*sources) (chi2 float64, ok bool) {
	n := len(x)
	v := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			v.SetSym(i, j, depends[i].covariance(depends[j]))
		}
	}
	d, one := mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)
	for i := range n {
		d.SetVec(i, x[i]-x[0])
		one.SetVec(i, 1)
	}
	var chol mat.Cholesky
	var vd, vone mat.VecDense
	if !chol.Factorize(v) || chol.SolveVecTo(&vd, d) != nil || chol.SolveVecTo(&vone, one) != nil {
		return 0, false
	}
	sum := mat.Dot(one, &vd)
	return mat.Dot(d, &vd) - sum*sum/mat.Dot(one, &vone), true
}
