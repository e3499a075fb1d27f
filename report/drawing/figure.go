package drawing

import (
	"errors"
	"math"
	"strings"

	"github.com/golang/geo/r2"
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
	pitches []ring  // pitch circles
	box     r2.Rect // of all that
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
			q := hole{id: h.ID, says: says(items[h.ID]), at: flat(h.Centre), radius: h.Diameter / 2,
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

// says is a hole's angle and how far it is off, or where it has none its diameter.
func says(it *report.Item) []string {
	switch {
	case it == nil:
		return nil
	case it.Angle.Decimals == 0:
		return []string{diameter(it.Diameter.String())}
	case it.Off.Decimals == 0:
		return []string{it.Angle.String() + "\u00b0"}
	}
	off := it.Off.Signed() + "\u00b0"
	if it.Turned || it.Shifted {
		off += " !"
	}
	return []string{it.Angle.String() + "\u00b0", off}
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
