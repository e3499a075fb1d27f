package plan

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
	"github.com/golang/geo/r1"

	"spotface/report/wording"
)

// planReader turns nodes of a parsed plan into values. Its errors carry line and
// column of the node at fault.
type planReader struct {
	file string
	mm   float64 // millimetres in the plan's unit
}

func (r *planReader) fail(n ast.Node, format string, args ...any) error {
	e := &Error{File: r.file, Message: fmt.Sprintf(format, args...)}
	if n != nil && n.GetToken() != nil && n.GetToken().Position != nil {
		e.Line, e.Column = n.GetToken().Position.Line, n.GetToken().Position.Column
	}
	return e
}

// field is one key that a mapping may have.
type field struct {
	key  string
	read func(ast.Node) error
}

// mapping reads every key of n, which where names for the reader, by the field
// of that name. Keys that no field has, and keys given twice, are errors.
func (r *planReader) mapping(n ast.Node, where string, fields []field) error {
	m, ok := n.(ast.MapNode)
	if !ok {
		return r.fail(n, "%s is %s, need keys with values, as in \"%s: 1\"", where, kindOf(n), fields[0].key)
	}
	known := make([]string, len(fields))
	for i, f := range fields {
		known[i] = f.key
	}
	seen := make(map[string]bool)
	for it := m.MapRange(); it.Next(); {
		key := it.Key()
		name := key.GetToken().Value
		at := -1
		for i, f := range fields {
			if f.key == name {
				at = i
			}
		}
		switch {
		case key.IsMergeKey():
			return r.fail(key, "merge keys (<<) are not used in a plan: write the keys out")
		case at < 0:
			return r.fail(key, "%s", unknownKey(name, where, known))
		case seen[name]:
			return r.fail(key, "key %q stands twice in %s: remove one", name, where)
		}
		seen[name] = true
		if err := fields[at].read(it.Value()); err != nil {
			return err
		}
	}
	return nil
}

// list calls read for each entry of a sequence. Nothing at all is an empty one.
func (r *planReader) list(n ast.Node, where string, read func(ast.Node) error) error {
	if _, ok := n.(*ast.NullNode); ok {
		return nil
	}
	s, ok := n.(*ast.SequenceNode)
	if !ok {
		return r.fail(n, "%s is %s, need a list: start each entry with \"- \"", where, kindOf(n))
	}
	for _, v := range s.Values {
		if err := read(v); err != nil {
			return err
		}
	}
	return nil
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

var powerOfTen = regexp.MustCompile(`^[-+]?[0-9]+[eE][-+]?[0-9]+$`)

// number reads a finite number.
func (r *planReader) number(n ast.Node, what string) (float64, error) {
	switch n.(type) {
	case *ast.IntegerNode, *ast.FloatNode:
		v, err := strconv.ParseFloat(n.GetToken().Value, 64)
		if err != nil || math.IsInf(v, 0) {
			return 0, r.fail(n, "%s is %q, need a plain decimal number", what, n.GetToken().Value)
		}
		return v, nil
	case *ast.InfinityNode, *ast.NanNode:
		return 0, r.fail(n, "%s is %s, need a finite number", what, n.GetToken().Value)
	}
	if s, ok := n.(*ast.StringNode); ok {
		// YAML 1.2 takes 1e-6 for a number, the parser only 1.0e-6.
		if s.Token.Type == token.StringType && powerOfTen.MatchString(s.Value) {
			if v, err := strconv.ParseFloat(s.Value, 64); err == nil {
				return v, nil
			}
		}
		if _, err := strconv.ParseFloat(strings.Replace(s.Value, ",", ".", 1), 64); err == nil {
			return 0, r.fail(n, "%s is the text %q, need a number: write a decimal point, not a comma, and no quotes", what, s.Value)
		}
		if num, unit := splitUnit(s.Value); unit != "" {
			return 0, r.fail(n, "%s is the text %q, need the bare number %s: the key unit at the top says the unit of all lengths, angles are degrees", what, s.Value, num)
		}
	}
	return 0, r.fail(n, "%s is %s, need a number", what, kindOf(n))
}

// splitUnit parts "0.3 mm" into "0.3" and "mm"; unit is empty where s is not a
// number with something behind it.
func splitUnit(s string) (num, unit string) {
	i := strings.IndexFunc(s, func(c rune) bool { return !strings.ContainsRune("+-.0123456789", c) })
	if i <= 0 {
		return s, ""
	}
	if _, err := strconv.ParseFloat(s[:i], 64); err != nil {
		return s, ""
	}
	return s[:i], strings.TrimSpace(s[i:])
}

// notNegative reads a number that may not be below zero.
func (r *planReader) notNegative(n ast.Node, what string) (float64, error) {
	v, err := r.number(n, what)
	if err == nil && v < 0 {
		err = r.fail(n, "%s is %s, need zero or more", what, wording.Short(v))
	}
	return v, err
}

// positive reads a number above zero.
func (r *planReader) positive(n ast.Node, what string) (float64, error) {
	v, err := r.number(n, what)
	if err == nil && v <= 0 {
		err = r.fail(n, "%s is %s, need more than zero", what, wording.Short(v))
	}
	return v, err
}

// into returns a field reader that stores what read reads, times scale.
func (r *planReader) into(dst *float64, scale float64, what string, read func(ast.Node, string) (float64, error)) func(ast.Node) error {
	return func(n ast.Node) error {
		v, err := read(n, what)
		*dst = v * scale
		return err
	}
}

// text reads a word or a line of text.
func (r *planReader) text(n ast.Node, what string) (string, error) {
	switch v := n.(type) {
	case *ast.StringNode:
		return v.Value, nil
	case *ast.IntegerNode, *ast.FloatNode:
		return n.GetToken().Value, nil
	}
	return "", r.fail(n, "%s is %s, need text", what, kindOf(n))
}

func (r *planReader) textInto(dst *string, what string) func(ast.Node) error {
	return func(n ast.Node) (err error) {
		*dst, err = r.text(n, what)
		return err
	}
}

// id reads a feature's name.
func (r *planReader) id(n ast.Node, what string) (string, error) {
	s, err := r.text(n, what)
	if err == nil && (s == "" || strings.ContainsAny(s, "/ \t\n")) {
		err = r.fail(n, "%s is %q, need a short name without spaces or slashes, as in B1", what, s)
	}
	return s, err
}

// numbers reads a list of at least low and at most high numbers.
func (r *planReader) numbers(n ast.Node, what string, low, high int, scale float64) ([]float64, error) {
	var out []float64
	err := r.list(n, what, func(v ast.Node) error {
		f, err := r.number(v, "a number of "+what)
		out = append(out, f*scale)
		return err
	})
	if err == nil && (len(out) < low || len(out) > high) {
		want := strconv.Itoa(low)
		if high != low {
			want = fmt.Sprintf("%d to %d", low, high)
		}
		err = r.fail(n, "%s has %s, need %s", what, wording.Things(len(out), "number"), want)
	}
	return out, err
}

// band reads [lower, upper], either of which may be infinite.
func (r *planReader) band(n ast.Node, what string, scale float64) (*r1.Interval, error) {
	var ends []float64
	err := r.list(n, "the band of "+what, func(v ast.Node) error {
		if inf, ok := v.(*ast.InfinityNode); ok {
			ends = append(ends, inf.Value)
			return nil
		}
		f, err := r.number(v, "a limit of "+what)
		ends = append(ends, f*scale)
		return err
	})
	switch {
	case err != nil:
		return nil, err
	case len(ends) != 2:
		return nil, r.fail(n, "the band of %s has %s, need two: the lower and the upper deviation, as in [-0.2, 0.2]", what, wording.Things(len(ends), "number"))
	case ends[0] > ends[1] || math.IsInf(ends[0], 1) || math.IsInf(ends[1], -1):
		return nil, r.fail(n, "the band of %s has its lower limit %s above its upper limit %s: swap them", what, wording.Short(ends[0]/scale), wording.Short(ends[1]/scale))
	case math.IsInf(ends[0], -1) && math.IsInf(ends[1], 1):
		return nil, r.fail(n, "the band of %s has no limit on either side: leave the band out", what)
	}
	return &r1.Interval{Lo: ends[0], Hi: ends[1]}, nil
}
