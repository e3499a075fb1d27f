package report

import (
	"math"

	"github.com/golang/geo/s1"

	"spotface/bolt"
)

// NewBoltCircle is a bolt circle as a report has it, with warnings of what is not known
// of it.
func NewBoltCircle(c bolt.Circle) (BoltCircle, []string) {
	var b builder
	return b.circle(c), b.warnings
}

func (b *builder) circle(c bolt.Circle) BoltCircle {
	q := BoltCircle{ID: c.ID, Holes: c.Holes, Face: c.Face, Centre: vec(c.Centre), Axis: vec(c.Axis),
		PitchDiameter: c.PitchDiameter, Clocking: []Clocking{}, Spacing: []Spacing{}}
	q.Uncertainty.PitchDiameter = b.expand(Coverage, c.PitchU*c.PitchU, "bolt circle "+c.ID)
	q.Uncertainty.Centre = radius95(c.CentreCov)
	regular := !c.Nominal.Irregular
	if n := c.Nominal; regular {
		if n.Positions > 0 {
			q.Nominal = &Nominal{Positions: n.Positions, SpacingDeg: nominalDegrees(n.Spacing),
				FullRing: n.FullRing, Confidence: n.Confidence}
			for _, a := range n.Missing {
				q.Nominal.Missing = append(q.Nominal.Missing, nominalDegrees(a))
			}
		}
		q.DatumOffsetDeg = number(c.DatumOffset.Degrees())
	}
	for _, k := range c.Clocking {
		q.Clocking = append(q.Clocking, b.clocking(k, regular))
	}
	for _, k := range c.Spacing {
		sp := Spacing{From: k.From, To: k.To, AngleDeg: k.Angle.Degrees(),
			UncertaintyDeg: b.expandAngle(k.U, "the spacing after "+k.From)}
		if regular {
			sp.NominalDeg, sp.DeviationDeg = number(nominalDegrees(k.Nominal)), number(k.Deviation.Degrees())
		}
		q.Spacing = append(q.Spacing, sp)
	}
	return q
}

func (b *builder) clocking(k bolt.Clocking, regular bool) Clocking {
	c := Clocking{Hole: k.Hole, AngleDeg: k.Angle.Degrees(), Radial: k.Radial,
		UncertaintyDeg:    b.expandAngle(k.U, "the clocking of "+k.Hole),
		RadialUncertainty: b.expand(Coverage, k.RadialU*k.RadialU, "the radial place of "+k.Hole)}
	if regular {
		c.NominalDeg, c.DeviationDeg = number(nominalDegrees(k.Nominal)), number(k.Deviation.Degrees())
	}
	if k.HasOthers {
		c.FromOthersDeg = number(k.FromOthers.Degrees())
		c.FromOthersUncertaintyDeg = b.expandAngle(k.FromOthersU, "the clocking of "+k.Hole)
		c.RadialFromOthers = number(k.RadialFromOthers)
	}
	return c
}

func (b *builder) expandAngle(u s1.Angle, of string) float64 {
	return b.expand(Coverage, u.Degrees()*u.Degrees(), of)
}

// nominalDegrees rounds off what turning degrees into radians and back adds to
// a nominal angle: 60, not 59.99999999999999.
func nominalDegrees(a s1.Angle) float64 { return math.Round(a.Degrees()*1e9) / 1e9 }
