package drawing

import (
	"bytes"
	"fmt"
	"io"
	"math"

	"github.com/golang/geo/r2"
	"golang.org/x/image/colornames"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"spotface/report"
)

// Picture is the plan view with what was measured written beside it.
type Picture struct {
	f             *figure
	width, height vg.Length
	lo, hi        r2.Point
	scale         vg.Length
	part          string
}

// NewPicture lays out a picture of the part.
//
// Errors: report.ErrNoFrame, ErrNothing.
func NewPicture(rep *report.Report, part string) (*Picture, error) {
	f, err := newFigure(rep, false)
	if err != nil {
		return nil, err
	}
	size := f.hi.Sub(f.lo)
	side := max(size.X, size.Y)
	border := r2.Point{X: room * side, Y: room * side}
	p := &Picture{f: f, lo: f.lo.Sub(border), hi: f.hi.Add(border), width: pictureSize, part: part}
	size = p.hi.Sub(p.lo)
	p.scale = p.width / vg.Length(size.X)
	p.height = vg.Length(size.Y)*p.scale + noteLines*1.6*normal
	return p, nil
}

// noteLines is how many lines of writing there is room for below the picture.
const noteLines = 5

// WritePNG writes the picture with the given number of pixels across.
func (p *Picture) WritePNG(w io.Writer, pixels int) error {
	dpi := int(math.Round(float64(pixels) / (float64(p.width) / float64(vg.Inch))))
	c := vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(p.width, p.height), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(colornames.White))}
	p.draw(c)
	_, err := c.WriteTo(w)
	return err
}

// SVG returns the picture as SVG, for a page.
func (p *Picture) SVG() ([]byte, error) {
	c := vgsvg.New(p.width, p.height)
	p.draw(c)
	var b bytes.Buffer
	_, err := c.WriteTo(&b)
	return b.Bytes(), err
}

func (p *Picture) draw(c vg.Canvas) {
	t := newPainter(c, p.lo, p.hi, vg.Point{Y: noteLines * 1.6 * normal}, p.scale)
	p.f.draw(t, 0.012*p.hi.Sub(p.lo).X)
	factor := p.deviations(t)
	p.labels(t)
	p.sizes(t)
	p.axes(t)
	p.notes(t, factor)
}

// off is a hole's deviation from the pattern, mm: along the circle and outward.
type off struct {
	at     r2.Point
	d      r2.Point
	stands bool
}

// deviations draws where the holes are off from the pattern, enlarged; it returns the factor.
func (p *Picture) deviations(t *painter) float64 {
	var list []off
	longest := 0.0
	for k := range p.f.rep.BoltCircles {
		b := &p.f.rep.BoltCircles[k]
		centre := r2.Point{X: b.Centre[0], Y: b.Centre[1]}
		if b.Standouts == nil {
			continue
		}
		for _, s := range b.Standouts.Holes {
			h := p.f.hole(s.Hole)
			if h == nil {
				continue
			}
			out := h.at.Sub(centre).Normalize()
			d := out.Ortho().Mul(s.Along).Add(out.Mul(s.Out))
			longest = max(longest, d.Norm())
			list = append(list, off{h.at, d, true})
		}
	}
	if longest == 0 {
		return 0
	}
	factor := nice(arrowShare * p.hi.Sub(p.lo).X / longest)
	for _, o := range list {
		tip := o.at.Add(o.d.Mul(factor))
		t.line(wrong, o.at, tip)
		back := o.d.Normalize().Mul(-0.012 * p.hi.Sub(p.lo).X)
		for _, side := range [...]float64{0.4, -0.4} {
			t.line(wrong, tip, tip.Add(back).Add(back.Ortho().Mul(side)))
		}
	}
	return factor
}

// nice is the largest of 1, 2, 5 times a power of ten that is not above v.
func nice(v float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range [...]float64{5, 2} {
		if m*power <= v {
			return m * power
		}
	}
	return power
}

func (f *figure) hole(id string) *hole {
	for i := range f.holes {
		if f.holes[i].id == id {
			return &f.holes[i]
		}
	}
	return nil
}

// labels writes each hole's number, and its angle and how far it is off beside it.
func (p *Picture) labels(t *painter) {
	done := map[string]bool{}
	for k := range p.f.rep.BoltCircles {
		b := &p.f.rep.BoltCircles[k]
		centre := r2.Point{X: b.Centre[0], Y: b.Centre[1]}
		for _, c := range b.Clocking {
			h := p.f.hole(c.Hole)
			if h == nil {
				continue
			}
			lines := []string{c.Hole, fmt.Sprintf("%.3f\u00b0", c.AngleDeg)}
			if c.FromPatternDeg != nil {
				lines = append(lines, fmt.Sprintf("%+.3f\u00b0 \u00b1%.3f", *c.FromPatternDeg, c.FromPatternUncertaintyDeg))
			}
			p.label(t, h, h.at.Sub(centre), lines)
			done[c.Hole] = true
		}
	}
	for i := range p.f.holes {
		if h := &p.f.holes[i]; !done[h.id] {
			p.label(t, h, h.at, []string{h.id, fmt.Sprintf("\u00d8%.2f", 2*h.radius)})
		}
	}
}

// label writes lines beyond the part's outline, with a line from the hole to them.
func (p *Picture) label(t *painter, h *hole, out r2.Point, lines []string) {
	if out.Norm() == 0 {
		out = r2.Point{X: 1}
	}
	out = out.Normalize()
	unit := p.hi.Sub(p.lo).X
	from := h.radius + h.along.Norm() + 0.025*unit
	to := from
	for _, c := range p.f.edges {
		// Where the ray from the hole leaves the circle: |h + s·out - c| = r.
		d := h.at.Sub(c.centre)
		b := d.Dot(out)
		if s := b*b - d.Dot(d) + c.radius*c.radius; s > 0 {
			to = max(to, math.Sqrt(s)-b+0.012*unit)
		}
	}
	if to > from {
		t.line(narrow, h.at.Add(out.Mul(from)), h.at.Add(out.Mul(to)))
	}
	at := t.at(h.at.Add(out.Mul(to + 0.008*unit)))
	x := (1 - out.X) / 2
	lineHeight := 1.35 * small
	top := at.Y + vg.Length(len(lines))*lineHeight*vg.Length(1+out.Y)/2
	for i, s := range lines {
		t.write(vg.Point{X: at.X, Y: top - vg.Length(i+1)*lineHeight}, small, i == 0, x, 0, s)
	}
}

// sizes writes the diameter of each circle inside it, right of its lowest point.
func (p *Picture) sizes(t *painter) {
	gap := 0.008 * p.hi.Sub(p.lo).X
	for _, c := range append(p.f.edges, p.f.pitches...) {
		s := fmt.Sprintf("%s \u00d8%.3f \u00b1%.3f", c.id, 2*c.radius, c.u)
		face := t.face(small, false)
		right := gap + float64(face.Width(s)/p.scale)
		down := math.Sqrt(max(0, c.radius*c.radius-right*right)) - gap
		t.write(t.at(c.centre.Add(r2.Point{X: gap, Y: -down})), small, false, 0, 0, s)
	}
}

// axes draws the frame's axes in a corner.
func (p *Picture) axes(t *painter) {
	length := 0.06 * p.hi.Sub(p.lo).X
	from := p.lo.Add(r2.Point{X: 0.03, Y: 0.03}.Mul(p.hi.Sub(p.lo).X))
	for _, a := range [...]struct {
		name string
		to   r2.Point
	}{{"X", r2.Point{X: length}}, {"Y", r2.Point{Y: length}}} {
		tip := from.Add(a.to)
		t.line(narrow, from, tip)
		back := a.to.Mul(-0.2)
		t.line(narrow, tip, tip.Add(back).Add(back.Ortho().Mul(0.35)))
		t.line(narrow, tip, tip.Add(back).Sub(back.Ortho().Mul(0.35)))
		t.write(t.at(tip.Add(a.to.Mul(0.15))), small, false, 0.5, 0.5, a.name)
	}
}

// notes writes what the picture is of, below it.
func (p *Picture) notes(t *painter, factor float64) {
	rep := p.f.rep
	var lines []string
	for k := range rep.BoltCircles {
		b := &rep.BoltCircles[k]
		lines = append(lines, fmt.Sprintf("%s: %d holes on a bolt circle of %.3f \u00b1%.3f mm", b.ID, len(b.Holes), b.PitchDiameter, b.Uncertainty.PitchDiameter))
	}
	lines = append(lines, fmt.Sprintf("Looking at the mounting face %s: angles run counter-clockwise; the mating part sees them clockwise.", rep.Frame.Face))
	if factor > 0 {
		lines = append(lines, fmt.Sprintf("Arrows: how far a hole is off, enlarged %g times. Second figure: off from the pattern.", factor))
	}
	lines = append(lines, "Measured from a scan, millimetres. A scan approves nothing.")
	lines = lines[max(0, len(lines)-noteLines+1):]
	y := vg.Length(noteLines-1) * 1.6 * normal
	t.write(vg.Point{X: normal, Y: y}, large, true, 0, 0, p.part)
	for i, s := range lines {
		t.write(vg.Point{X: normal, Y: y - vg.Length(i+1)*1.5*normal}, small*1.15, false, 0, 0, s)
	}
}
