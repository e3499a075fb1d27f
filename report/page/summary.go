package page

import (
	"cmp"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"slices"

	"spotface/report/batch"
)

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
			Table: new(newTable(table, nil))}, charts})
}

// controlChart shows the deviations in the order of the parts, and where the chart signals.
func controlChart(c *batch.Characteristic) chart {
	k := c.Chart
	lo, hi := min(k.Lower, slices.Min(k.Values)), max(k.Upper, slices.Max(k.Values))
	text := []string{fmt.Sprintf("Deviation of %d parts in their order. Full lines: their mean, and "+
		"three standard deviations from it.", len(k.Values))}
	var limits []float64
	for _, l := range []*float64{c.Lower, c.Upper} {
		if l != nil {
			limits = append(limits, *l)
			lo, hi = min(lo, *l), max(hi, *l)
		}
	}
	if len(limits) > 0 {
		text = append(text, "Broken lines: the plan's band.")
	}
	room := 0.05 * (hi - lo)
	g := &canvas{width: chartWidth, height: chartHeight}
	at := g.axis(lo-room, hi+room, true)
	level := func(class string, v float64) { g.line(class, chartLeft, at(v), g.width-4, at(v)) }
	level("zero", k.Centre)
	level("tick", k.Lower)
	level("tick", k.Upper)
	for _, l := range limits {
		level("band", l)
	}
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
		text = append(text, fmt.Sprintf("Dots: where the chart signals, first at %s (%s).",
			k.Signals[0].Part, k.Signals[0].Rule))
	}
	title := c.Name() + ", " + c.Unit
	return chart{Title: title, Text: text, SVG: g.svg(title)}
}
