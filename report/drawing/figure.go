package drawing

import (
	"errors"
	"fmt"
	"image/color"
	"math"
	"strings"

	"github.com/golang/geo/r2"
	weight "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"spotface/report"
	"spotface/report/wording"
)

// ErrNothing says that a report has no hole, bore or round outline to draw.
var ErrNothing = errors.New("drawing: the report has no holes, bore or round outline: there is " +
	"nothing to draw")

// figure is the plan view: what is at which place, mm of the part's frame.
type figure struct {
	rep     *report.Report // in its frame
	unit    string         // of the lengths that are said
	edges   []ring         // outlines and bores
	holes   []hole
	pitches []ring   // pitch circles
	box     r2.Rect  // of all that
	inPart  []string // circles that were seen in part, with how many degrees of them
}

type ring struct {
	id     string // empty where it is not named
	size   string // its diameter, as the view says it
	part   bool   // only a part of the circle is there, as of a notch
	centre r2.Point
	radius float64
}

type hole struct {
	id     string
	says   []string // what the view says of its place, else of its size
	at     r2.Point
	radius float64
	along  r2.Point // half the way between a slot's ends, zero for a round hole
	stud   bool
}

// newFigure lays out what is seen looking at the mounting face, with what the view says of it.
// Mirrored it is what the mating part's face shows.
func newFigure(rep *report.Report, view *report.View, mirrored bool) (*figure, error) {
	in, err := report.InDatumFrame(rep)
	if err != nil {
		return nil, err
	}
	side := 1.0
	if mirrored {
		side = -1
	}
	items := map[string]*report.Item{}
	for _, it := range view.Items() {
		items[it.ID] = &it
	}
	flat := func(v report.Vec) r2.Point { return r2.Point{X: side * v[0], Y: v[1]} }
	f := &figure{rep: in, unit: view.Unit, box: r2.EmptyRect()}
	walls := map[string]bool{}
	add := func(list []report.Hole, stud bool) {
		for _, h := range list {
			q := hole{id: h.ID, says: says(items[h.ID], view.Unit), at: flat(h.Centre), radius: h.Diameter / 2,
				stud: stud}
			if h.Direction != nil {
				q.radius = h.Width / 2
				q.along = flat(*h.Direction).Normalize().Mul(max(0, h.Length-h.Width) / 2)
			}
			f.holes = append(f.holes, q)
			for _, w := range append(h.EndWalls, h.Wall) {
				walls[w] = true
			}
			f.include(ring{centre: q.at, radius: q.radius + q.along.Norm()})
		}
	}
	add(in.Holes, false)
	add(in.Studs, true)
	for _, c := range in.Cylinders {
		// A cylinder that leans is no circle in this view.
		if !walls[c.ID] && math.Abs(c.Axis[2]) > 0.999 {
			r := ring{centre: flat(c.Point), radius: c.Diameter / 2}
			if it := items[c.ID]; it != nil {
				r.part = strings.HasPrefix(it.What, "notch") || strings.HasPrefix(it.What, "rounded")
				if !r.part {
					r.id, r.size = c.ID, diameter(it.Diameter.WithU())
					if c.ArcDeg > 0 && c.ArcDeg < wholeArc {
						f.inPart = append(f.inPart, fmt.Sprintf("%s over %.0f", c.ID, c.ArcDeg))
					}
				}
			}
			f.edges = append(f.edges, r)
			f.include(r)
		}
	}
	for _, b := range in.BoltCircles {
		u := b.Uncertainty.PitchDiameter
		d := wording.Decimals(u)
		f.pitches = append(f.pitches, ring{id: b.ID, centre: flat(b.Centre), radius: b.PitchDiameter / 2,
			size: diameter(wording.Fixed(b.PitchDiameter, d) + wording.PlusMinus(u, d))})
		f.include(f.pitches[len(f.pitches)-1])
	}
	if !(f.box.Size().X > 0) {
		return nil, ErrNothing
	}
	return f, nil
}

// says is a hole's angle and how far it is off, in degrees and where that is more than its
// uncertainty outward; or where it has none its diameter.
func says(it *report.Item, unit string) []string {
	switch {
	case it == nil:
		return nil
	case it.Angle.Decimals == 0:
		return []string{diameter(it.Diameter.String())}
	case it.Off.Decimals == 0:
		return []string{it.Angle.String() + "\u00b0"}
	}
	off := it.Off.Signed() + "\u00b0"
	if it.Turned {
		off += " !"
	}
	lines := []string{it.Angle.String() + "\u00b0", off}
	if it.Shifted {
		lines = append(lines, it.Out.Signed()+" "+unit+" out !")
	}
	return lines
}

// diameter is a length with the sign for a diameter, and a true plus-minus sign.
func diameter(s string) string { return "\u00d8" + strings.ReplaceAll(s, "+-", "\u00b1") }

func (f *figure) include(c ring) {
	size := r2.Point{X: 2 * c.radius, Y: 2 * c.radius}
	f.box = f.box.Union(r2.RectFromCenterSize(c.centre, size))
}

// draw draws edges, holes and centre lines; arm is how far the lines of a centre go beyond
// its circle.
func (f *figure) draw(p *painter, arm float64) {
	for _, c := range f.edges {
		n := edge
		if c.part {
			n = narrow
		}
		p.outline(n, c.centre, r2.Point{}, c.radius)
	}
	for _, c := range f.pitches {
		p.outline(chain, c.centre, r2.Point{}, c.radius)
		p.cross(chain, c.centre, c.radius+2*arm)
	}
	for _, h := range f.holes {
		n := edge
		if h.stud {
			n = dashed
		}
		p.outline(n, h.at, h.along, h.radius)
		p.cross(narrow, h.at, h.radius+h.along.Norm()+arm)
	}
}

// cross draws the two lines through a centre.
func (p *painter) cross(n draw.LineStyle, c r2.Point, arm float64) {
	p.line(n, c.Sub(r2.Point{X: arm}), c.Add(r2.Point{X: arm}))
	p.line(n, c.Sub(r2.Point{Y: arm}), c.Add(r2.Point{Y: arm}))
}

// Pens, at the widths 0.5 and 0.25 mm and with chain lines as ISO 128-2 has them: wide lines
// are twice as wide as narrow ones.
var (
	edge   = draw.LineStyle{Color: color.Black, Width: 0.5 * mm}
	narrow = draw.LineStyle{Color: color.Black, Width: 0.25 * mm}
	chain  = draw.LineStyle{Color: color.Black, Width: 0.25 * mm,
		Dashes: []vg.Length{6 * mm, 0.75 * mm, 0.125 * mm, 0.75 * mm}}
	dashed = draw.LineStyle{Color: color.Black, Width: 0.25 * mm,
		Dashes: []vg.Length{3 * mm, 0.75 * mm}}
	wrong = draw.LineStyle{Color: color.RGBA{R: 0xb3, G: 0x4a, B: 0x00, A: 0xff}, Width: 0.7 * mm}
)

// mm is a millimetre of paper.
const mm = vg.Inch / 25.4

// painter draws in a window of the part's plane onto paper.
type painter struct {
	draw.Canvas           // of the window
	lo          r2.Point  // of the window, mm of the part
	scale       vg.Length // of a millimetre of the part
	fonts       *font.Cache
}

func newPainter(c vg.Canvas, window r2.Rect, origin vg.Point, scale vg.Length) *painter {
	p := &painter{lo: window.Lo(), scale: scale, fonts: font.NewCache(liberation.Collection())}
	p.Canvas = draw.Canvas{Canvas: c, Rectangle: vg.Rectangle{Min: origin}}
	p.Max = p.at(window.Hi())
	return p
}

func (p *painter) at(q r2.Point) vg.Point {
	d := q.Sub(p.lo)
	return vg.Point{X: p.Min.X + vg.Length(d.X)*p.scale, Y: p.Min.Y + vg.Length(d.Y)*p.scale}
}

// line draws what is in the window of the lines from point to point.
func (p *painter) line(n draw.LineStyle, points ...r2.Point) {
	var at []vg.Point
	for _, q := range points {
		at = append(at, p.at(q))
	}
	p.StrokeLines(n, p.ClipLinesXY(at)...)
}

// outline draws what is in the window of a circle, or of a slot whose ends lie along from its
// centre.
func (p *painter) outline(n draw.LineStyle, centre, along r2.Point, radius float64) {
	r := vg.Length(radius) * p.scale
	c := p.at(centre)
	if along == (r2.Point{}) && p.Contains(vg.Point{X: c.X - r, Y: c.Y - r}) &&
		p.Contains(vg.Point{X: c.X + r, Y: c.Y + r}) {
		p.SetLineStyle(n)
		var path vg.Path
		path.Move(vg.Point{X: c.X + r, Y: c.Y})
		path.Arc(c, r, 0, 2*math.Pi)
		path.Close()
		p.Stroke(path)
		return
	}
	var points []r2.Point
	for i := range circleParts + 1 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / circleParts)
		q := r2.Point{X: radius * cos, Y: radius * sin}
		end := along
		if q.Dot(along) < 0 {
			end = along.Mul(-1)
		}
		points = append(points, centre.Add(end).Add(q))
	}
	p.line(n, points...)
}

// face is the font at a size.
func (p *painter) face(size vg.Length, bold bool) font.Face {
	f := font.Font{Typeface: "Liberation", Variant: "Sans"}
	if bold {
		f.Weight = weight.WeightBold
	}
	return p.fonts.Lookup(f, size)
}

// write writes a line with the point at (x, y), shares of its width and height, of it there.
func (p *painter) write(at vg.Point, size vg.Length, bold bool, x, y float64, s string) {
	face := p.face(size, bold)
	p.SetColor(color.Black)
	width := face.Width(s)
	p.FillString(face, vg.Point{X: at.X - vg.Length(x)*width, Y: at.Y - vg.Length(y)*size*0.7}, s)
}
