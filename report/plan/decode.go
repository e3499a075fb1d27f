package plan

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"gonum.org/v1/gonum/floats"

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
	if e, ok := errors.AsType[*Error](err); ok {
		e.File = name
		e.locate(root)
	}
	if err != nil {
		return nil, err
	}
	return p, nil
}

// locate finds the place of what Validate names by its path, or of the nearest node above.
func (e *Error) locate(root ast.Node) {
	for path := e.Path; path != "" && e.Line == 0; {
		if n, err := nodeAt(root, path); err == nil && n.GetToken() != nil {
			e.Line, e.Column = n.GetToken().Position.Line, n.GetToken().Position.Column
		}
		path = path[:max(0, strings.LastIndexAny(path, ".["))]
	}
}

// nodeAt is the node at a path such as "bolt_circles[0].count".
func nodeAt(root ast.Node, path string) (ast.Node, error) {
	p, err := yaml.PathString("$." + path)
	if err != nil {
		return nil, err
	}
	n, err := p.FilterNode(root)
	if err == nil && n == nil {
		err = yaml.ErrNotFoundNode
	}
	return n, err
}

// read reads the file; the root is for places of what is wrong.
func read(data []byte) (*Plan, ast.Node, error) {
	if len(data) > maxPlan {
		return nil, nil, fail(nil, "larger than %d bytes: this is not a plan, give the plan's "+
			"YAML file", maxPlan)
	}
	root, err := document(data)
	if err != nil {
		return nil, nil, err
	}
	p := new(Plan)
	d := decoder{validator: validator{mm: 1}, unit: unitOf(root)}
	if mm, err := d.unit.Millimetres(); err == nil {
		d.mm = mm
	}
	if err := d.value(root, reflect.ValueOf(p).Elem(), reflect.StructField{Type: reflect.TypeFor[Plan]()}); err != nil {
		return nil, root, err
	}
	if p.Unit == "" {
		p.Unit = mesh.Millimetre
	}
	for _, f := range p.Planes {
		if l := floats.Norm(f.Normal, 2); l > 0 {
			for i := range f.Normal {
				f.Normal[i] /= l
			}
		}
	}
	return p, root, nil
}

// unitOf is the unit of the plan's lengths, which is needed before they are read.
func unitOf(root ast.Node) mesh.Unit {
	n, _ := nodeAt(root, "unit")
	if s, ok := n.(*ast.StringNode); ok {
		return mesh.Unit(s.Value)
	}
	return mesh.Millimetre
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
			e.Message = "not readable as YAML: " + oneLine(ye.GetMessage()) +
				": check indentation, colons and brackets here"
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
			return nil, fail(d.Body, "a second document starts here: a plan is one, remove the "+
				"line ---")
		}
		root = d.Body
	}
	if root == nil {
		return nil, fail(nil, "empty: draft a plan from a measured scan, or write bolt_circles "+
			"and the rest by hand")
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
			return &Error{Line: line, Column: max(i-start, 1),
				Message: "a tab before the text: YAML takes spaces alone there"}
		}
		deep := depth > maxDepth || marks > maxDepth && c != '-'
		if deep || i-start > maxLine {
			e := &Error{Line: line, Column: i - start + 1,
				Message: fmt.Sprintf("the line is longer than %d characters: this is not a plan, "+
					"or its line breaks are lost", maxLine)}
			if deep {
				e.Message = fmt.Sprintf("more than %d levels of brackets or dashes: a plan needs "+
					"four, look for one that is not closed", maxDepth)
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

// otherUnits are names of units that people write, and what a plan calls them.
var otherUnits = map[string]mesh.Unit{"inch": "in", "inches": "in", "\"": "in", "in.": "in",
	"millimetre": "mm", "millimeter": "mm", "millimetres": "mm", "millimeters": "mm",
	"centimetre": "cm", "centimeter": "cm", "metre": "m", "meter": "m", "foot": "ft", "feet": "ft",
	"'": "ft"}

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
