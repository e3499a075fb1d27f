package report

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"spotface/report/wording"
)

// screenLines is how many lines a first screen has: those of the smallest terminals, less
// the line of the command and the prompt's (common practice, no source). TestFirstScreenFits.
const screenLines = 25

// Most lines of a first screen that list what is out of band, off, or sizes.
const (
	mostPoints = 5
	mostSizes  = 6
)

// TextOptions of WriteText; the zero value is the first screen.
type TextOptions struct {
	Full bool // every table and sentence, not the first screen alone
}

// WriteText writes what v says for a person. Of several parts it first says how each
// stands, with a table of the characteristics by part.
func WriteText(w io.Writer, opt TextOptions, views ...*View) error {
	var b strings.Builder
	if len(views) > 1 {
		writeParts(&b, views)
	}
	for i, v := range views {
		if i > 0 || len(views) > 1 {
			b.WriteString("\n\n")
		}
		t := &text{v: v}
		if opt.Full {
			t.full()
		} else {
			t.screen()
		}
		b.WriteString(t.String())
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// text gathers the lines of one part.
type text struct {
	v *View
	strings.Builder
}

// say writes a paragraph, its further lines indented.
func (t *text) say(s, indent string) { t.WriteString(wording.Wrap(s, indent)) }

func (t *text) lines() int { return strings.Count(t.String(), "\n") }

// head writes file, unit and headline; most is how many points a statement may list, 0 all.
func (t *text) head(most int) {
	s := t.v.File
	if t.v.About != "" {
		s += "    " + t.v.About
	}
	t.WriteString(s + "\n")
	for _, a := range t.v.Alarms {
		t.say("WARNING: "+a, "  ")
	}
	t.WriteByte('\n')
	for _, h := range t.v.Headline {
		t.say(h.Text, "  ")
		points := h.Points
		if most > 0 && len(points) > most+1 {
			points = points[:most]
		}
		for _, p := range points {
			t.WriteString("  ")
			t.say(p, "    ")
		}
		if n := len(h.Points) - len(points); n > 0 {
			fmt.Fprintf(t, "  and %d more: --full\n", n)
		}
	}
}

// foot writes the sizes and what follows them.
func (t *text) foot(full bool) {
	sizes := t.v.Sizes
	if n := len(sizes) - mostSizes; n > 1 && !full {
		sizes = append(sizes[:mostSizes:mostSizes], fmt.Sprintf("%d more: --full", n))
	}
	if len(sizes) > 0 {
		t.WriteByte('\n')
		t.facts(sizes)
	}
	for i, w := range t.v.Warnings {
		if i > 0 && !full {
			break
		}
		if n := len(t.v.Warnings) - 1; n > 0 && !full {
			w += fmt.Sprintf(" (%s: --full)", plural(n, "1 more warning", "%d more warnings"))
		}
		t.say("Warning: "+w, "  ")
	}
	caution := t.v.Caution[0]
	if full {
		caution = strings.Join(t.v.Caution, " ")
	}
	t.say(caution, "  ")
	more := "More: --full.   "
	if full {
		more = ""
	}
	t.say(more+"Next: "+t.v.Next, "  ")
}

// facts writes short facts side by side, the first with a capital.
func (t *text) facts(facts []string) {
	line := ""
	for i, f := range facts {
		if i == 0 {
			f = capital(f)
		}
		switch {
		case line == "":
		case utf8.RuneCountInString(line)+4+utf8.RuneCountInString(f) > wording.LineWidth:
			t.WriteString(line + "\n")
			line = ""
		default:
			line += "    "
		}
		line += f
	}
	t.WriteString(line + "\n")
}

// screen writes the first screen: as many rows of the drill tables as fit, those of holes
// that are off before the others.
func (t *text) screen() {
	t.head(mostPoints)
	foot := &text{v: t.v}
	foot.foot(false)
	left := screenLines - t.lines() - foot.lines()
	const around = 4 // blank line, title, heads, uncertainties
	var hidden []string
	all := 0
	for _, d := range t.v.Drill {
		all += around + len(d.Items)
	}
	if all > left && len(t.v.Drill) > 1 {
		left-- // for the line that says which are not shown
	}
	for _, d := range t.v.Drill {
		room := left - around
		if len(d.Items) > room {
			room-- // for the line that says so
		}
		if room < 2 && len(d.Items) > room {
			of := things(len(d.Items), d.Items[0].What)
			if d.Pattern != "" {
				of += " of " + d.Pattern
			}
			hidden = append(hidden, of)
			continue
		}
		left -= t.drill(d, min(room, len(d.Items)))
	}
	if len(hidden) > 0 {
		t.say("Not shown: "+wording.List(hidden)+" (--full).", "  ")
	}
	t.WriteString(foot.String())
}

// full writes everything.
func (t *text) full() {
	t.head(0)
	for _, d := range t.v.Drill {
		t.drill(d, len(d.Items))
	}
	for _, s := range t.v.Details {
		t.WriteString("\n" + s.Title + "\n")
		for _, p := range s.Text {
			t.WriteString("  ")
			t.say(p, "    ")
		}
		if s.Table != nil {
			s.Table.Write(&t.Builder)
		}
	}
	t.foot(true)
}

// drill writes a drill table with so many of its rows and returns how many lines that took.
func (t *text) drill(d Drill, rows int) int {
	before := t.lines()
	title := d.Title
	t.WriteString("\n")
	t.say(title, "  ")
	in := ", " + t.v.Unit
	tab := &wording.Table{Head: []string{"<" + d.Items[0].What, "<", "X" + in, "Y" + in, "angle, deg", "off, deg", "out" + in, "", "length" + in, "<"}}
	show := make([]bool, len(d.Items))
	for _, wanted := range []bool{true, false} { // those that are off first
		for i, it := range d.Items {
			if (it.Turned || it.Shifted) == wanted && rows > 0 {
				show[i], rows = true, rows-1
			}
		}
	}
	var u [7]Number
	hidden, mixed := 0, false
	for i, it := range d.Items {
		mixed = mixed || it.What != d.Items[0].What
		for k, n := range []Number{it.X, it.Y, it.Angle, it.Off, it.Out, it.Diameter, it.Length} {
			if n.U > u[k].U {
				u[k] = n
			}
		}
		if !show[i] {
			hidden++
			continue
		}
		tab.Add(it.ID, it.What, it.X.String(), it.Y.String(), it.Angle.String(), marked(it.Off, it.Turned), marked(it.Out, it.Shifted),
			it.Diameter.String(), it.Length.String(), "")
	}
	size := map[bool]string{true: "width", false: "diameter"}[d.Items[0].What == "slot"]
	if mixed {
		tab.Head[0], tab.Head[1], size = "<", "<kind", "diameter or width"
	}
	tab.Head[7] = size + in
	if !mixed {
		for _, r := range tab.Rows {
			r[1] = ""
		}
	}
	row := []string{"+-", "", "", "", "", "", "", "", "", "(95 %)"}
	known := false
	for k, n := range u {
		if n.U > 0 {
			n.Value = n.U
			row[2+k], known = n.upper(), true
			if k == 3 || k == 4 {
				row[2+k] += "  "
			}
		}
	}
	if known {
		tab.Add(row...)
	}
	tab.Write(&t.Builder)
	if hidden > 0 {
		fmt.Fprintf(t, "  and %d more: --full\n", hidden)
	}
	return t.lines() - before
}

// marked marks a number that is more than the scan's uncertainty.
func marked(n Number, off bool) string {
	switch {
	case n.Decimals == 0:
		return ""
	case off:
		return n.Signed() + " !"
	}
	return n.Signed() + "  "
}

// writeParts says how each of several parts stands, and lists the characteristics by part.
func writeParts(b *strings.Builder, views []*View) {
	one := &wording.Table{Head: []string{"<part", "<verdict", "<"}}
	judged := &wording.Table{Head: []string{"<off by, and verdict", "<unit"}}
	at := make(map[[3]string]int)
	for k, v := range views {
		name := fmt.Sprintf("%d", k+1)
		first := ""
		for _, h := range v.Headline {
			if len(h.Points) > 0 {
				first, _, _ = strings.Cut(h.Points[0], " (band")
				break
			}
		}
		one.Add(name+"  "+v.File, string(v.Verdict), first)
		judged.Head = append(judged.Head, "part "+name)
		if v.Judged == nil {
			continue
		}
		for _, r := range v.Judged.Rows {
			feature, _, _ := strings.Cut(r[0], " (")
			key := [3]string{feature, r[1], r[2]}
			i, ok := at[key]
			if !ok {
				i = len(judged.Rows)
				at[key] = i
				judged.Add(feature+" "+r[1], r[2])
			}
			for len(judged.Rows[i]) < 2+k {
				judged.Rows[i] = append(judged.Rows[i], "")
			}
			cell := r[5]
			switch r[9] {
			case string(Nonconforming):
				cell += " !"
			case string(Indeterminate):
				cell += " ?"
			case string(Missing):
				cell = "missing !"
			case string(Conforming):
				cell += "  "
			}
			judged.Rows[i] = append(judged.Rows[i], cell)
		}
	}
	one.Write(b)
	if len(judged.Rows) > 0 {
		for i := range judged.Rows {
			for len(judged.Rows[i]) < len(judged.Head) {
				judged.Rows[i] = append(judged.Rows[i], "")
			}
		}
		b.WriteString("\nWhat the plan judges, measured less nominal (! out of band, ? not to be decided)\n")
		judged.Write(b)
	}
}
