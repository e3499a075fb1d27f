package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// Rewrite returns a plan file with the nominal sizes and the places of p in the place of its
// own: p is a changed copy of what Parse made of data. Comments, bands and all else stay as they
// are written.
func Rewrite(data []byte, p *Plan) ([]byte, error) {
	was, root, err := read(data)
	if err != nil {
		return nil, err
	}
	mm, err := was.Unit.Millimetres()
	if err != nil {
		return nil, err
	}
	r := rewriter{root: root, mm: mm}
	size := func(path string, was, now *Size) {
		if was != nil && now != nil {
			r.number(path+".nominal", was.Nominal, now.Nominal)
		}
	}
	now := p.Features()
	for i, f := range was.Features() {
		if i >= len(now) || now[i].Path != f.Path || len(now[i].At) != len(f.At) {
			return nil, fmt.Errorf("plan: the file has other features than the plan to write into it")
		}
		size(f.Path+".pitch_diameter", f.Pitch, now[i].Pitch)
		size(f.Path+"."+f.SizeKey, f.Size, now[i].Size)
		for k := range f.At {
			r.number(fmt.Sprintf("%s.at[%d]", f.Path, k), f.At[k], now[i].At[k])
		}
	}
	return r.apply(data)
}

// rewriter gathers numbers of a file that are to be replaced.
type rewriter struct {
	root  ast.Node
	mm    float64
	edits []edit
	err   error
}

type edit struct {
	line, column int // from 1, in characters
	old, text    string
}

// number replaces the number at a path, where it changed, mm.
func (r *rewriter) number(path string, was, now float64) {
	if was == now || r.err != nil {
		return
	}
	n, err := nodeAt(r.root, path)
	if err != nil {
		r.err = fmt.Errorf("plan: the file has no number at %s: %w", path, err)
		return
	}
	decimals := max(3, 3+int(math.Ceil(math.Log10(r.mm)-1e-9))) // to a micrometre, in any unit
	text := strconv.FormatFloat(now/r.mm, 'f', decimals, 64)
	at := n.GetToken().Position
	r.edits = append(r.edits, edit{at.Line, at.Column, n.GetToken().Value,
		strings.TrimRight(strings.TrimRight(text, "0"), ".")})
}

// apply replaces from the end, so that no edit moves the place of another.
func (r *rewriter) apply(data []byte) ([]byte, error) {
	slices.SortFunc(r.edits, func(a, b edit) int {
		return cmp.Or(cmp.Compare(b.line, a.line), cmp.Compare(b.column, a.column))
	})
	lines := strings.SplitAfter(string(data), "\n")
	for _, e := range r.edits {
		line := []rune(lines[e.line-1])
		before, after, found := string(line[:e.column-1]), string(line[e.column-1:]), false
		for _, quote := range []string{"", "'", `"`} { // a fraction may be in quotes
			if rest, ok := strings.CutPrefix(after, quote+e.old+quote); ok {
				lines[e.line-1], found = before+e.text+rest, true
				break
			}
		}
		if !found && r.err == nil {
			r.err = fmt.Errorf("plan: line %d: %q is not where it was read", e.line, e.old)
		}
	}
	return []byte(strings.Join(lines, "")), r.err
}
