package plan

import (
	"github.com/goccy/go-yaml/ast"

	"spotface/report/budget"
	"spotface/report/wording"
)

var distributions = map[string]budget.Distribution{"normal": budget.Normal, "rectangular": budget.Rectangular,
	"triangular": budget.Triangular, "arcsine": budget.Arcsine, "u-shaped": budget.Arcsine}

// standard is what the keys under n come to, in the unit of the numbers.
func (s *stated) standard(n ast.Node, what string) (budget.Standard, error) {
	var none budget.Standard
	for _, v := range []*number{&s.U, &s.HalfWidth, &s.Expanded, &s.K, &s.Confidence, &s.DoF} {
		if v.node == nil {
			continue
		}
		if err := v.plain(); err != nil {
			return none, err
		}
		if v.value < 0 {
			return none, fail(v.node, "%s is %s, need zero or more", nameOf(v.node), wording.Short(v.value))
		}
	}
	if _, err := s.K.above(); err != nil {
		return none, err
	}
	if c := &s.Confidence; c.node != nil && (c.value < 50 || c.value >= 100) {
		return none, fail(c.node, "confidence is %s, need per cent from 50 to below 100, as in 95", wording.Short(c.value))
	}
	if d := &s.DoF; d.node != nil && d.value < 1 {
		return none, fail(d.node, "dof is %s, need 1 or more degrees of freedom: n readings have n - 1", wording.Short(d.value))
	}
	distribution, known := distributions[s.Distribution.value]
	if s.Distribution.node != nil && !known {
		return none, fail(s.Distribution.node, "distribution is %q, need rectangular, triangular, arcsine (the same as u-shaped) or normal", s.Distribution.value)
	}
	ways := []struct {
		key string
		of  *number
	}{{"u", &s.U}, {"half_width", &s.HalfWidth}, {"expanded", &s.Expanded}}
	way := -1
	for i, w := range ways {
		switch {
		case w.of.node == nil:
		case way >= 0:
			return none, fail(w.of.node, "%s has both %s and %s: leave one of them", what, ways[way].key, w.key)
		default:
			way = i
		}
	}
	if way < 0 {
		return none, fail(n, "%s does not say how sure it is: add u (a standard uncertainty), half_width with distribution, or expanded with k", what)
	}
	if err := s.together(ways[way].of.node, ways[way].key, what, distribution == budget.Normal); err != nil {
		return none, err
	}
	var out budget.Standard
	switch {
	case s.U.node != nil:
		out = budget.Standard{U: s.U.value, Distribution: budget.Normal}
	case s.K.node != nil:
		out = budget.FromExpanded(s.Expanded.value, s.K.value)
	case s.Confidence.node != nil: // one of both numbers is zero
		out = budget.FromConfidence(s.HalfWidth.value+s.Expanded.value, s.Confidence.value/100, s.DoF.value)
	default:
		out, _ = budget.FromHalfWidth(s.HalfWidth.value, distribution)
	}
	out.DoF = s.DoF.value
	return out, nil
}

// together refuses keys that do not go with the one chosen, and asks for those
// that must.
func (s *stated) together(at ast.Node, key, what string, normal bool) error {
	d, k, confidence := s.Distribution.node, s.K.node, s.Confidence.node
	switch {
	case d != nil && key == "u" || d != nil && key == "expanded" && !normal:
		return fail(d, "%s: distribution goes with half_width, not with %s: leave it out", what, key)
	case k != nil && key != "expanded":
		return fail(k, "%s: k goes with expanded, not with %s: leave it out", what, key)
	case confidence != nil && (key == "u" || key == "half_width" && !normal):
		return fail(confidence, "%s: confidence goes with expanded, or with a half_width of distribution normal: leave it out", what)
	case key == "half_width" && d == nil:
		return fail(at, "%s has half_width but no distribution: add rectangular (anywhere in it), triangular (the middle likelier), arcsine (it swings between the ends) or normal", what)
	case key == "half_width" && normal && confidence == nil:
		return fail(at, "%s has a normal distribution, which has no end: add the confidence that the half_width holds, as in confidence: 95", what)
	case key == "expanded" && k == nil && confidence == nil:
		return fail(at, "%s has expanded but no k: add the coverage factor, as in k: 2, or confidence: 95", what)
	case k != nil && confidence != nil:
		return fail(confidence, "%s has both k and confidence: leave one of them", what)
	}
	return nil
}
