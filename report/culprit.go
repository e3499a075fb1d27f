package report

import (
	"math"
	"slices"

	"spotface/bolt"
	"spotface/bolt/pattern"
)

// FindStandouts says which holes of a circle are off, see pattern.FindOutliers, and notes
// in c where each hole lies against those on pattern and, where some are off, the pitch
// diameter of those that are not. It returns nil where too few holes make a ring of their
// own, or nothing is known of their uncertainty.
func FindStandouts(rep *Report, c *BoltCircle) *Standouts {
	radius := c.PitchDiameter / 2
	for _, k := range c.Clocking {
		h := rep.Hole(k.Hole)
		if h == nil || k.NominalDeg == nil || h.Uncertainty.Centre == 0 {
			return nil
		}
	}
	ids, nominal := c.nominalPlaces()
	places := bolt.PlacesOf(rep.BoltHoles(ids...), c.Centre.R3(), c.Axis.R3())
	o, ok := pattern.FindOutliers(nominal, places)
	if !ok {
		return nil
	}
	out := &Standouts{Holes: []Standout{}, Scatter: o.Scatter, RestScatter: o.RestScatter}
	for i := range c.Clocking {
		k := &c.Clocking[i]
		k.OnPattern = !o.Scatter && !slices.Contains(o.Off, i)
		k.FromPatternDeg, k.FromPatternUncertaintyDeg = nil, 0
		k.FromPatternOut, k.FromPatternOutUncertainty = nil, 0
		if o.Scatter {
			continue // with no ring to hold them against
		}
		turn, away := o.Against[i].Turn, o.Against[i].Out
		k.FromPatternDeg, k.FromPatternOut = number(degrees(turn.Off)), number(away.Off)
		k.FromPatternUncertaintyDeg = Coverage * degrees(turn.U)
		k.FromPatternOutUncertainty = Coverage * away.U
		if j := slices.Index(o.Off, i); j >= 0 {
			out.Holes = append(out.Holes,
				Standout{Hole: k.Hole, Deg: *k.FromPatternDeg, DegU: k.FromPatternUncertaintyDeg,
					Along: turn.Off * radius, AlongU: Coverage * turn.U * radius,
					Out: away.Off, OutU: Coverage * away.U, Turned: o.Turned[j], Shifted: o.Shifted[j]})
		}
	}
	c.PitchDiameterOnPattern, c.Uncertainty.PitchDiameterOnPattern = 0, 0
	if len(o.Off) > 0 {
		g, err := pattern.FitRing(places.XY, pattern.Without(len(ids), o.Off...)...)
		if err == nil {
			c.PitchDiameterOnPattern, c.Uncertainty.PitchDiameterOnPattern = 2*g.R, Coverage*2*places.SD(g.DR)
		}
	}
	return out
}

// nominalPlaces are the ids of the circle's holes, and where they belong about its centre.
func (c *BoltCircle) nominalPlaces() (ids []string, places [][2]float64) {
	for _, k := range c.Clocking {
		sin, cos := math.Sincos(*k.NominalDeg * math.Pi / 180)
		ids = append(ids, k.Hole)
		places = append(places, [2]float64{c.PitchDiameter / 2 * cos, c.PitchDiameter / 2 * sin})
	}
	return ids, places
}
