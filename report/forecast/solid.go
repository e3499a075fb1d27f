package forecast

import (
	"github.com/golang/geo/r3"

	"spotface/mesh/scansim"
)

// part builds the solid that the layout describes.
func (l *layout) part() *scansim.Part {
	z := r3.Vector{Z: 1}
	at := func(f round) r3.Vector { return r3.Vector{X: f.x, Y: f.y} }
	t := l.thick
	top := 0.0
	body := scansim.Disc("mounting", "bottom", "outer", at(l.disc), l.disc.r, t)
	solids, tools := []*scansim.Solid{body}, []*scansim.Solid{}
	raise := func(f round) {
		// Its own floor lies within the plate and never shows.
		solids = append(solids, scansim.Meet(
			scansim.HalfSpace(f.id+":top", at(f).Add(z.Mul(f.height)), z),
			scansim.Rod(f.id, at(f), z, f.r),
			scansim.HalfSpace(f.id+":floor", at(f).Sub(z.Mul(t/2)), z.Mul(-1))))
		top = max(top, f.height)
	}
	for _, b := range l.bosses {
		raise(b)
	}
	for _, p := range l.pads {
		if p.height > 0 {
			raise(p)
		} else {
			tools = append(tools, scansim.Drill("pad:"+p.id, at(p), z, 2*p.r, -p.height))
		}
	}
	if len(solids) > 1 {
		body = scansim.Union(solids...)
	}
	for _, c := range l.cuts {
		body = scansim.Meet(body, scansim.HalfSpace("plane:"+c.id, c.at, c.normal))
	}
	for _, b := range l.bores {
		if b.depth > 0 {
			// Open upward without end, through a boss on the same axis too.
			tools = append(tools, scansim.Meet(scansim.Rod("bore:"+b.id, at(b), z, b.r),
				scansim.HalfSpace("bore:"+b.id+":floor", at(b).Sub(z.Mul(b.depth)), z.Mul(-1))))
		} else {
			tools = append(tools, scansim.Rod("bore:"+b.id, at(b), z, b.r))
		}
	}
	var holes []scansim.Hole
	for _, h := range l.holes {
		tools = append(tools, scansim.Drill("hole:"+h.id, at(h), z, 2*h.r, 0))
		holes = append(holes, scansim.Hole{Name: h.id, Kind: "round", Centre: at(h), Axis: z, Diameter: 2 * h.r})
	}
	if len(tools) > 0 {
		body = scansim.Minus(body, tools...)
	}
	lo := r3.Vector{X: l.disc.x - l.disc.r, Y: l.disc.y - l.disc.r, Z: -t}
	hi := r3.Vector{X: l.disc.x + l.disc.r, Y: l.disc.y + l.disc.r, Z: top}
	return scansim.NewPart(l.plan.Part, body, lo, hi, holes)
}

// area is that of the surface that a scanner above the part sees, mm², roughly.
func (l *layout) area() float64 {
	const pi = 3.14159
	a := pi*l.disc.r*l.disc.r + 2*pi*l.disc.r*l.thick
	for _, h := range append(append([]round(nil), l.holes...), l.bores...) {
		a += 2*pi*h.r*l.thick - pi*h.r*h.r
	}
	for _, b := range l.bosses {
		a += 2 * pi * b.r * b.height
	}
	return a
}
