package sizes

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
)

// inchMM is the millimetres in an inch, by definition.
const inchMM = 25.4

// A Kind of length has its own prior.
type Kind int

// The kinds of lengths that are named. A Hole is for a fastener, or tapped for one.
const (
	Hole Kind = iota
	Bore
	PitchDiameter
	Thickness
)

// Candidate is one thing that the maker may have meant. That no standard size was meant
// has no standard and no diameter.
type Candidate struct {
	Name        string  `json:"name"`
	Standard    string  `json:"standard,omitempty"`
	Diameter    float64 `json:"diameter,omitempty"` // or another length, mm
	Off         float64 `json:"off"`                // measured less diameter, in its standard uncertainties
	Probability float64 `json:"probability"`
}

// String is the name with its standard: "clearance for M6 (ISO 273 medium)".
func (c Candidate) String() string {
	if c.Standard == "" {
		return c.Name
	}
	return c.Name + " (" + c.Standard + ")"
}

// None names the candidate that no standard size was meant.
const None = "no standard size"

// Candidates returns what a measured length, mm, was probably meant to be, the most
// probable first, and None among them. Probabilities sum to one but for candidates below
// one in a hundred. The standard uncertainty u, mm, counts as 0.001 at least. A length
// that is not above zero or not finite has no candidates.
func Candidates(k Kind, measured, u float64) []Candidate {
	list, none, _ := weigh(k, measured, u)
	return normalise(list, none)
}

func normalise(list []Candidate, none float64) []Candidate {
	if list == nil {
		return nil
	}
	total := none
	for _, c := range list {
		total += c.Probability
	}
	list = append(list, Candidate{Name: None, Probability: none})
	for i := range list {
		list[i].Probability /= total
	}
	list = slices.DeleteFunc(list, func(c Candidate) bool { return c.Probability < leastListed })
	slices.SortStableFunc(list, func(a, b Candidate) int {
		return cmp.Compare(b.Probability, a.Probability)
	})
	return list
}

// weigh returns the candidates with prior times likelihood in place of the probability,
// the same of no standard size, and the density of any size at all, per mm.
func weigh(k Kind, measured, u float64) (list []Candidate, none, density float64) {
	if !(measured > 0) || math.IsInf(measured, 0) || math.IsNaN(u) || math.IsInf(u, 0) {
		return nil, 0, 0
	}
	s := search{prior: k.prior(), at: measured, u: max(u, LeastU), list: []Candidate{}}
	worst := made[len(made)-1].units * toleranceUnit(measured) / math.Sqrt(12)
	s.half = window * math.Hypot(s.u, worst)
	s.none = 1 - s.clearance - s.inchClearance - s.tapped - s.millimetres - s.preferred - s.fractions
	s.fasteners(metric[:], 1, s.clearance, "ISO 273", [3]string{"fine", "medium", "coarse"})
	s.fasteners(inch[:], inchMM, s.inchClearance, "ASME B18.2.8",
		[3]string{"close", "normal", "loose"})
	s.plain()
	s.inchFractions()
	density = max(s.density(measured), math.SmallestNonzeroFloat32)
	return s.list, s.none * density, density
}

// search gathers the candidates of one measured length.
type search struct {
	prior
	at, u, half float64 // mm
	none        float64 // weight of any size, and of series that u does not resolve
	list        []Candidate
}

// density is that of the kind's sizes at d, per mm.
func (s *search) density(d float64) float64 {
	sd := math.Log(s.factor)
	z := math.Log(d/s.median) / sd
	return math.Exp(-z*z/2) / (sd * math.Sqrt(2*math.Pi) * d)
}

// near reports whether d may be what was measured.
func (s *search) near(d float64) bool { return d > 0 && math.Abs(s.at-d) <= s.half }

// add takes a candidate with the prior probability of its size, mm.
func (s *search) add(name, standard string, d, prior float64) {
	if !s.near(d) || prior == 0 {
		return
	}
	likelihood := 0.0
	for _, m := range made {
		sd := math.Hypot(s.u, m.units*toleranceUnit(d)/math.Sqrt(12))
		z := (s.at - d) / sd
		likelihood += m.weight * math.Exp(-z*z/2) / (sd * math.Sqrt(2*math.Pi))
	}
	s.list = append(s.list, Candidate{Name: name, Standard: standard, Diameter: d,
		Off: (s.at - d) / s.u, Probability: prior * likelihood})
}

// fasteners adds the clearance holes of a table, and its drills for tapping. How many
// fasteners are of a size follows the density of holes.
func (s *search) fasteners(table []fastener, unit, clear float64, standard string, fit [3]string) {
	if clear == 0 {
		return
	}
	sum := 0.0
	share := make([]float64, len(table))
	for i, f := range table {
		if f.clear[0] == 0 {
			continue
		}
		share[i] = s.density(f.diameter*unit) * f.diameter * unit
		if f.second {
			share[i] *= secondChoice
		}
		sum += share[i]
	}
	for i, f := range table {
		w := share[i] / sum
		for j, d := range f.clear {
			p := clear * w * fits[j]
			if f.old[j] > 0 {
				s.add("clearance for "+f.name, "BS 4186 "+fit[j], f.old[j], p*olderTable)
				p *= 1 - olderTable
			}
			s.add("clearance for "+f.name, standard+" "+fit[j], d*unit, p)
		}
		s.add("tapped "+f.name, "drill of ISO 2306", f.drill, s.tapped*w)
	}
}

// grid calls add with each multiple of a series' steps near the measured length, in the
// steps' unit, mm, and with its prior. Where the steps are too fine to tell, their weight
// goes to no standard size.
func (s *search) grid(steps []step, unit, weight float64, add func(v, prior float64)) {
	finest := 0.0
	for _, g := range steps {
		if g.size*unit < s.u {
			s.none += weight * g.weight
		} else {
			finest = g.size // they become finer
		}
	}
	if finest == 0 {
		return
	}
	last := int(math.Floor((s.at + s.half) / (finest * unit)))
	for n := max(1, int(math.Ceil((s.at-s.half)/(finest*unit)))); n <= last; n++ {
		v := math.Round(float64(n)*finest*1e6) / 1e6
		p := 0.0
		for _, g := range steps {
			if g.size >= finest && n%int(math.Round(g.size/finest)) == 0 {
				p += g.weight * g.size * unit
			}
		}
		add(v, weight*p*s.density(v*unit))
	}
}

// plain adds sizes in millimetres: whole ones, parts of one, and preferred numbers.
func (s *search) plain() {
	type size struct {
		name, standard string
		prior          float64
	}
	found := make(map[float64]size)
	s.grid(millimetreSteps[:], 1, s.millimetres, func(v, prior float64) {
		name := "whole millimetre"
		switch n := math.Round(10 * v); {
		case math.Mod(n, 5) != 0:
			name = "tenth of a millimetre"
		case math.Mod(n, 10) != 0:
			name = "half a millimetre"
		}
		found[v] = size{name: name, prior: prior}
	})
	for _, r := range renardSteps { // the coarsest first
		apart := s.at * math.Ln10 / r.size // of its numbers, mm
		if apart < s.u {
			s.none += s.preferred * r.weight
			continue
		}
		for decade := math.Floor(math.Log10(s.at)) - 1; decade <= math.Log10(s.at)+1; decade++ {
			for _, n := range renard {
				v := math.Round(n.number*math.Pow(10, decade+3)) / 1000
				if float64(n.series) > r.size || v < leastPreferred || !s.near(v) {
					continue
				}
				old := found[v]
				old.prior += s.preferred * r.weight * apart * s.density(v)
				old.name = cmp.Or(old.name, "preferred number")
				old.standard = fmt.Sprintf("ISO 3 R%d", n.series)
				found[v] = old
			}
		}
	}
	for _, v := range slices.Sorted(maps.Keys(found)) {
		s.add(found[v].name, found[v].standard, v, found[v].prior)
	}
}

// inchFractions adds inches and their parts down to 1/64.
func (s *search) inchFractions() {
	s.grid(fractionSteps[:], inchMM, s.fractions, func(v, prior float64) {
		s.add(Inches(v)+" in", "inch fraction", v*inchMM, prior)
	})
}

// Inches prints inches as whole ones and a fraction of 64ths at most, "2 63/64", as near as
// that comes.
func Inches(v float64) string {
	n, of := int(math.Round(v*64)), 64
	whole := n / of
	for n %= of; n != 0 && n%2 == 0; n /= 2 {
		of /= 2
	}
	switch {
	case n == 0:
		return strconv.Itoa(whole)
	case whole == 0:
		return fmt.Sprintf("%d/%d", n, of)
	}
	return fmt.Sprintf("%d %d/%d", whole, n, of)
}

// number prints a size without needless zeros.
func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// Size is what the candidates of one length say together: a size may serve as more than
// one thing, as a hole of 5 mm is plain or the drill for M6.
type Size struct {
	Diameter    float64 // mm; 0: no standard size
	Probability float64 // of this size, whatever it serves as
	Serves      []Candidate
}

// Likely reports whether the size is more probable than all else together.
func (s Size) Likely() bool { return s.Probability >= likely }

// Uses says what the size serves as, the most probable first: "clearance for M6 (ISO 273
// medium)", or two of them.
func (s Size) Uses() string {
	words := make([]string, 0, len(s.Serves))
	for i, c := range s.Serves {
		if i == 0 || c.Probability >= useFrom*s.Probability {
			words = append(words, c.String())
		}
	}
	return strings.Join(words, " or ")
}

// Best returns the most probable size of Candidates, the zero Size where there are none.
func Best(list []Candidate) Size {
	var best Size
	for _, c := range list {
		s := Size{Diameter: c.Diameter}
		for _, o := range list {
			if math.Abs(o.Diameter-c.Diameter) <= sameSize {
				s.Probability += o.Probability
				s.Serves = append(s.Serves, o)
			}
		}
		if s.Probability > best.Probability+1e-9 {
			best = s
		}
	}
	return best
}
