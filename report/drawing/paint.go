package drawing

import (
	"image/color"
	"math"

	"github.com/golang/geo/r2"
	weight "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/vg"
)

// pen is a kind of line (ISO 128-2: wide lines are twice as wide as narrow ones).
type pen struct {
	width  vg.Length
	dash   []vg.Length
	colour color.Color
}

// Pens, at the widths 0.5 and 0.25 mm and with chain lines as ISO 128-2 has them.
var (
	edge   = pen{0.5 * mm, nil, color.Black}
	narrow = pen{0.25 * mm, nil, color.Black}
	chain  = pen{0.25 * mm, []vg.Length{6 * mm, 0.75 * mm, 0.125 * mm, 0.75 * mm}, color.Black}
	dashed = pen{0.25 * mm, []vg.Length{3 * mm, 0.75 * mm}, color.Black}
	wrong  = pen{0.7 * mm, nil, color.RGBA{R: 0xb3, G: 0x4a, B: 0x00, A: 0xff}}
)

// mm is a millimetre of paper.
const mm = vg.Inch / 25.4

// painter draws in a window of the part's plane onto paper.
type painter struct {
	c      vg.Canvas
	lo, hi r2.Point  // window, mm of the part
	origin vg.Point  // where lo is on the paper
	scale  vg.Length // of a millimetre of the part
	fonts  *font.Cache
}

func newPainter(c vg.Canvas, lo, hi r2.Point, origin vg.Point, scale vg.Length) *painter {
	return &painter{c: c, lo: lo, hi: hi, origin: origin, scale: scale, fonts: font.NewCache(liberation.Collection())}
}

func (p *painter) at(q r2.Point) vg.Point {
	d := q.Sub(p.lo)
	return vg.Point{X: p.origin.X + vg.Length(d.X)*p.scale, Y: p.origin.Y + vg.Length(d.Y)*p.scale}
}

func (p *painter) use(n pen) {
	p.c.SetLineWidth(n.width)
	p.c.SetLineDash(n.dash, 0)
	p.c.SetColor(n.colour)
}

// line draws what is in the window of the line from a to b.
func (p *painter) line(n pen, a, b r2.Point) {
	// Liang & Barsky (1984): the share of the line that is inside each side.
	t0, t1 := 0.0, 1.0
	d := b.Sub(a)
	for _, s := range [...][2]float64{{-d.X, a.X - p.lo.X}, {d.X, p.hi.X - a.X}, {-d.Y, a.Y - p.lo.Y}, {d.Y, p.hi.Y - a.Y}} {
		switch {
		case s[0] == 0 && s[1] < 0:
			return
		case s[0] < 0:
			t0 = max(t0, s[1]/s[0])
		case s[0] > 0:
			t1 = min(t1, s[1]/s[0])
		}
	}
	if t0 >= t1 {
		return
	}
	p.use(n)
	var path vg.Path
	path.Move(p.at(a.Add(d.Mul(t0))))
	path.Line(p.at(a.Add(d.Mul(t1))))
	p.c.Stroke(path)
}

// circle draws what is in the window of the circle.
func (p *painter) circle(n pen, centre r2.Point, radius float64) {
	r := r2.Point{X: radius, Y: radius}
	if lo, hi := centre.Sub(r), centre.Add(r); lo.X >= p.lo.X && lo.Y >= p.lo.Y && hi.X <= p.hi.X && hi.Y <= p.hi.Y {
		p.use(n)
		var path vg.Path
		path.Move(p.at(centre.Add(r2.Point{X: radius})))
		path.Arc(p.at(centre), vg.Length(radius)*p.scale, 0, 2*math.Pi)
		path.Close()
		p.c.Stroke(path)
		return
	}
	n.dash = nil // pieces are shorter than a dash
	for i := range circleParts {
		p.line(n, around(centre, radius, i), around(centre, radius, i+1))
	}
}

// around is the point of a circle at the angle of part i.
func around(centre r2.Point, radius float64, i int) r2.Point {
	sin, cos := math.Sincos(2 * math.Pi * float64(i) / circleParts)
	return centre.Add(r2.Point{X: radius * cos, Y: radius * sin})
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
	p.c.SetColor(color.Black)
	width := face.Width(s)
	p.c.FillString(face, vg.Point{X: at.X - vg.Length(x)*width, Y: at.Y - vg.Length(y)*size*0.7}, s)
}
