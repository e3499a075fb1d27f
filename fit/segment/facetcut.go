package segment

import (
	"math"
	"slices"
)

// absorbCut adds panels beside a body that are what another body's planes left
// of its flat sides: their corners lie on the chords, inside the surface but no
// deeper than the body's own sides reach, and they face as its own sides do.
func (f *facetFinder) absorbCut() {
	for i := range f.bodies {
		b := &f.bodies[i]
		if _, _, ok := axisOf(b.surface); !ok {
			continue
		}
		step, tilt := 1.05*f.widest(b), 0.0
		for _, id := range b.panels {
			tilt = max(tilt, f.tilt(b.surface, id))
		}
		tilt = 3*tilt + 1e-5 // a cut piece may be steeper than the whole
		for head := 0; head < len(b.panels); head++ {
			for _, l := range f.panels[b.panels[head]].links {
				if f.owner[l.to] < 0 && l.smooth(b.internal) && l.length > 10*f.m.tol && f.isCut(b, l.to, step, tilt) {
					f.owner[l.to] = int32(i)
					b.panels = append(b.panels, l.to)
					b.area += f.panels[l.to].area
				}
			}
		}
		slices.Sort(b.panels)
	}
}

// tilt returns how far a panel leans along the surface's straight lines, as
// the sine of the angle.
func (f *facetFinder) tilt(s facetSurface, id int32) float64 {
	p := &f.panels[id]
	out := s.outward(p.centre)
	_, axis, _ := axisOf(s)
	along := across(axis, out).Normalize()
	return math.Abs(p.normal.Dot(along))
}

func (f *facetFinder) isCut(b *facetBody, id int32, step, tilt float64) bool {
	p := &f.panels[id]
	for _, v := range p.corners {
		q := f.m.pts[v]
		d := b.surface.signed(q)
		if d > f.m.tol || -d > (1-math.Cos(step/2))/b.surface.curvature(q)+f.m.tol {
			return false
		}
	}
	facing := p.normal.Dot(b.surface.outward(p.centre))
	if b.internal {
		facing = -facing
	}
	return facing >= math.Cos(step/2+tilt) && f.tilt(b.surface, id) <= tilt &&
		b.surface.turn(f.points(p.corners)) <= step
}
