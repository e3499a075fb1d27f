package report

import (
	"math"
	"slices"

	"github.com/golang/geo/s1"

	"spotface/bolt"
	"spotface/bolt/pattern"
)

// NewBoltCircle is a bolt circle as a report has it, with warnings of what is not known
// of it.
func NewBoltCircle(c bolt.Circle) (BoltCircle, []string) {
	var b builder
	return b.circle(c), b.warnings
}

func (b *builder) circle(c bolt.Circle) BoltCircle {
	q := BoltCircle{ID: c.ID, Holes: c.Holes, Face: c.Face, Centre: vec(c.Centre),
		Axis: vec(c.Axis), PitchDiameter: c.PitchDiameter, OtherReadingOf: c.Also,
		Clocking: []Clocking{}, Spacing: []Spacing{}}
	q.Uncertainty.PitchDiameter = b.expand(Coverage, c.PitchU*c.PitchU, "bolt circle "+c.ID)
	q.Uncertainty.Centre = radius95(c.CentreCov)
	regular := c.Nominal.Kind != pattern.Irregular
	if n := c.Nominal; regular {
		if n.Positions > 0 {
			q.Nominal = &Nominal{Positions: n.Positions, SpacingDeg: nominalDegrees(n.Step),
				FullRing: n.Full, Confidence: n.Probability}
			for _, r := range c.Readings {
				q.Nominal.Readings = append(q.Nominal.Readings, Reading{r.What(), r.Probability})
			}
			for _, i := range n.Offset {
				q.Nominal.Offset = append(q.Nominal.Offset, c.Holes[i])
			}
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

// turns is the number of clockings at which a ring looks the same: its holes lie at
// nominal places of the ring turned, and are of the same size there.
func (rep *Report) turns(c *BoltCircle) (n int) {
	for _, first := range c.Clocking {
		same := true
		for _, k := range c.Clocking {
			same = same && slices.ContainsFunc(c.Clocking, func(o Clocking) bool {
				d := math.Mod(*o.NominalDeg-*k.NominalDeg-*first.NominalDeg+720, 360)
				a, b := rep.Hole(k.Hole), rep.Hole(o.Hole)
				if a == nil || b == nil || math.Min(d, 360-d) > 1e-6 {
					return false
				}
				p, pu := a.across()
				q, qu := b.across()
				return a.Kind == b.Kind && math.Abs(p-q) <= max(0.04*p, pu, qu)
			})
		}
		if same {
			n++
		}
	}
	return n
}

// pattern is a pattern as a report has it.
func (b *builder) pattern(p bolt.Pattern) HolePattern {
	q := HolePattern{ID: p.ID, Kind: string(p.Kind), Holes: p.Holes, Face: p.Face, Rows: p.Rows,
		Columns: p.Columns,
		Centre:  vec(p.Centre), Direction: vec(p.Direction), OtherReadingOf: p.Also}
	for way := range min(2, p.Rows) {
		q.Pitch = append(q.Pitch, p.Pitch[way])
		q.PitchU = append(q.PitchU, b.expand(Coverage, p.PitchU[way]*p.PitchU[way], "the pitch of "+p.ID))
	}
	for i, d := range p.Deviations {
		q.Deviations = append(q.Deviations,
			PatternDeviation{Hole: p.Holes[i], XY: d.XY, Uncertainty: radius95(d.Cov)})
	}
	return q
}
