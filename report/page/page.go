package page

import (
	"cmp"
	_ "embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/report"
	"spotface/report/batch"
	"spotface/report/deviation"
	"spotface/report/drawing"
	"spotface/report/wording"
)

// Page is what a page is made of.
type Page struct {
	Report *report.Report
	Inches bool // say lengths in inches
	// Scan is in its own position, with what was found in it. All three are nil where there
	// is only a saved report: then there is no view, no histogram and no picture of a wall.
	Scan       *mesh.Scan
	Surfaces   *segment.Segmentation
	Deviations *deviation.Map
	Tool       string // program and version
}

//go:embed page.html
var layout string

//go:embed page.css
var style string

//go:embed page.js
var script string

// sheet is what the layout shows.
type sheet struct {
	*report.View
	Style      template.CSS
	Script     template.JS
	Title      string
	Tool       string
	Rests      []report.Section // what the verdict rests on
	ToDo       []report.Section
	Drawing    template.HTML
	Notes      []string // of the drawing, or why there is none
	Drills     []details
	Many       bool // holes: in print their tables stand beside the drawing
	Budgets    []details
	Tables     []details
	Charts     []chart
	Scene      *scene
	WithoutWhy string // there is no view
}

type details struct {
	Title string
	Text  []string
	Table *table
}

// table is a table without its empty columns.
type table struct {
	Head []cell
	Rows []row
	Foot []row
}

type row struct {
	Hole  string // that it is of, in the drill table
	Cells []cell
	Mark  string // verdict
}

type cell struct {
	Text   string
	Number bool
	Off    bool
}

func (p *Page) how() report.ViewOptions { return report.ViewOptions{Inches: p.Inches} }

// Write writes the page. The errors are those of report.NewView and of writing.
func Write(w io.Writer, p Page) error {
	how := p.how()
	v, err := report.NewView(p.Report, how)
	if err != nil {
		return err
	}
	s := &sheet{View: v, Style: template.CSS(style), Script: template.JS(script),
		Title: v.Part, Tool: p.Tool}
	if s.Title == "" {
		s.Title = v.File
	}
	for _, d := range v.Details {
		switch {
		case d.ToDo:
			s.ToDo = append(s.ToDo, d)
		case d.Table == nil:
			s.Rests = append(s.Rests, d)
		default:
			s.Tables = append(s.Tables, newDetails(d))
		}
	}
	holes := 0
	for i := range v.Drill {
		d := &v.Drill[i]
		var ids []string
		for _, it := range d.Items {
			ids = append(ids, it.ID)
		}
		s.Drills = append(s.Drills, details{Title: d.Title, Table: newTable(d.Table(v.Unit), ids)})
		holes += len(d.Items)
	}
	s.Many = holes > fewHoles
	for _, b := range report.Budgets(p.Report, how) {
		s.Budgets = append(s.Budgets, newDetails(b))
	}
	if err := s.draw(p.Report); err != nil {
		return err
	}
	s.Charts = spacingCharts(p.Report)
	if p.Deviations != nil && p.Scan != nil && p.Surfaces != nil {
		s.Charts = append(s.Charts, histogram(p.Deviations, how))
		s.Charts = append(s.Charts, wallCharts(p, v)...)
		s.Scene = newScene(p)
	} else {
		s.WithoutWhy = "This page was made from a saved report: the view to turn and the deviations " +
			"of the surface need the scan itself."
	}
	return execute(w, "page", s)
}

// execute writes one of the layouts.
func execute(w io.Writer, name string, data any) error {
	t := template.New("page").Funcs(template.FuncMap{"say": say, "capital": wording.Capital,
		"unit": func(s string) string { return strings.TrimPrefix(s, "unit: ") }})
	t, err := t.Parse(layout)
	if err == nil {
		_, err = t.New("summary").Parse(summaryLayout)
	}
	if err != nil {
		return err
	}
	return t.ExecuteTemplate(w, name, data)
}

// draw sets the drawing, or why there is none.
func (s *sheet) draw(rep *report.Report) error {
	p, err := drawing.NewPagePicture(rep, s.View)
	if errors.Is(err, report.ErrNoFrame) || errors.Is(err, drawing.ErrNothing) {
		s.Notes = []string{
			"There is no drawing: no face with holes, a bore or a round outline was found."}
		return nil
	}
	if err != nil {
		return err
	}
	svg, err := p.SVG()
	s.Drawing, s.Notes = template.HTML(svg), p.Notes()
	return err
}

// say is a text with a true plus-minus sign.
func say(s string) string { return strings.ReplaceAll(s, "+-", "±") }

func newDetails(s report.Section) details {
	d := details{Title: s.Title, Text: s.Text}
	if s.Table != nil {
		d.Table = newTable(s.Table, nil)
	}
	return d
}

// newTable leaves out what is empty. Rows beyond those of holes are the table's foot.
func newTable(t *wording.Table, holes []string) *table {
	t = t.Compact()
	var out table
	line := func(texts []string) (cells []cell) {
		for i, c := range texts {
			text, off := strings.CutSuffix(c, " !")
			cells = append(cells, cell{strings.TrimSpace(text), !strings.HasPrefix(t.Head[i], "<"), off})
		}
		return cells
	}
	out.Head = line(t.Head)
	for i := range out.Head {
		out.Head[i].Text = strings.TrimPrefix(t.Head[i], "<")
	}
	for k, cells := range t.Rows {
		r := row{Cells: line(cells)}
		switch last := cells[len(cells)-1]; report.Verdict(last) {
		case report.Nonconforming, report.Missing, report.Indeterminate:
			r.Mark = last
		}
		if k < len(holes) {
			r.Hole = holes[k]
		}
		if holes == nil || k < len(holes) {
			out.Rows = append(out.Rows, r)
		} else {
			out.Foot = append(out.Foot, r)
		}
	}
	return &out
}

//go:embed summary.html
var summaryLayout string

// WriteSummary writes the page of many parts: what they show together, the table of
// characteristics, and the control charts of those that are least steady or use most of their
// band. tool is program and version.
func WriteSummary(w io.Writer, s *batch.Summary, tool string) error {
	table, _ := s.Table(true, len(s.Characteristics))
	show := slices.DeleteFunc(slices.Clone(s.Characteristics),
		func(c batch.Characteristic) bool { return c.Chart == nil })
	slices.SortStableFunc(show, func(a, b batch.Characteristic) int {
		signals := func(c *batch.Characteristic) int { return len(c.Chart.Signals) }
		return cmp.Compare(signals(&b), signals(&a))
	})
	var charts []chart
	for i := range show[:min(mostControl, len(show))] {
		charts = append(charts, controlChart(&show[i]))
	}
	return execute(w, "summary", struct {
		Style             template.CSS
		Title, Plan, Tool string
		Headline, Advice  []string
		Table             details
		Charts            []chart
	}{template.CSS(style), cmp.Or(s.Part, s.Plan), s.Plan, tool, s.Headline(true), s.Advice(true),
		details{Title: "Characteristics", Text: []string{batch.Columns},
			Table: newTable(table, nil)}, charts})
}

// controlChart shows the deviations in the order of the parts, and where the chart signals.
func controlChart(c *batch.Characteristic) chart {
	k := c.Chart
	ch := chart{Title: c.Name() + ", " + c.Unit, Text: []string{fmt.Sprintf("Deviation of %d parts "+
		"in their order. Full lines: their mean, and three standard deviations from it.",
		len(k.Values))}}
	room := func(height float64) float64 { return 0.05 * height }
	g, at, level := ch.levels(min(k.Lower, slices.Min(k.Values)), max(k.Upper, slices.Max(k.Values)),
		k.Centre, room, c.Lower, c.Upper)
	level("tick", k.Lower)
	level("tick", k.Upper)
	x := func(i int) float64 {
		return chartLeft + (float64(i)+0.5)/float64(len(k.Values))*(g.width-chartLeft-4)
	}
	g.add(`<polyline class="fitted" points="`)
	for i, v := range k.Values {
		g.add("%.1f,%.1f", x(i), at(v))
	}
	g.add(`"/>`)
	for _, s := range k.Signals {
		g.add(`<circle class="dot off" cx="%.1f" cy="%.1f" r="3"/>`, x(s.At), at(k.Values[s.At]))
	}
	if len(k.Signals) > 0 {
		ch.Text = append(ch.Text, fmt.Sprintf("Dots: where the chart signals, first at %s (%s).",
			k.Signals[0].Part, k.Signals[0].Rule))
	}
	ch.SVG = g.svg(ch.Title)
	return ch
}
