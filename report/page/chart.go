package page

import (
	"cmp"
	"fmt"
	"html"
	"html/template"
	"math"
	"slices"
	"strings"

	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh/geom"
	"spotface/report"
	"spotface/report/deviation"
	"spotface/report/drawing"
	"spotface/report/wording"
)

// chart is a small picture with what it says in words.
type chart struct {
	Title string
	Text  []string
	SVG   template.HTML
}

// canvas gathers an SVG of a fixed size.
type canvas struct {
	strings.Builder
	width, height float64
}

func (c *canvas) add(format string, args ...any) { fmt.Fprintf(c, format+"\n", args...) }

func (c *canvas) line(class string, x0, y0, x1, y1 float64) {
	c.add(`<line class="%s" x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f"/>`, class, x0, y0, x1, y1)
}

func (c *canvas) rect(class string, x, y, width, height float64, colour string) {
	c.add(`<rect class="%s" x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="%s"/>`, class,
		x, y, width, height, colour)
}

func (c *canvas) text(class string, x, y float64, s string) {
	c.add(`<text class="%s" x="%.1f" y="%.1f">%s</text>`, class, x, y, html.EscapeString(s))
}

func (c *canvas) svg(label string) template.HTML {
	return template.HTML(fmt.Sprintf(
		"<svg class=\"chart\" viewBox=\"0 0 %g %g\" role=\"img\" aria-label=\"%s\">\n%s</svg>",
		c.width, c.height, html.EscapeString(label), c.String()))
}

// Sizes of the charts, in units of their lettering of 12.
const (
	chartWidth, chartHeight = 440.0, 210.0
	chartLeft, chartBottom  = 48.0, 34.0
)

// axis draws level lines at even values and returns where a value lies.
func (c *canvas) axis(lo, hi float64, sign bool) func(float64) float64 {
	at := func(v float64) float64 { return 8 + (hi-v)/(hi-lo)*(c.height-chartBottom-8) }
	step := drawing.Nice((hi - lo) / 3)
	for k := math.Ceil(lo / step); k*step <= hi; k++ {
		v := k * step
		c.line("level", chartLeft, at(v), c.width-4, at(v))
		c.text("right", chartLeft-5, at(v)+4, label(v, step, sign))
	}
	return at
}

// label is the value of a level, as exact as the steps between levels ask for.
func label(v, step float64, sign bool) string {
	s := wording.Fixed(v, max(0, -int(math.Floor(math.Log10(step)+1e-9))))
	if sign && v > 0 {
		return "+" + s
	}
	return s
}

// levels starts a chart of deviations from lo to hi, with a line where they are none, and adds
// the plan's band to it and to what is said of it. level draws a line across.
func (ch *chart) levels(lo, hi, none float64, room func(height float64) float64,
	band ...*float64) (c *canvas, at func(v float64) float64, level func(class string, v float64)) {
	band = slices.DeleteFunc(band, func(limit *float64) bool { return limit == nil })
	for _, limit := range band {
		lo, hi = min(lo, *limit), max(hi, *limit)
	}
	if len(band) > 0 {
		ch.Text = append(ch.Text, "Broken lines: the plan's band.")
	}
	c = &canvas{width: chartWidth, height: chartHeight}
	at = c.axis(lo-room(hi-lo), hi+room(hi-lo), true)
	level = func(class string, v float64) { c.line(class, chartLeft, at(v), c.width-4, at(v)) }
	level("zero", none)
	for _, limit := range band {
		level("band", *limit)
	}
	return c, at, level
}

// spacingCharts show how far the angle from hole to hole is off, with its uncertainty and the
// plan's band.
func spacingCharts(rep *report.Report) []chart {
	var out []chart
	for _, b := range rep.BoltCircles {
		list := slices.DeleteFunc(slices.Clone(b.Spacing),
			func(s report.Spacing) bool { return s.DeviationDeg == nil })
		if len(list) == 0 || b.OtherReadingOf != "" {
			continue
		}
		lo, hi := 0.0, 0.0
		for _, s := range list {
			lo, hi = min(lo, *s.DeviationDeg-s.UncertaintyDeg), max(hi, *s.DeviationDeg+s.UncertaintyDeg)
		}
		var band report.Result // the plan has one for all angles from hole to hole
		if k := slices.IndexFunc(rep.Results, func(r report.Result) bool {
			return r.Characteristic == report.SpacingAngle && strings.HasPrefix(r.Feature, b.ID+"/")
		}); k >= 0 {
			band = rep.Results[k]
		}
		ch := chart{Title: "Hole to hole, " + b.ID + ": off, degrees", Text: []string{
			"Each angle from a hole to the next, less its nominal, with its 95 % uncertainty."}}
		room := func(height float64) float64 { return max(0.08*height, leastRange) }
		c, at, _ := ch.levels(lo, hi, 0, room, band.Lower, band.Upper)
		pitch := (c.width - chartLeft - 4) / float64(len(list))
		every := 1 + len(list)/9
		for k, s := range list {
			x := chartLeft + pitch*(float64(k)+0.5)
			class := "dot"
			beyond := math.Abs(*s.DeviationDeg) > s.UncertaintyDeg
			if s.Verdict == report.Nonconforming || s.Verdict == "" && beyond {
				class = "dot off"
			}
			c.line(class, x, at(*s.DeviationDeg-s.UncertaintyDeg), x, at(*s.DeviationDeg+s.UncertaintyDeg))
			c.add(`<circle class="%s" cx="%.1f" cy="%.1f" r="3"/>`, class, x, at(*s.DeviationDeg))
			if k%every == 0 {
				c.text("middle", x, c.height-chartBottom+18, s.From+"–"+s.To)
			}
		}
		ch.SVG = c.svg(ch.Title)
		out = append(out, ch)
	}
	return out
}

// histogram is the share of the scan's points by their deviation.
func histogram(m *deviation.Map, how report.ViewOptions) chart {
	unit, mm, decimals := how.Lengths()
	outer := m.Outer()
	var count [bins]int
	most, beyond := 0, 0
	for _, d := range m.Distance {
		if math.IsNaN(float64(d)) {
			continue
		}
		k := int(math.Floor((float64(d)/outer + 1) / 2 * bins))
		if k < 0 || k >= bins {
			beyond++
			continue
		}
		count[k]++
		most = max(most, count[k])
	}
	title := "Deviations of the surface, " + unit
	out := chart{Title: title, Text: []string{m.Words(how) + ". Outside the material is positive. " +
		"Edges, which a scanner rounds, are counted."}}
	if most == 0 {
		return out
	}
	var worst []string
	for _, w := range m.Worst {
		worst = append(worst, fmt.Sprintf("%s %s", w.Surface, wording.Signed(w.Deviation/mm, decimals)))
	}
	out.Text = append(out.Text, "Farthest off on each surface: "+strings.Join(worst, ", ")+".")
	share := func(n int) float64 { return 100 * float64(n) / float64(m.Modelled) } // per cent
	if beyond > 0 {
		out.Text = append(out.Text, fmt.Sprintf(
			"%.2f %% of the points lie beyond the ends of the chart.", share(beyond)))
	}
	c := &canvas{width: chartWidth, height: chartHeight}
	at := c.axis(0, 1.05*share(most), false)
	x := func(d float64) float64 { return chartLeft + (d/outer+1)/2*(c.width-chartLeft-4) }
	legend := m.Legend(how)
	for k, n := range count {
		lo, hi := (2*float64(k)/bins-1)*outer, (2*float64(k+1)/bins-1)*outer
		y := at(share(n))
		c.rect("bar", x(lo), y, x(hi)-x(lo), at(0)-y, legend[m.ClassOf((lo+hi)/2)].Colour)
	}
	ends := outer / mm
	step := drawing.Nice(ends / 2)
	for k := math.Ceil(-ends / step); k*step <= ends; k++ {
		c.line("tick", x(k*step*mm), at(0), x(k*step*mm), at(0)+4)
		c.text("middle", x(k*step*mm), at(0)+18, label(k*step, step, true))
	}
	c.text("", chartLeft+4, 18, "% of points")
	out.SVG = c.svg(title)
	return out
}

// wallCharts show the walls of doubtful holes: those that are off, that the plan does not pass
// or that were seen in part.
func wallCharts(p Page, v *report.View) []chart {
	doubtful := map[string]bool{}
	for _, it := range v.Items() {
		doubtful[it.ID] = it.Turned || it.Shifted
	}
	for _, r := range p.Report.Results {
		if r.Verdict == report.Indeterminate || r.Verdict == report.Nonconforming {
			_, hole, _ := strings.Cut(r.Feature, "/")
			doubtful[cmp.Or(r.Matched, hole, r.Feature)] = true
		}
	}
	var out []chart
	for _, h := range p.Report.Holes {
		if doubtful[h.ID] || h.ArcDeg > 0 && h.ArcDeg < seenInPart {
			if c, ok := wallChart(p, h); ok && len(out) < mostWalls {
				out = append(out, c)
			}
		}
	}
	return out
}

// wallChart draws a hole's wall looking along its axis, with the deviations enlarged, and
// unrolled.
func wallChart(p Page, h report.Hole) (chart, bool) {
	k := slices.IndexFunc(p.Surfaces.Surfaces, func(s segment.Surface) bool { return s.ID == h.Wall })
	if k < 0 || len(p.Surfaces.Surfaces[k].Points) == 0 {
		return chart{}, false
	}
	s := &p.Surfaces.Surfaces[k]
	// The wall in the scan's own position: the report's may be in the frame.
	wall, ok := s.Fit.Surface().(fit.Cylinder)
	if !ok {
		return chart{}, false
	}
	// Angles from the frame's X, counter-clockwise looking at the face.
	axis := wall.Axis
	right, up := geom.Basis(axis)
	if f := p.Report.Frame; f != nil && math.Abs(axis.Dot(f.Z.R3())) > 0.1 {
		axis = axis.Mul(math.Copysign(1, axis.Dot(f.Z.R3())))
		up = axis.Cross(f.X.R3()).Normalize()
		right = up.Cross(axis)
	}
	type point struct{ angle, depth, d float64 }
	var pts []point
	every := 1 + len(s.Points)/wallPoints
	var sizes []float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := 0; i < len(s.Points); i += every {
		at := int(s.Points[i])
		d := float64(p.Deviations.Distance[at])
		q := p.Scan.Point(at).Sub(wall.Point)
		depth := q.Dot(axis)
		pts = append(pts, point{math.Atan2(q.Dot(up), q.Dot(right)), depth, d})
		sizes = append(sizes, math.Abs(d))
		lo, hi = min(lo, depth), max(hi, depth)
	}
	slices.Sort(sizes)
	outer := sizes[int(wallOuter*float64(len(sizes)-1))]
	if outer == 0 || !(hi > lo) {
		return chart{}, false
	}
	factor := drawing.Nice(wallShare * wall.Radius / outer)
	const middle, radius = 100.0, 66.0
	const left, width, top, height = 232.0, 200.0, 24.0, 140.0
	c := &canvas{width: chartWidth, height: chartHeight}
	c.add(`<circle class="fitted" cx="%g" cy="%g" r="%g"/>`, middle, middle, radius)
	c.line("level", left, top+height, left+width, top+height)
	legend := p.Deviations.Legend(p.how())
	unit, mm, decimals := p.how().Lengths()
	for _, q := range pts {
		colour := legend[p.Deviations.ClassOf(q.d)].Colour
		// Outside the material of a hole is towards its axis.
		r := radius * min(1.45, max(0, 1-factor*q.d/wall.Radius))
		sin, cos := math.Sincos(q.angle)
		c.add(`<circle cx="%.1f" cy="%.1f" r="1.5" fill="%s"/>`, middle+r*cos, middle-r*sin, colour)
		deg := math.Mod(q.angle*180/math.Pi+360, 360)
		down := (hi - q.depth) / (hi - lo)
		c.rect("", left+deg/360*width-1.5, top+down*height-1.5, 3, 3, colour)
	}
	for deg := 0; deg <= 360; deg += 90 {
		x := left + float64(deg)/360*width
		c.line("tick", x, top+height, x, top+height+4)
		c.text("middle", x, top+height+18, fmt.Sprintf("%d°", deg))
	}
	c.text("", left, top-8, fmt.Sprintf("unrolled, %.*f %s deep", decimals-2, (hi-lo)/mm, unit))
	c.text("middle", middle, c.height-6, fmt.Sprintf("enlarged %g times", factor))
	title := fmt.Sprintf("Wall of %s (%s)", h.ID, h.Wall)
	text := fmt.Sprintf("The circle is the one fitted to the wall. Its points lie inside or outside "+
		"of it, %g times enlarged, and are laid out flat beside it, the face on top. "+
		"Angles as in the drawing.", factor)
	if every > 1 {
		text += fmt.Sprintf(" One point of %d is shown.", every)
	}
	return chart{Title: title, Text: []string{text}, SVG: c.svg(title)}, true
}
