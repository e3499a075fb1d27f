package plan

import (
	"github.com/goccy/go-yaml/ast"

	"spotface/report/budget"
	"spotface/report/wording"
)

// stated gathers the keys that say how sure a value is, as its source states it:
// u, a standard uncertainty; half_width with distribution; expanded with k or
// with the confidence it has, per cent; dof beside any of them.
type stated struct {
	r                                               *planReader
	what                                            string
	u, half, expanded, k, confidence, dof           float64
	distribution                                    budget.Distribution
	uN, halfN, expandedN, kN, confidenceN, dofN, dN ast.Node
}

// fields are the keys, of numbers in a unit of so many millimetres (or of scale
// 1) each.
func (s *stated) fields(r *planReader, what string, scale float64) []field {
	s.r, s.what = r, what
	keep := func(dst *float64, at *ast.Node, scale float64, key string, read func(ast.Node, string) (float64, error)) field {
		return field{key, func(n ast.Node) error {
			*at = n
			return r.into(dst, scale, what+" "+key, read)(n)
		}}
	}
	return []field{
		keep(&s.u, &s.uN, scale, "u", r.notNegative),
		keep(&s.half, &s.halfN, scale, "half_width", r.notNegative),
		keep(&s.expanded, &s.expandedN, scale, "expanded", r.notNegative),
		{"distribution", s.readDistribution},
		keep(&s.k, &s.kN, 1, "k", r.positive),
		{"confidence", s.readConfidence},
		{"dof", s.readDoF},
	}
}

func (s *stated) readDistribution(n ast.Node) error {
	s.dN = n
	word, err := s.r.text(n, s.what+" distribution")
	if err != nil {
		return err
	}
	names := map[string]budget.Distribution{"normal": budget.Normal, "rectangular": budget.Rectangular,
		"triangular": budget.Triangular, "arcsine": budget.Arcsine, "u-shaped": budget.Arcsine}
	d, ok := names[word]
	if !ok {
		return s.r.fail(n, "distribution is %q, need rectangular, triangular, arcsine (the same as u-shaped) or normal", word)
	}
	s.distribution = d
	return nil
}

func (s *stated) readConfidence(n ast.Node) (err error) {
	s.confidenceN = n
	if s.confidence, err = s.r.positive(n, s.what+" confidence"); err != nil {
		return err
	}
	if s.confidence < 50 || s.confidence >= 100 {
		return s.r.fail(n, "confidence is %s, need per cent from 50 to below 100, as in 95", wording.Short(s.confidence))
	}
	return nil
}

func (s *stated) readDoF(n ast.Node) (err error) {
	s.dofN = n
	if s.dof, err = s.r.positive(n, s.what+" dof"); err == nil && s.dof < 1 {
		err = s.r.fail(n, "dof is %s, need 1 or more degrees of freedom: n readings have n - 1", wording.Short(s.dof))
	}
	return err
}

// standard is what the keys under n come to.
func (s *stated) standard(n ast.Node) (budget.Standard, error) {
	var none budget.Standard
	ways := []struct {
		key string
		at  ast.Node
	}{{"u", s.uN}, {"half_width", s.halfN}, {"expanded", s.expandedN}}
	way := -1
	for i, w := range ways {
		switch {
		case w.at == nil:
		case way >= 0:
			return none, s.r.fail(w.at, "%s has both %s and %s: leave one of them", s.what, ways[way].key, w.key)
		default:
			way = i
		}
	}
	if way < 0 {
		return none, s.r.fail(n, "%s does not say how sure it is: add u (a standard uncertainty), half_width with distribution, or expanded with k", s.what)
	}
	if err := s.together(ways[way].at, ways[way].key); err != nil {
		return none, err
	}
	var out budget.Standard
	switch {
	case s.uN != nil:
		out = budget.Standard{U: s.u, Distribution: budget.Normal}
	case s.kN != nil:
		out = budget.FromExpanded(s.expanded, s.k)
	case s.confidenceN != nil:
		out = budget.FromConfidence(s.half+s.expanded, s.confidence/100, s.dof) // one of them is zero
	default:
		out, _ = budget.FromHalfWidth(s.half, s.distribution)
	}
	out.DoF = s.dof
	return out, nil
}

// together refuses keys that do not go with the one chosen, and asks for those
// that must.
func (s *stated) together(at ast.Node, key string) error {
	normal := s.distribution == budget.Normal
	switch {
	case s.dN != nil && key == "u" || s.dN != nil && key == "expanded" && !normal:
		return s.r.fail(s.dN, "%s: distribution goes with half_width, not with %s: leave it out", s.what, key)
	case s.kN != nil && key != "expanded":
		return s.r.fail(s.kN, "%s: k goes with expanded, not with %s: leave it out", s.what, key)
	case s.confidenceN != nil && (key == "u" || key == "half_width" && !normal):
		return s.r.fail(s.confidenceN, "%s: confidence goes with expanded, or with a half_width of distribution normal: leave it out", s.what)
	case key == "half_width" && s.dN == nil:
		return s.r.fail(at, "%s has half_width but no distribution: add rectangular (anywhere in it), triangular (the middle likelier), arcsine (it swings between the ends) or normal", s.what)
	case key == "half_width" && normal && s.confidenceN == nil:
		return s.r.fail(at, "%s has a normal distribution, which has no end: add the confidence that the half_width holds, as in confidence: 95", s.what)
	case key == "expanded" && s.kN == nil && s.confidenceN == nil:
		return s.r.fail(at, "%s has expanded but no k: add the coverage factor, as in k: 2, or confidence: 95", s.what)
	case s.kN != nil && s.confidenceN != nil:
		return s.r.fail(s.confidenceN, "%s has both k and confidence: leave one of them", s.what)
	}
	return nil
}

// estimate reads a value with how sure it is: {value, u}.
func (r *planReader) estimate(n ast.Node, what string, value *float64, read func(ast.Node, string) (float64, error)) (budget.Standard, error) {
	var s stated
	seen := false
	fields := append([]field{{"value", func(n ast.Node) error {
		seen = true
		return r.into(value, 1, what+" value", read)(n)
	}}}, s.fields(r, what, 1)...)
	if err := r.mapping(n, what, fields); err != nil {
		return budget.Standard{}, err
	}
	if !seen {
		return budget.Standard{}, r.fail(n, "%s has no value: add it", what)
	}
	return s.standard(n)
}
