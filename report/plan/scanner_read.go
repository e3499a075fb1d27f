package plan

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"spotface/report"
	"spotface/report/budget"
	"spotface/report/wording"
)

// scanner reads what the plan says of the scanner and of the scanning.
func (r *planReader) scanner(n ast.Node, s *Scanner, ids *names) error {
	return r.mapping(n, "scanner", []field{
		{"noise", r.into(&s.Noise, r.mm, "scanner noise", r.notNegative)},
		{"correlation_length", r.into(&s.CorrelationLength, r.mm, "scanner correlation_length", r.notNegative)},
		{"spacing", r.into(&s.Spacing, r.mm, "scanner spacing", r.positive)},
		{"length", func(n ast.Node) error { return r.lengthError(n, &s.Length) }},
		{"coating", func(n ast.Node) error { return r.coating(n, &s.Coating) }},
		{"temperature", func(n ast.Node) error { return r.temperature(n, s) }},
		{"reference_lengths", func(n ast.Node) error {
			return r.list(n, "reference_lengths", func(n ast.Node) error { return r.referenceLength(n, s, ids) })
		}},
	})
}

// lengthError reads {a, b}: a + b L is a standard uncertainty, with k or
// confidence an expanded one, with distribution a half-width.
func (r *planReader) lengthError(n ast.Node, l *LengthError) error {
	var s stated
	fields := []field{
		{"a", r.into(&l.A, r.mm, "length a", r.notNegative)},
		{"b", r.into(&l.B, 1, "length b", r.notNegative)},
	}
	for _, f := range s.fields(r, "scanner length", 1) {
		if !slices.Contains([]string{"u", "half_width", "expanded"}, f.key) {
			fields = append(fields, f)
		}
	}
	if err := r.mapping(n, "scanner length", fields); err != nil {
		return err
	}
	if l.B > 0.1 {
		return r.fail(n, "length b is %s, more than a tenth of any length: give it in mm a mm, as in 0.00004 for 40 micrometres a metre", wording.Short(l.B))
	}
	// a + b L takes the place of the number that the other sources give.
	switch {
	case s.kN != nil || s.confidenceN != nil && s.dN == nil:
		s.expanded, s.expandedN = 1, n
	case s.dN != nil:
		s.half, s.halfN = 1, n
	default:
		s.u, s.uN = 1, n
	}
	u, err := s.standard(n)
	if err != nil {
		return err
	}
	l.A, l.B, l.Distribution, l.DoF = l.A*u.U, l.B*u.U, u.Distribution, u.DoF
	return nil
}

func (r *planReader) coating(n ast.Node, c *Coating) error {
	var s stated
	fields := append([]field{{"thickness", r.into(&c.Thickness, r.mm, "coating thickness", r.notNegative)}},
		s.fields(r, "coating", r.mm)...)
	if err := r.mapping(n, "scanner coating", fields); err != nil {
		return err
	}
	var err error
	c.StandardU, err = s.standard(n)
	return err
}

// A part is scanned between these, degrees C; what expands by more than that a
// kelvin is no material that parts are made of.
const (
	coldest, hottest = -50, 150
	mostExpansion    = 5e-4
)

func (r *planReader) temperature(n ast.Node, sc *Scanner) error {
	t := &Temperature{Part: math.NaN(), Expansion: math.NaN()}
	part := func(n ast.Node, what string) (float64, error) {
		v, err := r.number(n, what)
		if err == nil && (v < coldest || v > hottest) {
			err = r.fail(n, "%s is %s degrees C, need %d to %d: the part's own while it was scanned", what, wording.Short(v), coldest, hottest)
		}
		return v, err
	}
	coefficient := func(n ast.Node, what string) (float64, error) {
		v, err := r.number(n, what)
		if err == nil && math.Abs(v) > mostExpansion {
			err = r.fail(n, "%s is %s, need it per kelvin, as in 11.5e-6 for steel", what, strconv.FormatFloat(v, 'g', -1, 64))
		}
		return v, err
	}
	var s stated
	var expansionU ast.Node // where the expansion's uncertainty was given
	fields := append([]field{
		{"part", r.into(&t.Part, 1, "temperature part", part)},
		{"expansion", func(n ast.Node) (err error) {
			if _, ok := n.(ast.MapNode); !ok {
				t.Expansion, err = coefficient(n, "expansion")
				return err
			}
			if expansionU != nil {
				return r.fail(n, "temperature has expansion_u beside an expansion with its own uncertainty: leave one of them")
			}
			expansionU = n
			t.ExpansionU, err = r.estimate(n, "expansion", &t.Expansion, coefficient)
			return err
		}},
		{"expansion_u", func(n ast.Node) (err error) {
			if expansionU != nil {
				return r.fail(n, "temperature has expansion_u beside an expansion with its own uncertainty: leave one of them")
			}
			expansionU = n
			t.ExpansionU.Distribution = budget.Normal
			t.ExpansionU.U, err = r.notNegative(n, "expansion_u")
			return err
		}},
	}, s.fields(r, "temperature", 1)...)
	if err := r.mapping(n, "scanner temperature", fields); err != nil {
		return err
	}
	switch {
	case math.IsNaN(t.Part):
		return r.fail(n, "temperature has no part: add the part's temperature while it was scanned, degrees C")
	case math.IsNaN(t.Expansion):
		return r.fail(n, "temperature has no expansion: add the coefficient of the part's material, per kelvin, as in 11.5e-6 for steel")
	case expansionU == nil:
		return r.fail(n, "temperature has no expansion_u: add the standard uncertainty of the expansion, per kelvin, as in 1e-6")
	}
	var err error
	t.StandardU, err = s.standard(n)
	sc.Temperature = t
	return err
}

// referenceLength reads one length taken by hand: {diameter: C1}, {distance: [H1,
// X1]} or {pitch_diameter: B1}, with value, its uncertainty and set_scale.
func (r *planReader) referenceLength(n ast.Node, sc *Scanner, ids *names) error {
	var l ReferenceLength
	var s stated
	which := func(of report.Characteristic, features int) field {
		return field{string(of), func(n ast.Node) error {
			if l.Of != "" {
				return r.fail(n, "a reference length has both %s and %s: give each length an entry of its own", l.Of, of)
			}
			l.Of = of
			return r.featureNames(n, &l, features, ids)
		}}
	}
	fields := append([]field{
		which(report.Diameter, 1), which(report.PitchDiameter, 1), which(report.Distance, 2),
		{"value", r.into(&l.Value, r.mm, "reference length value", r.positive)},
		{"set_scale", func(n ast.Node) error {
			b, ok := n.(*ast.BoolNode)
			if !ok {
				return r.fail(n, "set_scale is %s, need true or false", kindOf(n))
			}
			l.SetScale = b.Value
			return nil
		}},
	}, s.fields(r, "reference length", r.mm)...)
	err := r.mapping(n, "reference_lengths", fields)
	switch {
	case err != nil:
		return err
	case l.Of == "":
		return r.fail(n, "a reference length names no feature: add diameter: C1, pitch_diameter: B1, or distance: [H1, X1]")
	case l.Value == 0:
		return r.fail(n, "a reference length has no value: add the length that you read")
	}
	if l.StandardU, err = s.standard(n); err != nil {
		return err
	}
	if !(l.StandardU.U > 0) {
		return r.fail(n, "a reference length has no uncertainty: no gauge reads exactly, give it as u, half_width or expanded")
	}
	sc.ReferenceLengths = append(sc.ReferenceLengths, l)
	return nil
}

// featureNames reads one name or a list of two. Whether the plan has them is told
// once it is read to its end.
func (r *planReader) featureNames(n ast.Node, l *ReferenceLength, features int, ids *names) error {
	read := func(n ast.Node) error {
		s, err := r.text(n, string(l.Of)+" of a reference length")
		if err != nil {
			return err
		}
		for _, f := range l.Features {
			if f == s {
				return r.fail(n, "the distance of %s from itself: name two features", s)
			}
		}
		l.Features = append(l.Features, s)
		return nil
	}
	if features == 1 {
		if err := read(n); err != nil {
			return err
		}
	} else {
		if err := r.list(n, string(l.Of), read); err != nil {
			return err
		}
		if len(l.Features) != features {
			return r.fail(n, "%s names %s, need two, as in [P1, P2]", l.Of, wording.Things(len(l.Features), "feature"))
		}
	}
	ids.lengths = append(ids.lengths, lengthRef{n, l.Of, l.Features})
	return nil
}

// lengthRef is where a reference length names features.
type lengthRef struct {
	node     ast.Node
	of       report.Characteristic
	features []string
}

// checkLengths refuses reference lengths of features that the plan does not have,
// or that have no such length.
func (n *names) checkLengths(p *Plan) error {
	for _, ref := range n.lengths {
		kinds := make([]string, len(ref.features))
		for i, f := range ref.features {
			kind, why := p.kindOf(f)
			if why != "" {
				return n.r.fail(ref.node, "%s of %s: %s", ref.of, f, why)
			}
			kinds[i] = kind
		}
		round := func(kind string) bool { return kind == "hole" || kind == "cylinder" }
		switch ref.of {
		case report.Diameter:
			if !round(kinds[0]) {
				return n.r.fail(ref.node, "diameter of %s, which is a %s: name a hole or a cylinder", ref.features[0], kinds[0])
			}
		case report.PitchDiameter:
			if kinds[0] != "bolt circle" {
				return n.r.fail(ref.node, "pitch_diameter of %s, which is a %s: name a bolt circle", ref.features[0], kinds[0])
			}
		case report.Distance:
			if both := kinds[0] == "plane" && kinds[1] == "plane" || round(kinds[0]) && round(kinds[1]); !both {
				return n.r.fail(ref.node, "distance of %s, a %s, from %s, a %s: name two planes, or two of holes and cylinders",
					ref.features[0], kinds[0], ref.features[1], kinds[1])
			}
		}
	}
	return nil
}

// kindOf says what the feature of an id is, or why there is none.
func (p *Plan) kindOf(id string) (kind, why string) {
	circle, place, inCircle := strings.Cut(id, "/")
	for i := range p.BoltCircles {
		c := &p.BoltCircles[i]
		switch {
		case c.ID != circle:
		case !inCircle:
			return "bolt circle", ""
		default:
			if at, err := strconv.Atoi(place); err != nil || at < 1 || at > len(c.Angles) {
				return "", fmt.Sprintf("circle %s has places 1 to %d, counted from its first hole, as in %s/1", circle, len(c.Angles), circle)
			}
			return "hole", ""
		}
	}
	for _, h := range p.Holes {
		if h.ID == id {
			return "hole", ""
		}
	}
	for _, c := range p.Cylinders {
		if c.ID == id {
			return "cylinder", ""
		}
	}
	for _, pl := range p.Planes {
		if pl.ID == id {
			return "plane", ""
		}
	}
	return "", "no such feature in this plan; a hole of a circle is named by its place, as in B1/1"
}
