package check

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"
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
	out := &report.Scale{Agrees: true, Set: len(setters) > 0}
	plain, used := c.lengths, all
	if out.Set {
		used = setters
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

// referenceLength finds reference length i of the plan in the scan; why says what
// is in the way.
func (c *checker) referenceLength(i int) (m measuredLength, why string) {
	l := &c.plan.Scanner.ReferenceLengths[i]
	m = measuredLength{ReferenceLength: l, entry: strconv.Itoa(i)}
	shown := make([]*seen, len(l.Features))
	for k, name := range l.Features {
		if shown[k] = c.feature(name); shown[k] == nil {
			return m, "the scan does not show " + name
		}
		m.matched = append(m.matched, shown[k].id)
	}
	if m.scan = shown[0].size; l.Of == report.Distance {
		if m.scan, why = distance(shown[0], shown[1]); why != "" {
			return m, why
		}
	}
	m.scan.feature = string(l.Of) + " " + strings.Join(m.matched, " ")
	if slices.Equal(m.matched, l.Features) {
		m.matched = nil
	}
	if !(m.scan.expanded > 0) || !(m.scan.value > 0) {
		return m, "the scan does not show how sure it is of it"
	}
	return m, ""
}

// feature is what the plan's id is in the scan, nil where the scan does not show it.
func (c *checker) feature(id string) *seen {
	circle, place, inCircle := strings.Cut(id, "/")
	for i := range c.plan.BoltCircles {
		if c.plan.BoltCircles[i].ID != circle || c.circles[i].at < 0 {
			continue
		}
		if !inCircle {
			return ofCircle(&c.circled[c.circles[i].at])
		}
		at, _ := strconv.Atoi(place)
		if hole := c.circles[i].there[at-1]; hole != "" {
			return ofHole(c.rep.Hole(hole), 2)
		}
		return nil
	}
	for _, k := range c.kinds {
		for _, w := range k.wanted {
			if w.ID == id {
				return w.shown
			}
		}
	}
	return nil
}

// distance of two planes, or of the axes of holes and cylinders.
func distance(a, b *seen) (scanned, string) {
	if t := tilt(a.axis, b.axis); t > mostTilt {
		return scanned{}, fmt.Sprintf("%s and %s are %.1f degrees from parallel here", a.id, b.id, t)
	}
	if a.plane {
		return planeDistance(a, b), ""
	}
	return axisDistance(a, b)
}

func tilt(a, b report.Vec) float64 {
	return degrees(math.Asin(min(1, a.R3().Cross(b.R3()).Norm())))
}

// planeDistance is the mean of each plane's distance from the other's middle. Of
// opposite faces, the thickness grows by a coat on either; of faces that look at
// each other the gap shrinks; a step stays.
func planeDistance(p, q *seen) (out scanned) {
	if !(p.off > 0) || !(q.off > 0) {
		return out
	}
	d := q.point.R3().Sub(p.point.R3())
	sp, sq := d.Dot(p.axis.R3()), -d.Dot(q.axis.R3())
	out.value = (math.Abs(sp) + math.Abs(sq)) / 2
	if p.axis.R3().Dot(q.axis.R3()) < 0 {
		out.coats = 2 // the faces look at each other
		if sp < 0 {
			out.coats = -2
		}
	}
	aside := d.Sub(p.axis.R3().Mul(sp)).Norm() / 2 // by which each tilt swings the mean
	swing := func(p *seen) float64 {
		return p.tilt * math.Pi / 180 / report.CoverageCentre * report.Coverage * aside
	}
	out.expanded = math.Sqrt(sq2(p.off) + sq2(q.off) + sq2(swing(p)) + sq2(swing(q)))
	return out
}

func sq2(v float64) float64 { return v * v }

// axisDistance is the distance of one axis from a point of the other, the hole's
// on its face, perpendicular to the axis.
func axisDistance(p, q *seen) (scanned, string) {
	if p.hole == nil && q.hole != nil {
		p, q = q, p
	}
	d := q.point.R3().Sub(p.point.R3())
	along := d.Dot(q.axis.R3())
	d = d.Sub(q.axis.R3().Mul(along))
	if d.Norm() == 0 {
		return scanned{}, "they have one axis"
	}
	way := d.Normalize()
	vp, vq := p.variance(way, 0), q.variance(way, along)
	out := scanned{value: d.Norm()}
	if vp > 0 && vq > 0 {
		out.expanded = report.Coverage * math.Sqrt(vp+vq)
	}
	return out, ""
}

// covAt is the covariance of an axis' place so far along it from its point, mm², of a hole
// on its face.
func (s *seen) covAt(along float64) covariance {
	if s.hole != nil {
		return s.hole.CentreCov()
	}
	return round(math.Hypot(s.off, s.tilt*math.Pi/180*along) / report.CoverageCentre)
}

// variance of an axis' place in a direction, mm², so far along it from its point; zero where
// the scan does not show it.
func (s *seen) variance(way r3.Vector, along float64) float64 {
	if s.hole == nil && !(s.off > 0) {
		return 0
	}
	c := s.covAt(along)
	return c.along(laidOn(s.axis.R3(), way)[0])
}
