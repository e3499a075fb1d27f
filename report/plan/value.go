package plan

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"

	"spotface/report/wording"
)

// fail returns an error at a node of the file.
func fail(n ast.Node, format string, args ...any) error {
	e := &Error{Message: fmt.Sprintf(format, args...)}
	if n != nil && n.GetToken() != nil && n.GetToken().Position != nil {
		e.Line, e.Column = n.GetToken().Position.Line, n.GetToken().Position.Column
	}
	return e
}

var listIndex = regexp.MustCompile(`\[[0-9]+\]`)

// nameOf is the node's key with the one it stands under: "pitch_diameter nominal".
func nameOf(n ast.Node) string {
	parts := strings.Split(strings.TrimPrefix(listIndex.ReplaceAllString(n.GetPath(), ""), "$."), ".")
	return strings.Join(parts[max(0, len(parts)-2):], " ")
}

// kindOf names what a node is, for an error.
func kindOf(n ast.Node) string {
	switch v := n.(type) {
	case nil, *ast.NullNode:
		return "empty"
	case *ast.IntegerNode, *ast.FloatNode, *ast.InfinityNode, *ast.NanNode:
		return "the number " + n.GetToken().Value
	case *ast.StringNode:
		return fmt.Sprintf("the text %q", v.Value)
	case *ast.LiteralNode:
		return "a block of text"
	case *ast.BoolNode:
		return "the truth value " + n.GetToken().Value
	case *ast.SequenceNode:
		return "a list"
	case ast.MapNode:
		return "a set of keys"
	case *ast.AnchorNode, *ast.AliasNode:
		return "an anchor or alias (not used in a plan: write the value out)"
	case *ast.TagNode:
		return "a tagged value (not used in a plan: write the plain value)"
	}
	return "something else"
}

// number is a finite number and where it stands; node is nil where it is not given.
type number struct {
	value    float64
	fraction bool // written as one: 2 63/64
	node     ast.Node
}

var (
	powerOfTen = regexp.MustCompile(`^[-+]?[0-9]+[eE][-+]?[0-9]+$`)
	fraction   = regexp.MustCompile(`^(?:([0-9]+)[ -])?([0-9]+)/([1-9][0-9]*)$`)
	withUnit   = regexp.MustCompile(`^([-+]?[0-9]*\.?[0-9]+) *[^0-9.,eE].*$`)
)

// UnmarshalYAML reads a number, and says how to mend what is none.
func (v *number) UnmarshalYAML(n ast.Node) (err error) {
	v.node = n
	s := n.GetToken().Value
	switch n.(type) {
	case *ast.IntegerNode, *ast.FloatNode:
		if v.value, err = strconv.ParseFloat(s, 64); err != nil || math.IsInf(v.value, 0) {
			return fail(n, "%s is %q, need a plain decimal number", nameOf(n), s)
		}
		return nil
	case *ast.InfinityNode, *ast.NanNode:
		return fail(n, "%s is %s, need a finite number", nameOf(n), s)
	case *ast.StringNode:
		if f := fraction.FindStringSubmatch(s); f != nil {
			whole, _ := strconv.ParseFloat("0"+f[1], 64)
			above, _ := strconv.ParseFloat(f[2], 64)
			below, _ := strconv.ParseFloat(f[3], 64)
			v.value, v.fraction = whole+above/below, true
			return nil
		}
		if powerOfTen.MatchString(s) { // YAML 1.2 takes 1e-6 for a number, the parser only 1.0e-6
			if v.value, err = strconv.ParseFloat(s, 64); err == nil {
				return nil
			}
		}
		if _, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64); err == nil {
			return fail(n, "%s is the text %q, need a number: write a decimal point, not a comma, and no quotes", nameOf(n), s)
		}
		if f := withUnit.FindStringSubmatch(s); f != nil {
			return fail(n, "%s is the text %q, need the bare number %s: the key unit at the top says the unit of all lengths, angles are degrees", nameOf(n), s, f[1])
		}
	}
	return fail(n, "%s is %s, need a number", nameOf(n), kindOf(n))
}

// plain refuses a fraction, which is a size in inches.
func (v *number) plain() error {
	if v.fraction {
		return fail(v.node, "%s is %s: only a length may be a fraction, where the unit is in; need a decimal number", nameOf(v.node), v.node.GetToken().Value)
	}
	return nil
}

// above returns the number, which must be more than zero where it is given.
func (v *number) above() (float64, error) {
	if v.node != nil && v.value <= 0 {
		return 0, fail(v.node, "%s is %s, need more than zero", nameOf(v.node), wording.Short(v.value))
	}
	return v.value, nil
}

// text is a word or a line.
type text struct {
	value string
	node  ast.Node
}

// UnmarshalYAML reads text, or a number as the text it is.
func (v *text) UnmarshalYAML(n ast.Node) error {
	v.node = n
	switch t := n.(type) {
	case *ast.StringNode:
		v.value = t.Value
	case *ast.IntegerNode, *ast.FloatNode:
		v.value = n.GetToken().Value
	default:
		return fail(n, "%s is %s, need text", nameOf(n), kindOf(n))
	}
	return nil
}

// truth is true or false.
type truth bool

// UnmarshalYAML reads true or false.
func (v *truth) UnmarshalYAML(n ast.Node) error {
	b, ok := n.(*ast.BoolNode)
	if !ok {
		return fail(n, "%s is %s, need true or false", nameOf(n), kindOf(n))
	}
	*v = truth(b.Value)
	return nil
}

// numbers is a list of numbers.
type numbers struct {
	values []float64
	node   ast.Node
}

// UnmarshalYAML reads a list of numbers.
func (v *numbers) UnmarshalYAML(n ast.Node) error {
	v.node = n
	s, ok := n.(*ast.SequenceNode)
	if !ok {
		return fail(n, "%s is %s, need a list, as in [0, 1]", nameOf(n), kindOf(n))
	}
	for _, e := range s.Values {
		var k number
		if err := k.UnmarshalYAML(e); err != nil {
			return err
		}
		if err := k.plain(); err != nil {
			return err
		}
		v.values = append(v.values, k.value)
	}
	return nil
}

// band is [lower, upper], either of which may be infinite, or +-half.
type band struct {
	lo, hi float64
	node   ast.Node
}

var plusMinusHalf = regexp.MustCompile(`^(?:\+-|\+/-|±) *([0-9]*\.?[0-9]+)$`)

// UnmarshalYAML reads both forms.
func (v *band) UnmarshalYAML(n ast.Node) error {
	v.node = n
	what := strings.TrimSuffix(nameOf(n), " band")
	s, ok := n.(*ast.SequenceNode)
	if !ok {
		t := n.GetToken().Value
		if f := plusMinusHalf.FindStringSubmatch(t); f != nil {
			v.hi, _ = strconv.ParseFloat(f[1], 64)
			v.lo = -v.hi
			return nil
		}
		if half, err := strconv.ParseFloat(t, 64); err == nil && half > 0 && !math.IsInf(half, 0) {
			return fail(n, "the band of %s is the number %s: write +-%s for [-%s, %s], or both limits", what, t, t, t, t)
		}
		return fail(n, "the band of %s is %s, need its lower and upper deviation, as in [-0.2, 0.2] or +-0.2", what, kindOf(n))
	}
	var ends []float64
	for _, e := range s.Values {
		if inf, ok := e.(*ast.InfinityNode); ok {
			ends = append(ends, inf.Value)
			continue
		}
		var k number
		if err := k.UnmarshalYAML(e); err != nil {
			return err
		}
		if err := k.plain(); err != nil {
			return err
		}
		ends = append(ends, k.value)
	}
	if len(ends) != 2 {
		more := ""
		if len(ends) == 4 {
			more = "; decimals take a point, not a comma"
		}
		return fail(n, "the band of %s has %s, need two: the lower and the upper deviation, as in [-0.2, 0.2]%s", what, wording.Things(len(ends), "number"), more)
	}
	v.lo, v.hi = ends[0], ends[1]
	return nil
}

// names is one name or a list of them.
type names struct {
	values []string
	node   ast.Node
}

// UnmarshalYAML reads both forms.
func (v *names) UnmarshalYAML(n ast.Node) error {
	v.node = n
	list := []ast.Node{n}
	if s, ok := n.(*ast.SequenceNode); ok {
		list = s.Values
	}
	for _, e := range list {
		var t text
		if err := t.UnmarshalYAML(e); err != nil {
			return err
		}
		v.values = append(v.values, t.value)
	}
	return nil
}

// estimate is a number, or one with how sure it is: {value, u}.
type estimate struct {
	Value number `yaml:"value"`
	Sure  stated `yaml:",inline"`
	node  ast.Node
	sure  bool // it says how sure it is
}

// UnmarshalYAML reads both forms.
func (v *estimate) UnmarshalYAML(n ast.Node) error {
	v.node = n
	if _, ok := n.(ast.MapNode); !ok {
		return v.Value.UnmarshalYAML(n)
	}
	var keys struct {
		Value number `yaml:"value"`
		Sure  stated `yaml:",inline"`
	}
	if err := decode(n, &keys); err != nil {
		return err
	}
	if keys.Value.node == nil {
		return fail(n, "expansion has no value: add it")
	}
	v.Value, v.Sure, v.sure = keys.Value, keys.Sure, true
	return nil
}

// decode reads a node into a struct, by the tags of its fields.
func decode(n ast.Node, into any) error {
	if err := shape(n, typeOf(into)); err != nil {
		return err
	}
	return yaml.NodeToValue(n, into, yaml.Strict())
}
