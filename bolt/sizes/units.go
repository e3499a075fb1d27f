package sizes

import (
	"cmp"
	"math"
	"slices"
)

// Feature is a measured length of a part, as it was read.
type Feature struct {
	Kind    Kind
	Size, U float64 // standard uncertainty
}

// Reading is what a scan whose numbers were read as millimetres is in another unit.
type Reading struct {
	Unit        string // mm, cm, m, in or ft
	Millimetres float64
	Probability float64
	Sizes       []Size // of the features, in this unit
}

// UnitCheck is what hardware and width say of a scan's unit.
type UnitCheck struct {
	Readings []Reading // that are not ruled out, the most probable first
	Doubt    bool      // that the numbers are millimetres is improbable
}

// ReadUnits says which unit a scan may be in that was read as millimetres, from its
// features and the part's width, as read; a width of zero is not known. Equal holes of one
// pattern are one feature, since they say the same once.
//
// The evidence is how well standard sizes explain each feature, and how usual the part's
// sizes are. Those of one part go together, so that the mean over features counts.
func ReadUnits(features []Feature, width float64) UnitCheck {
	out := make([]Reading, 0, len(units))
	for _, unit := range units {
		r := Reading{Unit: unit.name, Millimetres: unit.mm}
		logP, usual, n := math.Log(unit.weight), 0.0, 0.0
		for _, f := range features {
			list, none, density := weigh(f.Kind, f.Size*unit.mm, f.U*unit.mm)
			if list == nil {
				continue
			}
			total := none
			for _, c := range list {
				total += c.Probability
			}
			logP += math.Log(total / density)
			p := f.Kind.prior()
			z := math.Log(f.Size*unit.mm/p.median) / math.Log(p.factor)
			usual, n = usual-z*z/2, n+1
			r.Sizes = append(r.Sizes, Best(normalise(list, none)))
		}
		if width > 0 {
			z := math.Log(width*unit.mm/widthMedian) / math.Log(widthFactor)
			usual, n = usual-z*z/2, n+1
		}
		r.Probability = logP + usual/max(n, 1)
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(a, b Reading) int {
		return cmp.Compare(b.Probability, a.Probability)
	})
	sum, most := 0.0, out[0].Probability
	for i := range out {
		out[i].Probability = math.Exp(out[i].Probability - most)
		sum += out[i].Probability
	}
	var check UnitCheck
	for _, r := range out {
		r.Probability /= sum
		check.Doubt = check.Doubt || r.Millimetres == 1 && r.Probability < doubted
		if r.Probability >= rival {
			check.Readings = append(check.Readings, r)
		}
	}
	return check
}
