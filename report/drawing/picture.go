package drawing

import (
	"bytes"
	"cmp"
	"fmt"
	"html"
	"image"
	"image/color"
	imagedraw "image/draw"
	"image/png"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/golang/geo/r2"
	"golang.org/x/image/colornames"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"spotface/report"
)

// Picture is the plan view with what was measured written beside it.
type Picture struct {
	f             *figure
	width, height vg.Length
	notesHeight   vg.Length // of the writing below
	box           r2.Rect   // mm of the part
	scale         vg.Length
	part          string
}

// NewPicture lays out a picture of the part.
//
// Errors: report.ErrNoFrame, ErrNothing.
func NewPicture(rep *report.Report, part string) (*Picture, error) {
	view, err := report.NewView(rep, report.ViewOptions{})
	if err != nil {
		return nil, err
	}
	return newPicture(rep, view, part, pictureSize, room, noteLines*1.6*normal)
}

// NewPagePicture is the picture for a page: so small beside its lettering that it can be
// read on a phone and in print. Lengths are in the view's unit. Notes are left to the page.
//
// Errors: report.ErrNoFrame, ErrNothing.
func NewPagePicture(rep *report.Report, view *report.View) (*Picture, error) {
	return newPicture(rep, view, "", pagePictureSize, pageRoom, 0)
}

func newPicture(rep *report.Report, view *report.View, part string, width vg.Length,
	room float64, notes vg.Length) (*Picture, error) {
	f, err := newFigure(rep, view, false)
	if err != nil {
		return nil, err
	}
	size := f.box.Size()
	side := max(size.X, size.Y)
	p := &Picture{f: f, box: f.box.Expanded(r2.Point{X: room * side, Y: 0.75 * room * side}),
		width: width, notesHeight: notes, part: part}
	size = p.box.Size()
	p.scale = p.width / vg.Length(size.X)
	p.height = vg.Length(size.Y)*p.scale + p.notesHeight
	return p, nil
}

// noteLines is how many lines of writing there is room for below the picture.
const noteLines = 6

// WritePNG writes the picture with the given number of pixels across.
func (p *Picture) WritePNG(w io.Writer, pixels int) error {
	dpi := int(math.Round(float64(pixels) / (float64(p.width) / float64(vg.Inch))))
	c := vgimg.NewWith(vgimg.UseWH(p.width, p.height), vgimg.UseDPI(dpi),
		vgimg.UseBackgroundColor(colornames.White))
	p.draw(c)
	// Few shades of two inks make a file a third as large.
	few := image.NewPaletted(c.Image().Bounds(), nil)
	for k := range shades {
		few.Palette = append(few.Palette, blend(color.White, color.Black, k),
			blend(color.White, wrong.Color, k), blend(wrong.Color, color.Black, k))
	}
	imagedraw.Draw(few, few.Rect, c.Image(), few.Rect.Min, imagedraw.Src)
	return png.Encode(w, few)
}

// blend is a colour between two, b by k of the shades.
func blend(a, b color.Color, k int) color.Color {
	ar, ag, ab, _ := a.RGBA()
	br, bg, bb, _ := b.RGBA()
	mix := func(a, b uint32) uint16 { return uint16((int(a)*(shades-1-k) + int(b)*k) / (shades - 1)) }
	return color.RGBA64{mix(ar, br), mix(ag, bg), mix(ab, bb), 0xffff}
}

// SVG returns the picture as an element for a page, in the colour of the page's writing and
// what is off in its colour --off.
// Each hole is covered by an invisible circle, a button with data-hole as its id.
func (p *Picture) SVG() ([]byte, error) {
	c := vgsvg.New(p.width, p.height)
	t := p.draw(c)
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return nil, err
	}
	_, body, _ := bytes.Cut(b.Bytes(), []byte("\n<g "))
	body = bytes.ReplaceAll(body, []byte("#000000"), []byte("currentColor"))
	body = bytes.ReplaceAll(body, []byte("#B34A00"), []byte("var(--off,#B34A00)"))
	end := bytes.LastIndex(body, []byte("</g>"))
	var out bytes.Buffer
	fmt.Fprintf(&out, "<svg class=\"drawing\" viewBox=\"0 0 %.6g %.6g\" role=\"group\" "+
		"aria-label=\"Drawing of the holes\">\n<g ", p.width.Points(), p.height.Points())
	out.Write(body[:end])
	for _, h := range p.f.holes {
		at := t.at(h.at)
		r := vg.Length(h.radius+h.along.Norm())*p.scale + touch
		fmt.Fprintf(&out, "<circle cx=\"%.6g\" cy=\"%.6g\" r=\"%.6g\" data-hole=\"%[4]s\" "+
			"role=\"button\" tabindex=\"0\" aria-label=\"%[4]s\"/>\n",
			at.X.Points(), at.Y.Points(), r.Points(), html.EscapeString(h.id))
	}
	out.Write(body[end:])
	return out.Bytes(), nil
}

func (p *Picture) draw(c vg.Canvas) *painter {
	t := newPainter(c, p.box, vg.Point{Y: p.notesHeight}, p.scale)
	arm := 0.012 * p.box.X.Length()
	p.f.draw(t, arm)
	list, factor := p.offs()
	for _, o := range list {
		t.arrow(wrong, o.at, o.at.Add(o.d.Mul(factor)), o.d.Normalize().Mul(-arm), 0.4)
	}
	p.labels(t)
	p.sizes(t)
	p.axes(t)
	if p.notesHeight > 0 {
		p.notes(t)
	}
	return t
}

// off is a hole's deviation from the pattern, mm: along the circle and outward.
type off struct{ at, d r2.Point }

// offs lists the holes that are off from the pattern, and by what factor they are enlarged;
// zero where none is.
func (p *Picture) offs() (list []off, factor float64) {
	longest := 0.0
	for _, b := range p.f.rep.BoltCircles {
		if b.Standouts == nil {
			continue
		}
		for _, s := range b.Standouts.Holes {
			for _, h := range p.f.holes {
				if h.id == s.Hole {
					out := h.at.Sub(r2.Point{X: b.Centre[0], Y: b.Centre[1]}).Normalize()
					list = append(list, off{h.at, out.Ortho().Mul(s.Along).Add(out.Mul(s.Out))})
					longest = max(longest, list[len(list)-1].d.Norm())
				}
			}
		}
	}
	if longest == 0 {
		return nil, 0
	}
	return list, Nice(arrowShare * p.box.X.Length() / longest)
}

// arrow draws a line with a head, whose middle is back from the tip.
func (p *painter) arrow(n draw.LineStyle, from, tip, back r2.Point, slope float64) {
	p.line(n, from, tip)
	for _, side := range [...]float64{slope, -slope} {
		p.line(n, tip, tip.Add(back).Add(back.Ortho().Mul(side)))
	}
}

// Nice is the largest of 1, 2, 5 times a power of ten that is not above v.
func Nice(v float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range [...]float64{5, 2} {
		if m*power <= v {
			return m * power
		}
	}
	return power
}

// labels writes each hole's number, and what is said of it.
func (p *Picture) labels(t *painter) {
	about := map[string]r2.Point{} // the middle of its bolt circle
	for _, b := range p.f.rep.BoltCircles {
		for _, c := range b.Clocking {
			about[c.Hole] = r2.Point{X: b.Centre[0], Y: b.Centre[1]}
		}
	}
	for i := range p.f.holes {
		h := &p.f.holes[i]
		lines := append([]string{h.id}, h.says...)
		if off := strings.HasSuffix(lines[len(lines)-1], "!"); len(p.f.holes) > mostLabelled && !off {
			lines = lines[:1]
		}
		p.label(t, h, h.at.Sub(about[h.id]), lines)
	}
}

// label writes lines beyond the part's outline, with a line from the hole to them.
func (p *Picture) label(t *painter, h *hole, out r2.Point, lines []string) {
	if out.Norm() == 0 {
		out = r2.Point{X: 1}
	}
	out = out.Normalize()
	unit := p.box.X.Length()
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
	// The lines' box, as it lies beside the point that it is written at.
	x := (1 - out.X) / 2
	lineHeight := 1.35 * small
	box := r2.Point{Y: float64(vg.Length(len(lines)) * lineHeight / p.scale)}
	for i, s := range lines {
		face := t.face(small, i == 0)
		box.X = max(box.X, float64(face.Width(s)/p.scale))
	}
	low := r2.Point{X: -x * box.X, Y: -(1 - out.Y) / 2 * box.Y}
	for p.f.crosses(h.at.Add(out.Mul(to+0.008*unit)).Add(low), box) {
		to += 0.004 * unit
	}
	if to > from {
		t.line(narrow, h.at.Add(out.Mul(from)), h.at.Add(out.Mul(to)))
	}
	at := t.at(h.at.Add(out.Mul(to + 0.008*unit)))
	top := at.Y + vg.Length(len(lines))*lineHeight*vg.Length(1+out.Y)/2
	for i, s := range lines {
		t.write(vg.Point{X: at.X, Y: top - vg.Length(i+1)*lineHeight}, small, i == 0, x, 0, s)
	}
}

// crosses reports whether an edge, with a little room beyond it, holds some of a box's
// corners but not all.
func (f *figure) crosses(low, box r2.Point) bool {
	for _, c := range slices.Concat(f.edges, f.pitches) {
		inside := 0
		for _, corner := range r2.RectFromPoints(low, low.Add(box)).Vertices() {
			if corner.Sub(c.centre).Norm() < 1.03*c.radius {
				inside++
			}
		}
		if inside > 0 && inside < 4 {
			return true
		}
	}
	return false
}

// sizes writes the diameter of each circle that has a name inside it, right of its lowest
// point; a page has the diameters beside its picture, and there is only the name. Where two
// would lie on each other, the inner one is left out.
func (p *Picture) sizes(t *painter) {
	gap := 0.008 * p.box.X.Length()
	list := slices.Concat(p.f.edges, p.f.pitches)
	slices.SortStableFunc(list, func(a, b ring) int { return cmp.Compare(b.radius, a.radius) })
	var done []vg.Point
	for _, c := range list {
		s := c.id + " " + c.size
		if p.notesHeight == 0 {
			s = c.id
		}
		face := t.face(small, false)
		right := gap + float64(face.Width(s)/p.scale)
		down := math.Sqrt(max(0, c.radius*c.radius-right*right)) - gap
		at := t.at(c.centre.Add(r2.Point{X: gap, Y: -down}))
		covers := func(q vg.Point) bool {
			d := q.Sub(at)
			return max(d.X, -d.X) < face.Width(s) && max(d.Y, -d.Y) < small
		}
		if c.id == "" || slices.ContainsFunc(done, covers) {
			continue
		}
		if p.notesHeight > 0 { // on white paper no line crosses a size (ISO 129-1)
			box := vg.Rectangle{Min: vg.Point{X: at.X - small/4, Y: at.Y - small/4},
				Max: vg.Point{X: at.X + face.Width(s) + small/4, Y: at.Y + small}}
			t.SetColor(color.White)
			t.Fill(box.Path())
		}
		t.write(at, small, false, 0, 0, s)
		done = append(done, at)
	}
}

// axes draws the frame's axes in a corner.
func (p *Picture) axes(t *painter) {
	length := 0.06 * p.box.X.Length()
	from := p.box.Lo().Add(r2.Point{X: 0.03, Y: 0.03}.Mul(p.box.X.Length()))
	for _, a := range [...]struct {
		name string
		to   r2.Point
	}{{"X", r2.Point{X: length}}, {"Y", r2.Point{Y: length}}} {
		tip := from.Add(a.to)
		t.arrow(narrow, from, tip, a.to.Mul(-0.2), 0.35)
		t.write(t.at(tip.Add(a.to.Mul(0.15))), small, false, 0.5, 0.5, a.name)
	}
}

// Notes say what the picture shows and how it is to be read.
func (p *Picture) Notes() []string {
	lines := []string{fmt.Sprintf("Looking at the mounting face %s: angles run counter-clockwise; "+
		"the mating part sees them clockwise.", p.f.rep.Frame.Face)}
	if _, factor := p.offs(); factor > 0 {
		lines = append(lines, fmt.Sprintf("Arrows: how far a hole is off, enlarged %g times. "+
			"Second figure: off from the pattern, degrees.", factor))
	}
	if len(p.f.inPart) > 0 {
		lines = append(lines, "Drawn whole, but seen in part: "+strings.Join(p.f.inPart, ", ")+" degrees.")
	}
	unit := map[string]string{"mm": "millimetres", "in": "inches"}[p.f.unit]
	return append(lines, "Measured from a scan, "+unit+". A scan approves nothing.")
}

// notes writes what the picture is of, below it.
func (p *Picture) notes(t *painter) {
	rep := p.f.rep
	var lines []string
	for k := range rep.BoltCircles {
		b := &rep.BoltCircles[k]
		lines = append(lines, fmt.Sprintf("%s: %d holes on a bolt circle of %s mm", b.ID, len(b.Holes),
			strings.TrimPrefix(p.f.pitches[k].size, "\u00d8")))
	}
	lines = append(lines, p.Notes()...)
	lines = lines[max(0, len(lines)-noteLines+1):]
	y := vg.Length(noteLines-1) * 1.6 * normal
	t.write(vg.Point{X: normal, Y: y}, large, true, 0, 0, p.part)
	for i, s := range lines {
		t.write(vg.Point{X: normal, Y: y - vg.Length(i+1)*1.5*normal}, small*1.15, false, 0, 0, s)
	}
}
