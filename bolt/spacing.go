package bolt

import (
	"math"
	"slices"

	"github.com/golang/geo/s1"
)

// space fills in the spacing from each hole to the next one present, about the
// ring's centre. A full ring wraps; a partial one has one fewer. Across a
// missing hole the nominal is the sum of the steps.
func (l *laid) space(c *Circle) {
	n := len(l.pts)
	rows := l.angleRows()
	last := n - 1
	if c.Nominal.FullRing || c.Nominal.Irregular {
		last = n
	}
	for i := range last {
		j := (i + 1) % n
		d := slices.Clone(rows[j])
		addTo(d, rows[i], -1)
		s := Spacing{
			From: l.holes[i].ID, To: l.holes[j].ID,
			Angle: s1.Angle(step(l.angle[i], l.angle[j])),
			U:     s1.Angle(l.cov.sd(d)),
		}
		if !c.Nominal.Irregular {
			s.Nominal = s1.Angle(step(c.Nominal.Angles[i].Radians(), c.Nominal.Angles[j].Radians()))
			s.Deviation = s1.Angle(wrapHalf((s.Angle - s.Nominal).Radians()))
		}
		c.Spacing = append(c.Spacing, s)
	}
}

// step returns the turn from a on to b, rad, in (0, 2π].
func step(a, b float64) float64 {
	if s := wrap(b - a); s > 0 {
		return s
	}
	return 2 * math.Pi
}
