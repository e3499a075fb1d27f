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
		k.FromPatternDeg, k.FromPatternOut = new(degrees(turn.Off)), new(away.Off)
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

// AboutBore is a bolt circle seen from the main bore, where the two are not about one
// axis.
type AboutBore struct {
	Offset      float64 `json:"offset"`      // mm, of the circle's centre from the bore
	Uncertainty float64 `json:"uncertainty"` // mm, radius of the 95 % circle
	// Clocking is how far each hole is turned about the bore from the nominal pattern
	// turned to its best fit there, degrees.
	Clocking []BoreClocking `json:"clocking"`
}

// BoreClocking is the clocking of a hole about the main bore.
type BoreClocking struct {
	Hole           string  `json:"hole"`
	DeviationDeg   float64 `json:"deviation_deg"`
	UncertaintyDeg float64 `json:"uncertainty_deg"`
}

// aboutBore clocks a circle about the main bore; nil where there is none, or their centres
// differ by no more than their uncertainty. The bore is taken as known: its error is
// common to all holes.
func (rep *Report) aboutBore(c *BoltCircle) *AboutBore {
	if rep.Bore == nil || rep.Bore.Face != c.Face || c.Nominal == nil {
		return nil
	}
	ids, nominal := c.nominalPlaces()
	axis, bore := c.Axis.R3(), rep.Bore.Centre.R3()
	d := c.Centre.R3().Sub(bore)
	out := &AboutBore{Offset: d.Sub(axis.Mul(d.Dot(axis))).Norm(),
		Uncertainty: math.Hypot(c.Uncertainty.Centre, rep.Bore.Uncertainty.Centre)}
	if out.Uncertainty == 0 || out.Offset <= out.Uncertainty {
		return nil
	}
	f, err := pattern.To(nominal, bolt.PlacesOf(rep.BoltHoles(ids...), bore, axis),
		pattern.Options{Centre: &[2]float64{}})
	if err != nil {
		return nil
	}
	for i, id := range ids {
		turn, _ := f.Polar(i)
		out.Clocking = append(out.Clocking,
			BoreClocking{id, degrees(turn.Off), Coverage * degrees(turn.U)})
	}
	return out
}
