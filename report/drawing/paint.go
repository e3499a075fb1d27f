package drawing

import (
	"image/color"
	"math"

	"github.com/golang/geo/r2"
	weight "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

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
