package plan

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"spotface/mesh"
	"spotface/report"
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

// Parse reads a plan, YAML, from memory; file is its name in errors. An
// unknown key, a wrong type, a band the wrong way round, an unknown unit and
// anything else that a plan cannot mean is a *Error with line and column.
func Parse(file string, data []byte) (*Plan, error) {
	r := &planReader{file: file, mm: 1}
	if len(data) > maxPlan {
		return nil, r.fail(nil, "larger than %d bytes: this is not a plan, give the plan's YAML file", maxPlan)
	}
	root, err := r.parse(data)
	if err != nil {
		return nil, err
	}
	p := &Plan{File: file, Unit: mesh.Millimetre}
	// The unit comes first, wherever it stands: it scales all else.
	if err := r.findUnit(root, p); err != nil {
		return nil, err
	}
	ids := &names{r: r, seen: make(map[string]bool)}
	skip := func(ast.Node) error { return nil }
	err = r.mapping(root, "the plan", []field{
		{"part", r.textInto(&p.Part, "part")},
		{"unit", skip},
		{"scan_unit", func(n ast.Node) (err error) { p.ScanUnit, err = r.unit(n, "scan_unit"); return err }},
		{"frame", func(n ast.Node) error { return r.frame(n, &p.Frame, ids) }},
		{"scanner", func(n ast.Node) error { return r.scanner(n, &p.Scanner, ids) }},
		{"decision", func(n ast.Node) (err error) { p.Decision, err = r.rule(n); return err }},
		{"bolt_circles", func(n ast.Node) error {
			return r.list(n, "bolt_circles", func(n ast.Node) error { return r.circle(n, p, ids) })
		}},
		{"holes", func(n ast.Node) error {
			return r.list(n, "holes", func(n ast.Node) error { return r.hole(n, p, ids) })
		}},
		{"planes", func(n ast.Node) error {
			return r.list(n, "planes", func(n ast.Node) error { return r.plane(n, p, ids) })
		}},
		{"cylinders", func(n ast.Node) error {
			return r.list(n, "cylinders", func(n ast.Node) error { return r.cylinder(n, p, ids) })
		}},
	})
	if err != nil {
		return nil, err
	}
	if err := ids.checkReferences(p); err != nil {
		return nil, err
	}
	if err := ids.checkLengths(p); err != nil {
		return nil, err
	}
	if len(p.BoltCircles)+len(p.Holes)+len(p.Planes)+len(p.Cylinders) == 0 {
		return nil, r.fail(nil, "names no feature to judge: add bolt_circles, holes, planes or cylinders")
	}
	return p, nil
}

// parse returns the file's one document.
func (r *planReader) parse(data []byte) (root ast.Node, err error) {
	if i := strings.IndexByte(string(data), 0); i >= 0 {
		return nil, r.fail(nil, "not a text file (byte %d is zero): give the plan's YAML file", i)
	}
	if err := r.checkShape(data); err != nil {
		return nil, err
	}
	f, err := parser.ParseBytes(data, 0)
	if err != nil {
		e := &Error{File: r.file, Message: "not readable as YAML: " + oneLine(err.Error())}
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
			return nil, r.fail(d.Body, "a second document starts here: a plan is one, remove the line ---")
		}
		root = d.Body
	}
	if root == nil {
		return nil, r.fail(nil, "empty: draft a plan from a measured scan, or write bolt_circles and the rest by hand")
	}
	return root, nil
}

// checkShape refuses lines that are too long, and brackets, or the marks that
// open a line, that are nested too deeply.
func (r *planReader) checkShape(data []byte) error {
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
		deep := depth > maxDepth || marks > maxDepth && c != '-'
		if deep || i-start > maxLine {
			e := &Error{File: r.file, Line: line, Column: i - start + 1,
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

func (r *planReader) unit(n ast.Node, what string) (mesh.Unit, error) {
	s, err := r.text(n, what)
	if err != nil {
		return "", err
	}
	if _, err := mesh.Unit(s).Millimetres(); err != nil {
		return "", r.fail(n, "%s is %q, need one of mm, cm, m, in, ft", what, s)
	}
	return mesh.Unit(s), nil
}

func (r *planReader) findUnit(root ast.Node, p *Plan) (err error) {
	m, ok := root.(ast.MapNode)
	if !ok {
		return nil // reported by mapping
	}
	for it := m.MapRange(); it.Next(); {
		if it.Key().GetToken().Value == "unit" {
			if p.Unit, err = r.unit(it.Value(), "unit"); err != nil {
				return err
			}
			r.mm, err = p.Unit.Millimetres()
		}
	}
	return err
}

func (r *planReader) rule(n ast.Node) (report.Rule, error) {
	s, err := r.text(n, "decision")
	if err != nil {
		return "", err
	}
	names := make([]string, 0, 3)
	for _, known := range []report.Rule{report.Guarded, report.SimpleAcceptance, report.GuardedRejection} {
		if report.Rule(s) == known {
			return known, nil
		}
		names = append(names, string(known))
	}
	return "", r.fail(n, "decision is %q, need one of %s", s, strings.Join(names, ", "))
}

func (r *planReader) frame(n ast.Node, f *Frame, ids *names) error {
	return r.mapping(n, "frame", []field{
		{"face", r.textInto(&f.Face, "frame face")},
		{"axis", func(n ast.Node) error {
			ids.axis = n
			return r.textInto(&f.Axis, "frame axis")(n)
		}},
		{"clock", r.textInto(&f.Clock, "frame clock")},
	})
}
