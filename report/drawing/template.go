package drawing

import (
	"cmp"
	"fmt"
	"io"
	"math"

	"github.com/golang/geo/r2"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"

	"spotface/report"
)

// TemplateOptions say how a template is printed.
type TemplateOptions struct {
	Sheet   Sheet // the zero value is A4
	Mirror  bool  // for the mating part's face
	Nominal bool  // the report has a plan's nominals in place of what was measured
	Part    string
}

// Template is a plan view at 1:1 on one sheet of paper or more.
type Template struct {
	f      *figure
	opt    TemplateOptions
	nx, ny int
	// step is from sheet to sheet and overlap what neighbours share, mm.
	step    r2.Point
	overlap float64
}

// NewTemplate lays the part out on as many sheets as it needs.
//
// Errors: report.ErrNoFrame, ErrNothing.
func NewTemplate(rep *report.Report, opt TemplateOptions) (*Template, error) {
	view, err := report.NewView(rep, report.ViewOptions{})
	if err != nil {
		return nil, err
	}
	f, err := newFigure(rep, view, opt.Mirror)
	if err != nil {
		return nil, err
	}
	if opt.Sheet == (Sheet{}) {
		opt.Sheet = Sheets()[0]
	}
	f.box = f.box.ExpandedByMargin(crossArm + 1)
	t := &Template{f: f, opt: opt, overlap: minOverlap}
	for _, h := range f.holes {
		t.overlap = min(maxOverlap, max(t.overlap, 2*(h.radius+h.along.Norm()+crossArm)+1))
	}
	use := r2.Point{X: float64(opt.Sheet.Width/mm) - 2*margin,
		Y: float64(opt.Sheet.Height/mm) - 2*margin - footer}
	t.step = use.Sub(r2.Point{X: t.overlap, Y: t.overlap})
	size := f.box.Size()
	t.nx = max(1, int(math.Ceil((size.X-t.overlap)/t.step.X)))
	t.ny = max(1, int(math.Ceil((size.Y-t.overlap)/t.step.Y)))
	// In the middle of the sheets.
	all := r2.Point{X: float64(t.nx)*t.step.X + t.overlap, Y: float64(t.ny)*t.step.Y + t.overlap}
	f.box = r2.RectFromCenterSize(f.box.Center(), all)
	return t, nil
}

// Sheets is the number of sheets.
func (t *Template) Sheets() int { return t.nx * t.ny }

// WritePDF writes one page a sheet.
func (t *Template) WritePDF(w io.Writer) error {
	c := vgpdf.New(t.opt.Sheet.Width, t.opt.Sheet.Height)
	for i := range t.Sheets() {
		if i > 0 {
			c.NextPage()
		}
		t.sheet(c, i)
	}
	_, err := c.WriteTo(w)
	return err
}

// WriteSVG writes all sheets in one picture, one above the other.
func (t *Template) WriteSVG(w io.Writer) error {
	// Whole points: the library writes five digits, which is a hundredth of a point within a
	// sheet, but not beyond a thousand points.
	height := vg.Length(math.Ceil(t.opt.Sheet.Height.Points()))
	c := vgsvg.New(t.opt.Sheet.Width, height*vg.Length(t.Sheets()))
	for i := range t.Sheets() {
		c.Push()
		c.Translate(vg.Point{Y: height * vg.Length(t.Sheets()-1-i)})
		t.sheet(c, i)
		c.Pop()
	}
	_, err := c.WriteTo(w)
	return err
}

// sheet draws sheet i, counted along rows from the lower left.
func (t *Template) sheet(c vg.Canvas, i int) {
	column, row := i%t.nx, i/t.nx
	lo := t.f.box.Lo().Add(r2.Point{X: float64(column) * t.step.X, Y: float64(row) * t.step.Y})
	window := r2.RectFromPoints(lo, lo.Add(t.step).Add(r2.Point{X: t.overlap, Y: t.overlap}))
	p := newPainter(c, window, vg.Point{X: margin * mm, Y: (margin + footer) * mm}, mm)
	t.f.draw(p, crossArm)
	for _, h := range t.f.holes {
		if at := h.at.Add(r2.Point{X: h.radius + 1.2, Y: h.radius + 1.2}); window.ContainsPoint(at) {
			p.write(p.at(at), normal, false, 0, 0, h.id)
		}
	}
	t.register(p, column, row)
	t.notes(p, i)
}

// register draws a cross in the middle of each overlap's ends, which lies on the crosses of
// the neighbouring sheets when they are glued.
func (t *Template) register(p *painter, column, row int) {
	half := t.overlap / 2
	for dx := range 2 {
		for dy := range 2 {
			// No sheet is beyond the first and last of a row and of a column.
			if (column+dx)%t.nx == 0 && (row+dy)%t.ny == 0 {
				continue
			}
			at := p.lo.Add(r2.Point{X: half + float64(dx)*t.step.X, Y: half + float64(dy)*t.step.Y})
			p.cross(narrow, at, 4)
			p.outline(narrow, at, r2.Point{}, 2)
		}
	}
}

// notes draws the bars and what must be read before use.
func (t *Template) notes(p *painter, i int) {
	sheet := r2.Point{X: float64(t.opt.Sheet.Width / mm), Y: float64(t.opt.Sheet.Height / mm)}
	paper := newPainter(p.Canvas.Canvas, r2.RectFromPoints(r2.Point{}, sheet), vg.Point{}, mm)
	corner := r2.Point{X: margin, Y: margin + 3}
	paper.bar(corner, r2.Point{X: 1})
	paper.bar(r2.Point{X: margin - 2.5, Y: margin + footer + 3}, r2.Point{Y: 1})
	face := "Looking at the mounting face"
	if t.opt.Mirror {
		face = "MIRRORED: looking at the mating part's face"
	}
	from := "Measured from a scan"
	if t.opt.Nominal {
		from = "NOMINALS of the plan in place of what was measured"
	}
	f := t.f.rep.Frame
	lines := []string{
		fmt.Sprintf("%s   1:1   sheet %d of %d (%s)", t.opt.Part, i+1, t.Sheets(), t.opt.Sheet.Name),
		fmt.Sprintf("%s %s; X runs to the right from the centre of %s through %s.", face, f.Face,
			cmp.Or(f.Axis, "the bolt circle"), cmp.Or(f.Clock, "the first hole")),
		from + "; a scan approves nothing. Print at 100 %, without fitting to the page.",
		fmt.Sprintf("Measure both bars first: each must be %d mm. If one is not, do not use this "+
			"sheet.", bar),
	}
	for k, s := range lines {
		at := r2.Point{X: margin, Y: margin + 8 + 5.5*float64(len(lines)-1-k)}
		paper.write(paper.at(at), normal*0.9, false, 0, 0, s)
	}
}

// bar draws a length to be measured.
func (p *painter) bar(from, along r2.Point) {
	p.line(narrow, from, from.Add(along.Mul(bar)))
	for _, d := range [...]float64{0, bar} {
		at := from.Add(along.Mul(d))
		p.line(narrow, at.Sub(along.Ortho().Mul(1.5)), at.Add(along.Ortho().Mul(1.5)))
	}
}
