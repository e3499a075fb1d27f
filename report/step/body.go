// Package step writes exact solids and faces for CAD, as ISO 10303-21 (clear text encoding)
// files of ISO 10303-242 (AP242).
//
// A Body is what a turned or drilled part is: floors perpendicular to one axis, bounded by
// closed contours, and walls along that axis between two contours. Lengths are millimetres,
// the axis is Z of the body's frame. A body in which every edge belongs to two faces is
// written as a solid, any other as an open shell. Numbers are written with all their digits.
//
// It knows nothing of scans, and of shapes only planes, cylinders and cones about the axis.
package step

import (
	"math"
	"slices"

	"github.com/golang/geo/r2"

	"spotface/report"
)

// Body is one part, or what is known of its surface.
type Body struct {
	Name   string
	Floors []Floor
	Walls  []Wall
}

// Floor is a plane face perpendicular to the axis.
type Floor struct {
	Name  string
	Z     float64
	U     float64 // standard uncertainty of Z, mm; zero: exact
	Up    bool    // the material is below it
	Outer Contour
	Inner []Contour
}

// Wall is the faces between a contour at Z0 and one at Z1 > Z0 that has as many segments: a
// plane for each straight segment, a cylinder or cone for each arc.
type Wall struct {
	Name     string
	Z0, Z1   float64
	Low      Contour // at Z0
	High     Contour // at Z1
	Internal bool    // the material is outside the contour
	U        float64 // standard uncertainty of where it stands across itself, mm; zero: exact
}

// Contour is a closed plane curve, counter-clockwise seen against the axis. Each segment
// ends where the next one starts, the last one where the first starts.
type Contour []Segment

// Segment is a straight line where Radius is zero, else an arc about Centre,
// counter-clockwise where Radius is positive and clockwise where it is negative.
type Segment struct {
	Start, Centre r2.Point
	Radius        float64
}

// Circle returns the whole circle, one arc.
func Circle(centre r2.Point, radius float64) Contour {
	return Contour{{Start: centre.Add(r2.Point{X: radius}), Centre: centre, Radius: radius}}
}

// Polygon returns straight segments from corner to corner.
func Polygon(corners ...r2.Point) Contour {
	c := make(Contour, len(corners))
	for i, p := range corners {
		c[i] = Segment{Start: p}
	}
	return c
}

// Stadium returns the outline of a slot: half circles about a and b and the lines between.
func Stadium(a, b r2.Point, radius float64) Contour {
	right := b.Sub(a).Normalize().Ortho().Mul(-radius)
	return Contour{
		{Start: a.Add(right)},
		{Start: b.Add(right), Centre: b, Radius: radius},
		{Start: b.Sub(right)},
		{Start: a.Sub(right), Centre: a, Radius: radius},
	}
}

// Straight returns the wall of one contour from z0 to z1.
func Straight(name string, c Contour, z0, z1 float64, internal bool) Wall {
	return Wall{Name: name, Z0: z0, Z1: z1, Low: c, High: c, Internal: internal}
}

// end is where segment i ends.
func (c Contour) end(i int) r2.Point { return c[(i+1)%len(c)].Start }

// turn is the angle that segment i sweeps about its centre, within ±2π, zero for a line.
func (c Contour) turn(i int) float64 {
	s := c[i]
	if s.Radius == 0 {
		return 0
	}
	from, to := s.Start.Sub(s.Centre), c.end(i).Sub(s.Centre)
	t := math.Atan2(from.Cross(to), from.Dot(to))
	switch {
	case s.Radius > 0 && t <= 0:
		t += 2 * math.Pi
	case s.Radius < 0 && t >= 0:
		t -= 2 * math.Pi
	}
	return t
}

// Area is the area that the contour encloses, mm².
func (c Contour) Area() float64 {
	area := 0.0
	for i, s := range c {
		// Green: half the integral of x dy - y dx. An arc adds its segment of the circle.
		t := c.turn(i)
		area += (s.Start.Cross(c.end(i)) + s.Radius*s.Radius*(t-math.Sin(t))) / 2
	}
	return area
}

// perimeter is the length of the contour, mm.
func (c Contour) perimeter() float64 {
	sum := 0.0
	for i, s := range c {
		sum += math.Abs(s.Radius * c.turn(i))
		if s.Radius == 0 {
			sum += c.end(i).Sub(s.Start).Norm()
		}
	}
	return sum
}

// Volume is what a closed body encloses, mm³, and the standard uncertainty that those of its
// faces make: to first order each is its area times its U, combined as if independent.
func (b *Body) Volume() (volume, u float64) {
	// Gauss: the integral of z n_z over the faces. That of a floor is ±z times its area.
	add := func(positive bool, v, area, faceU float64) {
		if !positive {
			v = -v
		}
		volume += v
		u = math.Hypot(u, area*faceU)
	}
	for _, f := range b.Floors {
		area := f.Outer.Area()
		for _, c := range f.Inner {
			area -= c.Area()
		}
		add(f.Up, f.Z*area, area, f.U)
	}
	// Of a wall whose section encloses A(z) it is -∫ z A'(z) dz = ∫ A dz - [z A], where ∫ A dz is
	// a frustum's: h (A0 + A1 + √(A0 A1)) / 3.
	for _, w := range b.Walls {
		a0, a1, h := w.Low.Area(), w.High.Area(), w.Z1-w.Z0
		frustum := h * (a0 + a1 + math.Sqrt(a0*a1)) / 3
		add(!w.Internal, frustum-(w.Z1*a1-w.Z0*a0), h*(w.Low.perimeter()+w.High.perimeter())/2, w.U)
	}
	return volume, u
}

// edge is a side of a face, as the key by which two faces share it.
type edge struct {
	z0, z1   float64
	from, to r2.Point
	centre   r2.Point
	radius   float64
}

// Open names the faces that have an edge which no other face shares; a body of none is
// closed.
func (b *Body) Open() []string {
	uses := map[edge]int{}
	each := func(visit func(name string, e edge)) {
		for _, f := range b.Floors {
			for _, c := range append([]Contour{f.Outer}, f.Inner...) {
				c.edges(f.Z, func(e edge) { visit(f.Name, e) })
			}
		}
		for _, w := range b.Walls {
			w.Low.edges(w.Z0, func(e edge) { visit(w.Name, e) })
			w.High.edges(w.Z1, func(e edge) { visit(w.Name, e) })
		}
	}
	each(func(_ string, e edge) { uses[e]++ })
	var open []string
	each(func(name string, e edge) {
		if uses[e] != 2 && !slices.Contains(open, name) {
			open = append(open, name)
		}
	})
	return open
}

func (c Contour) edges(z float64, visit func(edge)) {
	for i, s := range c {
		visit(edge{z0: z, z1: z, from: s.Start, to: c.end(i), centre: s.Centre, radius: s.Radius})
	}
}

// Adapter returns the plate as a closed body, its lower side at z = 0.
func Adapter(ad *report.Adapter) Body {
	outline, t := Circle(r2.Point{}, ad.Outside/2), ad.Thickness
	upper := Floor{Name: "upper side", Z: t, Up: true, Outer: outline}
	lower := Floor{Name: "lower side", Outer: outline}
	b := Body{Name: "adapter", Walls: []Wall{Straight("outside", outline, 0, t, false)}}
	through := func(name string, c Contour, z0, z1 float64) {
		b.Walls = append(b.Walls, Straight(name, c, z0, z1, true))
	}
	if k := ad.Bore; k != nil {
		c := Circle(r2.Point{X: k.XY[0], Y: k.XY[1]}, k.Diameter/2)
		through("bore", c, 0, t)
		upper.Inner, lower.Inner = append(upper.Inner, c), append(lower.Inner, c)
	}
	for _, h := range ad.Holes {
		at := r2.Point{X: h.XY[0], Y: h.XY[1]}
		hole := Circle(at, h.Diameter/2)
		name := h.ID
		if h.Thread != "" {
			name += " tap " + h.Thread
		}
		top, bottom := hole, hole
		z0, z1 := 0.0, t
		if k := h.Counterbore; k != nil {
			wide := Circle(at, k.Diameter/2)
			seat := Floor{Name: h.ID + " seat", Z: t - k.Depth, Up: true, Outer: wide,
				Inner: []Contour{hole}}
			if h.Below {
				seat.Z, seat.Up, bottom, z0 = k.Depth, false, wide, k.Depth
				through(h.ID+" counterbore", wide, 0, z0)
			} else {
				top, z1 = wide, t-k.Depth
				through(h.ID+" counterbore", wide, z1, t)
			}
			b.Floors = append(b.Floors, seat)
		}
		through(name, hole, z0, z1)
		upper.Inner, lower.Inner = append(upper.Inner, top), append(lower.Inner, bottom)
	}
	b.Floors = append(b.Floors, upper, lower)
	return b
}
