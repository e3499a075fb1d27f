package forecast

import (
	"cmp"
	"math"
	"slices"

	"spotface/report"
	"spotface/report/plan"
	"spotface/report/wording"
)

// placeCylinders lays bores and bosses. A boss about the whole pattern is the
// part's outer wall, the smallest of several; what the simple part cannot carry
// is left out and said.
func (l *layout) placeCylinders() error {
	keep := make([]plan.Cylinder, 0, len(l.plan.Cylinders))
	var around []round
	for _, c := range l.plan.Cylinders {
		if c.Diameter == nil {
			return l.lacks("cylinder "+c.ID, "diameter", "diameter: {nominal: 40}")
		}
		f := round{id: c.ID, r: c.Diameter.Nominal / 2}
		if c.At != nil && c.ID != l.plan.Frame.Axis {
			f.x, f.y = c.At[0], c.At[1]
		}
		side := c.Side
		if side == "" {
			side = report.Internal
			l.assume("Cylinder %s is taken for a bore, as the plan does not say its side.", c.ID)
		}
		switch {
		case side == report.Internal && l.hits(f):
			l.leave("%s: a bore of %s mm there would cut into the holes.", c.ID, wording.Short(2*f.r))
			continue
		case side == report.Internal:
			l.bores = append(l.bores, f)
		case l.holds(f):
			around = append(around, f)
		case l.hits(f):
			l.leave("%s: a boss of %s mm there would run into the holes.", c.ID, wording.Short(2*f.r))
			continue
		default:
			f.height = l.thick / 2
			l.bosses = append(l.bosses, f)
		}
		keep = append(keep, c)
	}
	for _, b := range l.bores {
		l.bosses = slices.DeleteFunc(l.bosses, func(f round) bool {
			if f.distance(b) >= f.r+b.r || f.r > b.r && f.distance(b) < 1e-6 {
				return false
			}
			l.leave("%s: bore %s would cut it away.", f.id, b.id)
			keep = slices.DeleteFunc(keep, func(c plan.Cylinder) bool { return c.ID == f.id })
			return true
		})
	}
	// Of several bores on one axis the smallest goes through.
	slices.SortStableFunc(l.bores, func(a, b round) int { return cmp.Compare(a.r, b.r) })
	for i := range l.bores {
		steps := 0
		for j := range i {
			if l.bores[i].distance(l.bores[j]) < 1e-6 {
				steps++
			}
		}
		if steps > 0 {
			l.bores[i].depth = l.thick / float64(steps+1)
			l.assume("Bore %s is a counterbore %s mm deep.", l.bores[i].id, wording.Short(l.bores[i].depth))
		}
	}
	if len(around) > 0 {
		slices.SortStableFunc(around, func(a, b round) int { return cmp.Compare(a.r, b.r) })
		l.outer = &around[0]
		l.assume("%s is the outer wall of the part.", around[0].id)
		for _, f := range around[1:] {
			l.leave("%s: one boss about the whole pattern is simulated, and that is %s.", f.id, around[0].id)
			keep = slices.DeleteFunc(keep, func(c plan.Cylinder) bool { return c.ID == f.id })
		}
	}
	l.plan.Cylinders = keep
	return nil
}

// hits reports whether f meets a hole.
func (l *layout) hits(f round) bool {
	return slices.ContainsFunc(l.holes, func(h round) bool { return f.distance(h) <= f.r+h.r })
}

// holds reports whether all holes lie within f; false where there are none.
func (l *layout) holds(f round) bool {
	return len(l.holes) > 0 && !slices.ContainsFunc(l.holes, func(h round) bool { return f.distance(h)+h.r >= f.r }) &&
		!math.IsInf(f.r, 0)
}
