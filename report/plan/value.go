package plan

import (
	"fmt"
	"math"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/golang/geo/r1"

	"spotface/mesh"
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

// nameOf is the node's key with the one that holds it: "pitch_diameter nominal".
func nameOf(n ast.Node) string {
	path := pathOf(n)
	if path == "$" || path == "" {
		return "the plan"
	}
	parts := strings.Split(listIndex.ReplaceAllString(path, ""), ".")
	return strings.Join(parts[max(0, len(parts)-2):], " ")
}

// pathOf is a node's path as errors have it.
func pathOf(n ast.Node) string { return strings.TrimPrefix(n.GetPath(), "$.") }

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

// decoder reads a file into a plan, lengths in mm.
type decoder struct {
	validator           // of what keys say together
	unit      mesh.Unit // of lengths
}

// form is what a file has in the place of a type of the plan.
type form interface {
	convert(v *validator, path string)
}

// filed is a type of the plan that a file has in another form.
type filed interface{ file() form }

// value reads a node into v, which is of the field f.
func (d *decoder) value(n ast.Node, v reflect.Value, f reflect.StructField) error {
	kind := kindOfField(f)
	switch n.(type) {
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode:
		return fail(n, "%s is %s", nameOf(n), kindOf(n))
	case *ast.NullNode:
		if kind == Groups {
			return nil
		}
		return fail(n, "%s is empty: give it a value, or leave the key out", nameOf(n))
	}
	if v.Kind() == reflect.Pointer {
		v.Set(reflect.New(v.Type().Elem()))
		v = v.Elem()
	}
	list, _ := n.(*ast.SequenceNode)
	switch kind {
	case Text:
		return text(n, v, f.Tag.Get("word"))
	case Flag:
		b, ok := n.(*ast.BoolNode)
		if !ok {
			return fail(n, "%s is %s, need true or false", nameOf(n), kindOf(n))
		}
		v.SetBool(b.Value)
		return nil
	case Number:
		return d.amount(n, v, f.Tag)
	case Estimate:
		to := v.Addr().Interface().(*estimate)
		if _, to.keys = n.(ast.MapNode); !to.keys {
			to.Value = new(float64)
			return d.amount(n, v.Field(0).Elem(), f.Tag)
		}
	case Band:
		return d.band(n, v.Addr().Interface().(*r1.Interval), d.scale(f.Tag))
	case Numbers:
		numbers, err := d.list(n, d.scale(f.Tag), false)
		v.Set(reflect.ValueOf(numbers))
		return err
	case Names, Groups:
		elements := []ast.Node{n} // a name may be alone
		if list != nil {
			elements = list.Values
		} else if kind == Groups {
			return fail(n, "%s is %s, need a list: start each entry with \"- \"", nameOf(n),
				kindOf(n))
		}
		v.Set(reflect.MakeSlice(v.Type(), len(elements), len(elements)))
		for i, e := range elements {
			if err := d.value(e, v.Index(i), reflect.StructField{Type: v.Type().Elem()}); err != nil {
				return err
			}
		}
		return nil
	}
	to, ok := v.Addr().Interface().(filed)
	if !ok {
		return d.keys(n, v)
	}
	form := to.file()
	if err := d.keys(n, reflect.ValueOf(form).Elem()); err != nil {
		return err
	}
	if form.convert(&d.validator, pathOf(n)); d.err != nil { // a nil *Error is no nil error
		return d.err
	}
	return nil
}

// keys reads a set of keys into the fields of a struct.
func (d *decoder) keys(n ast.Node, v reflect.Value) error {
	where, keys := nameOf(n), keysOf(v.Type())
	m, ok := n.(ast.MapNode)
	if !ok {
		return fail(n, "%s is %s, need keys with values, as in \"%s: 1\"", where, kindOf(n),
			keys[0].name)
	}
	var before ast.Node
	for it := m.MapRange(); it.Next(); {
		k := it.Key()
		name := k.GetToken().Value
		at := slices.IndexFunc(keys, func(k key) bool { return k.name == name })
		_, number := before.(*ast.IntegerNode)
		switch {
		case k.IsMergeKey():
			return fail(k, "merge keys (<<) are not used in a plan: write the keys out")
		case at < 0 && number && strings.Trim(name, "0123456789") == "":
			v := before.GetToken().Value
			return fail(before, "%s is %s,%s: write a decimal point, not a comma: %s.%s",
				nameOf(before), v, name, v, name)
		case at < 0:
			return fail(k, "%s", unknownKey(name, where, keys))
		}
		before = it.Value()
		f := keys[at].field
		if err := d.value(before, v.FieldByIndex(f.Index), f); err != nil {
			return err
		}
	}
	return nil
}

// amount reads a number into a field.
func (d *decoder) amount(n ast.Node, v reflect.Value, tag reflect.StructTag) error {
	x, err := d.number(n, tag.Get("unit") == "length")
	switch {
	case err != nil:
		return err
	case tag.Get("over") != "" && x <= 0:
		return fail(n, "%s is %s, need more than zero", nameOf(n), wording.Short(x))
	case tag.Get("min") != "" && x < 0:
		return fail(n, "%s is %s, need zero or more", nameOf(n), wording.Short(x))
	case v.Kind() == reflect.Float64:
		v.SetFloat(x * d.scale(tag))
	case x != math.Trunc(x) || x < leastHoles || x > mostHoles:
		return fail(n, "count is %s, need a whole number from %d to %d", wording.Short(x),
			leastHoles, mostHoles)
	default:
		v.SetInt(int64(x))
	}
	return nil
}

// scale is the mm, or what else the unit is, in one of a number.
func (d *decoder) scale(tag reflect.StructTag) float64 {
	if tag.Get("unit") == "length" {
		return d.mm
	}
	return 1
}

var (
	powerOfTen    = regexp.MustCompile(`^[-+]?[0-9]+[eE][-+]?[0-9]+$`)
	fractionForm  = regexp.MustCompile(`^(?:([0-9]+)[ -])?([0-9]+)/([1-9][0-9]*)$`)
	withUnit      = regexp.MustCompile(`^([-+]?[0-9]*\.?[0-9]+) *[^0-9.,eE].*$`)
	plusMinusHalf = regexp.MustCompile(`^(?:\+-|\+/-|±) *([0-9]*\.?[0-9]+)$`)
)

// number reads a number, and says how to mend what is none. A size in inches may be a fraction.
func (d *decoder) number(n ast.Node, size bool) (x float64, err error) {
	s := n.GetToken().Value
	switch n.(type) {
	case *ast.IntegerNode, *ast.FloatNode:
		if x, err = strconv.ParseFloat(s, 64); err != nil || math.IsInf(x, 0) {
			return 0, fail(n, "%s is %q, need a plain decimal number", nameOf(n), s)
		}
		return x, nil
	case *ast.InfinityNode, *ast.NanNode:
		return 0, fail(n, "%s is %s, need a finite number", nameOf(n), s)
	case *ast.StringNode:
		if powerOfTen.MatchString(s) { // YAML 1.2 takes 1e-6 for a number, the parser only 1.0e-6
			if x, err = strconv.ParseFloat(s, 64); err == nil {
				return x, nil
			}
		}
		_, bad := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
		f, bare := fractionForm.FindStringSubmatch(s), withUnit.FindStringSubmatch(s)
		switch {
		case f != nil && !size:
			return 0, fail(n, "%s is %s: only a length may be a fraction, where the unit is in; "+
				"need a decimal number", nameOf(n), s)
		case f != nil && d.unit != mesh.Inch:
			return 0, fail(n, "%s is %s: a fraction is a size in inches, and the plan's unit is %s: "+
				"write unit: in, or the decimal number", nameOf(n), s, d.unit)
		case f != nil:
			whole, _ := strconv.ParseFloat("0"+f[1], 64)
			above, _ := strconv.ParseFloat(f[2], 64)
			below, _ := strconv.ParseFloat(f[3], 64)
			return whole + above/below, nil
		case bad == nil:
			return 0, fail(n, "%s is the text %q, need a number: write a decimal point, not a "+
				"comma, and no quotes", nameOf(n), s)
		case bare != nil:
			return 0, fail(n, "%s is the text %q, need the bare number %s: the key unit at the top "+
				"says the unit of all lengths, angles are degrees", nameOf(n), s, bare[1])
		}
	}
	return 0, fail(n, "%s is %s, need a number", nameOf(n), kindOf(n))
}

// text reads text, or a number as the text it is; with a word it alone, for true. What names
// one of a few things is not empty.
func text(n ast.Node, v reflect.Value, word string) error {
	s := n.GetToken().Value
	switch t := n.(type) {
	case *ast.StringNode:
		s = t.Value
	case *ast.IntegerNode, *ast.FloatNode:
	default:
		return fail(n, "%s is %s, need text", nameOf(n), kindOf(n))
	}
	switch {
	case word == "" && s == "" && v.Type().PkgPath() != "":
		return fail(n, "%s is empty: give it a value, or leave the key out", nameOf(n))
	case word == "":
		v.SetString(s)
	case s != word:
		return fail(n, "%s is %q, need %s, or leave it out", nameOf(n), s, word)
	default:
		v.SetBool(true)
	}
	return nil
}

// list reads a list of numbers, those of an open one may be infinite.
func (d *decoder) list(n ast.Node, scale float64, open bool) ([]float64, error) {
	s, ok := n.(*ast.SequenceNode)
	if !ok {
		return nil, fail(n, "%s is %s, need a list, as in [0, 1]", nameOf(n), kindOf(n))
	}
	out := []float64{}
	for _, e := range s.Values {
		x, err := d.number(e, false)
		if inf, ok := e.(*ast.InfinityNode); ok && open {
			x, err = inf.Value, nil
		}
		if err != nil {
			return nil, err
		}
		out = append(out, x*scale)
	}
	return out, nil
}

// band reads [lower, upper], either of which may be infinite, or +-half.
func (d *decoder) band(n ast.Node, to *r1.Interval, scale float64) error {
	what := strings.TrimSuffix(nameOf(n), " band")
	if _, ok := n.(*ast.SequenceNode); !ok {
		t := n.GetToken().Value
		if f := plusMinusHalf.FindStringSubmatch(t); f != nil {
			half, _ := strconv.ParseFloat(f[1], 64)
			*to = *PlusMinus(half * scale)
			return nil
		}
		if half, err := strconv.ParseFloat(t, 64); err == nil && half > 0 && !math.IsInf(half, 0) {
			return fail(n, "the band of %s is the number %s: write +-%s for [-%s, %s], or both "+
				"limits",
				what, t, t, t, t)
		}
		return fail(n, "the band of %s is %s, need its lower and upper deviation, as in [-0.2, "+
			"0.2] or +-0.2",
			what, kindOf(n))
	}
	ends, err := d.list(n, scale, true)
	if err != nil {
		return err
	}
	if len(ends) != 2 {
		more := ""
		if len(ends) == 4 {
			more = "; decimals take a point, not a comma"
		}
		return fail(n, "the band of %s has %s, need two: the lower and the upper deviation, as in "+
			"[-0.2, 0.2]%s",
			what, wording.Things(len(ends), "number"), more)
	}
	to.Lo, to.Hi = ends[0], ends[1]
	return nil
}
