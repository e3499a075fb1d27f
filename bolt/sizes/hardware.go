package sizes

import (
	"math"
	"strings"
)

// Fastener is a standard size of bolts and screws.
type Fastener struct {
	Name     string
	Diameter float64 // mm
}

// Inch reports whether a hole of this size, mm, with its standard uncertainty, more
// probably serves an inch fastener than a metric one.
func Inch(hole, u float64) bool {
	inches, metric := 0.0, 0.0
	for _, c := range Candidates(Hole, hole, u) {
		if strings.HasPrefix(c.Standard, "ASME") || strings.HasPrefix(c.Standard, "inch") {
			inches += c.Probability
		} else if c.Name != None {
			metric += c.Probability
		}
	}
	return inches > metric
}

// LargestFastener returns the largest standard fastener thinner than most, mm: a metric
// one of the first choice, or an inch one. Below the thinnest there is none.
func LargestFastener(most float64, inches bool) (f Fastener, ok bool) {
	for _, t := range table(inches) {
		if d := t.diameter * unitOf(inches); !t.second && d < most {
			f, ok = Fastener{t.name, d}, true
		}
	}
	return f, ok
}

// Drill returns the smallest standard drill of at least this diameter, mm, and its name:
// in steps of 0.1 mm to 14 mm and 0.5 mm above (ISO 235, from memory), or of 1/64 in.
func Drill(least float64, inches bool) (diameter float64, name string) {
	up := func(step float64) float64 { return math.Ceil(least/step - 1e-9) }
	switch {
	case inches:
		v := up(inchMM/64) / 64
		return v * inchMM, Inches(v) + " in"
	case least <= 14:
		diameter = up(0.1) / 10
	default:
		diameter = up(0.5) / 2
	}
	return diameter, number(diameter) + " mm"
}

// FastenerOf returns the standard fastener nearest to this diameter, if any is within so
// many millimetres.
func FastenerOf(diameter, within float64) (f Fastener, ok bool) {
	for _, inches := range []bool{false, true} {
		for _, t := range table(inches) {
			d := t.diameter * unitOf(inches)
			if off := math.Abs(d - diameter); off <= within {
				f, ok, within = Fastener{t.name, d}, true, off
			}
		}
	}
	return f, ok
}

// Holes returns the medium clearance hole of a standard fastener and the drill for tapping
// its coarse thread, mm; zero where the tables have none.
func (f Fastener) Holes() (clearance, tap float64) {
	for _, inches := range []bool{false, true} {
		for _, t := range table(inches) {
			if t.name == f.Name {
				return t.clear[1] * unitOf(inches), t.drill * unitOf(inches)
			}
		}
	}
	return 0, 0
}

func table(inches bool) []fastener {
	if inches {
		return inch[:]
	}
	return metric[:]
}

func unitOf(inches bool) float64 {
	if inches {
		return inchMM
	}
	return 1
}
