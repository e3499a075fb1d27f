package report

import (
	"math"

	"spotface/bolt"
	"spotface/bolt/pattern"
)

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
