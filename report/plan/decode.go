package plan

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"spotface/mesh"
)

// A plan file may be so large, bytes, its lines so long and its nesting so deep:
// far beyond any sensible one. The YAML parser's time grows with the square of
// the last two.
const (
	maxPlan  = 1 << 17
	maxLine  = 4096
	maxDepth = 20
)

// Read reads a plan file. An error of its content is a *Error.
func Read(path string) (*Plan, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("plan: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxPlan+1))
	if err != nil {
		return nil, fmt.Errorf("plan: %w", err)
	}
	return Parse(filepath.Base(path), data)
}

// Parse reads a plan, YAML, from memory; name is the file's in errors. An unknown key, a
// wrong type, a band the wrong way round, an unknown unit and anything else that a plan
// cannot mean is an *Error with line and column.
func Parse(name string, data []byte) (*Plan, error) {
	p, root, err := read(data)
	if err == nil {
		p.File = name
		err = p.Validate()
	}
	if err == nil {
		return p, nil
	}
	e, ok := errors.AsType[*Error](err)
	if !ok {
		var ye yaml.Error
		e = &Error{Message: oneLine(err.Error())}
		if errors.As(err, &ye) {
			e.Message = oneLine(ye.GetMessage())
			if t := ye.GetToken(); t != nil && t.Position != nil {
				e.Line, e.Column = t.Position.Line, t.Position.Column
			}
		}
	}
	e.File = name
	e.locate(root)
	return nil, e
}

// locate finds the place of what Validate names by its path, or of the nearest node above.
func (e *Error) locate(root ast.Node) {
	for path := e.Path; path != "" && e.Line == 0; {
		if p, err := yaml.PathString("$." + path); err == nil {
			if n, err := p.FilterNode(root); err == nil && n != nil && n.GetToken() != nil {
				e.Line, e.Column = n.GetToken().Position.Line, n.GetToken().Position.Column
			}
		}
		path = path[:max(0, strings.LastIndexAny(path, ".["))]
	}
}

// read decodes the file and converts it; the root is for places of what is wrong.
func read(data []byte) (*Plan, ast.Node, error) {
	if len(data) > maxPlan {
		return nil, nil, fail(nil, "larger than %d bytes: this is not a plan, give the plan's YAML file", maxPlan)
	}
	root, err := document(data)
	if err != nil {
		return nil, nil, err
	}
	var f file
	if err := decode(root, &f); err != nil {
		return nil, root, err
	}
	p, err := f.plan()
	return p, root, err
}

// document returns the file's one document.
func document(data []byte) (root ast.Node, err error) {
	if i := strings.IndexByte(string(data), 0); i >= 0 {
		return nil, fail(nil, "not a text file (byte %d is zero): give the plan's YAML file", i)
	}
	if err := checkText(data); err != nil {
		return nil, err
	}
	f, err := parser.ParseBytes(data, 0)
	if err != nil {
		e := &Error{Message: "not readable as YAML: " + oneLine(err.Error())}
		var ye yaml.Error
		if errors.As(err, &ye) {
			e.Message = "not readable as YAML: " + oneLine(ye.GetMessage()) + ": check indentation, colons and brackets here"
			if t := ye.GetToken(); t != nil && t.Position != nil {
				e.Line, e.Column = t.Position.Line, t.Position.Column
			}
		}
		return nil, e
	}
	for _, d := range f.Docs {
		if d.Body == nil {
			continue
		}
		if root != nil {
			return nil, fail(d.Body, "a second document starts here: a plan is one, remove the line ---")
		}
		root = d.Body
	}
	if root == nil {
		return nil, fail(nil, "empty: draft a plan from a measured scan, or write bolt_circles and the rest by hand")
	}
	return root, nil
}

// checkText refuses tabs before text, lines that are too long, and brackets, or the marks that
// open a line, that are nested too deeply.
func checkText(data []byte) error {
	line, start, depth, marks, opening := 1, 0, 0, 0, true
	for i, c := range data {
		switch c {
		case '\n', '\r':
			if c == '\n' {
				line, start = line+1, i
			}
			marks, opening = 0, true
		case '[', '{':
			depth++
		case ']', '}':
			depth = max(depth-1, 0)
		case '-', '?', ':':
			if opening {
				marks++
			}
		case ' ', '\t':
		default:
			opening = false
		}
		if c == '\t' && opening && depth == 0 && tabbed(data[i:]) {
			return &Error{Line: line, Column: max(i-start, 1), Message: "a tab before the text: YAML takes spaces alone there"}
		}
		deep := depth > maxDepth || marks > maxDepth && c != '-'
		if deep || i-start > maxLine {
			e := &Error{Line: line, Column: i - start + 1,
				Message: fmt.Sprintf("the line is longer than %d characters: this is not a plan, or its line breaks are lost", maxLine)}
			if deep {
				e.Message = fmt.Sprintf("more than %d levels of brackets or dashes: a plan needs four, look for one that is not closed", maxDepth)
			}
			return e
		}
	}
	return nil
}

func oneLine(s string) string {
	s, _, _ = strings.Cut(s, "\n")
	return s
}

// tabbed reports whether a line that starts with white space has text other than a comment.
func tabbed(line []byte) bool {
	s := strings.TrimLeft(oneLine(string(line)), " \t\r")
	return s != "" && s[0] != '#'
}

// key is a field of a struct of the file.
type key struct {
	name  string
	field reflect.StructField
}

func typeOf(v any) reflect.Type { return bare(reflect.TypeOf(v)) }

// bare is a type without its pointers.
func bare(t reflect.Type) reflect.Type {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	return t
}

// isValue reports whether a type reads its node itself.
func isValue(t reflect.Type) bool {
	return reflect.PointerTo(t).Implements(reflect.TypeFor[yaml.NodeUnmarshaler]())
}

// keysOf lists the keys of a struct of the file, in their order.
func keysOf(t reflect.Type) []key {
	var out []key
	for f := range t.Fields() {
		switch name := f.Tag.Get("yaml"); name {
		case "":
		case ",inline":
			out = append(out, keysOf(f.Type)...)
		default:
			out = append(out, key{name, f})
		}
	}
	return out
}

// shape refuses what does not have the shape of the type: unknown keys, and something else
// than keys or a list where they belong.
func shape(n ast.Node, t reflect.Type) error {
	t = bare(t)
	where := "the plan"
	if path := n.GetPath(); path != "$" && path != "" {
		where = nameOf(n)
	}
	switch n.(type) {
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode:
		return fail(n, "%s is %s", where, kindOf(n))
	case *ast.NullNode:
		if t.Kind() == reflect.Slice {
			return nil
		}
		return fail(n, "%s is empty: give it a value, or leave the key out", where)
	}
	if isValue(t) {
		return nil
	}
	if t.Kind() == reflect.Slice {
		s, ok := n.(*ast.SequenceNode)
		if !ok {
			return fail(n, "%s is %s, need a list: start each entry with \"- \"", where, kindOf(n))
		}
		for _, v := range s.Values {
			if err := shape(v, t.Elem()); err != nil {
				return err
			}
		}
		return nil
	}
	m, ok := n.(ast.MapNode)
	keys := keysOf(t)
	if !ok {
		return fail(n, "%s is %s, need keys with values, as in \"%s: 1\"", where, kindOf(n), keys[0].name)
	}
	var before ast.Node
	var seen []string
	for it := m.MapRange(); it.Next(); {
		k := it.Key()
		name := k.GetToken().Value
		at := slices.IndexFunc(keys, func(k key) bool { return k.name == name })
		number := func(n ast.Node) bool { _, ok := n.(*ast.IntegerNode); return ok }
		switch {
		case k.IsMergeKey():
			return fail(k, "merge keys (<<) are not used in a plan: write the keys out")
		case at < 0 && before != nil && number(before) && strings.Trim(name, "0123456789") == "":
			v := before.GetToken().Value
			return fail(before, "%s is %s,%s: write a decimal point, not a comma: %s.%s", nameOf(before), v, name, v, name)
		case at < 0:
			return fail(k, "%s", unknownKey(name, where, keys))
		case slices.Contains(seen, name):
			return fail(k, "key %q stands twice in %s: remove one", name, where)
		}
		seen = append(seen, name)
		if err := shape(it.Value(), keys[at].field.Type); err != nil {
			return err
		}
		before = it.Value()
	}
	return nil
}

// otherUnits are names of units that people write, and what a plan calls them.
var otherUnits = map[string]mesh.Unit{"inch": "in", "inches": "in", "\"": "in", "in.": "in", "millimetre": "mm", "millimeter": "mm",
	"millimetres": "mm", "millimeters": "mm", "centimetre": "cm", "centimeter": "cm", "metre": "m", "meter": "m",
	"foot": "ft", "feet": "ft", "'": "ft"}

// unitFault says what is wrong with a unit, "" for nothing.
func unitFault(what string, u mesh.Unit) string {
	if _, err := u.Millimetres(); err == nil {
		return ""
	}
	lower := mesh.Unit(strings.ToLower(string(u)))
	meant, ok := otherUnits[string(lower)]
	if _, err := lower.Millimetres(); err == nil {
		meant, ok = lower, true
	}
	if ok {
		return fmt.Sprintf("%s is %q: write %s", what, u, meant)
	}
	return fmt.Sprintf("%s is %q, need one of mm, cm, m, in, ft", what, u)
}
