package report

import (
	"math"
	"slices"

	"github.com/golang/geo/s1"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/bolt"
)

// FindStandouts looks for the smallest set of holes without which the rest
// agree with the nominal pattern within their uncertainty, or at least far
// better than the set does. At most (n-2)/2 of n holes can stand out. All holes
// are looked at together: over regular patterns one is named in 5 % of scans
// (Bonferroni). It returns nil where too few holes make a ring of their own, or
// nothing is known of their uncertainty.
func FindStandouts(rep *Report, c *BoltCircle) *Standouts {
	r, ok := newReader(rep, c)
	if !ok {
		return nil
	}
	n := len(r.holes)
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	whole, ok := r.clock(all)
	switch {
	case !ok:
		return nil
	case r.worst(whole) < r.z:
		return &Standouts{Holes: []Standout{}}
	}
	var set []int
	for k := 1; k <= (n-2)/2; k++ {
		if set = r.best(set, k); set == nil {
			break
		}
		if out := r.explain(set); out != nil {
			return out
		}
	}
	return &Standouts{Holes: []Standout{}, Scatter: true}
}

type ringReader struct {
	holes   []bolt.Hole
	nominal []float64 // degrees
	radius  float64
	z       float64 // standard uncertainties that a hole must be off to count
}

func newReader(rep *Report, c *BoltCircle) (*ringReader, bool) {
	n := len(c.Clocking)
	if n < 4 {
		return nil, false
	}
	r := &ringReader{radius: c.PitchDiameter / 2}
	for _, k := range c.Clocking {
		h := rep.hole(k.Hole)
		if h == nil || k.NominalDeg == nil || h.Uncertainty.Centre == 0 {
			return nil, false
		}
		r.holes = append(r.holes, h.asBolt())
		r.nominal = append(r.nominal, *k.NominalDeg)
	}
	// 2n looks, along and across, either way.
	r.z = distuv.UnitNormal.Quantile(1 - 0.05/float64(4*n))
	return r, true
}

// clock measures the holes numbered idx, in order, as a ring of their own.
func (r *ringReader) clock(idx []int) (bolt.Circle, bool) {
	holes := make([]bolt.Hole, len(idx))
	nom := bolt.Nominal{Angles: make([]s1.Angle, len(idx))}
	for k, i := range idx {
		holes[k] = r.holes[i]
		nom.Angles[k] = bolt.Wrap(s1.Angle(r.nominal[i]-r.nominal[idx[0]]) * s1.Degree)
	}
	c, err := bolt.Clock(holes, nom)
	return c, err == nil
}

// worst returns the largest of the holes' distances from the ring of the
// others, in standard uncertainties.
func (r *ringReader) worst(c bolt.Circle) float64 {
	w := 0.0
	for _, k := range c.Clocking {
		if k.HasOthers {
			along, out := r.ratios(k)
			w = max(w, along, out)
		}
	}
	return w
}

func (r *ringReader) ratios(k bolt.Clocking) (along, out float64) {
	return math.Abs(k.FromOthers.Radians() / k.FromOthersU.Radians()), math.Abs(k.RadialFromOthers) / r.outU(k)
}

// outU is the standard uncertainty, mm, of how far a hole lies outward of the
// circle of the others: not less than along the circle.
func (r *ringReader) outU(k bolt.Clocking) float64 {
	return max(k.FromOthersU.Radians()*r.radius, k.RadialU)
}

// misfit is the mean square of the ring's deviations in standard
// uncertainties, along and across, and their root mean square in mm.
func (r *ringReader) misfit(c bolt.Circle) (ratio, rms float64) {
	for _, k := range c.Clocking {
		along := k.Deviation.Radians() * r.radius
		rms += along*along + k.Radial*k.Radial
		ratio += math.Pow(k.Deviation.Radians()/k.U.Radians(), 2)
		if k.RadialU > 1e-3*r.radius*k.U.Radians() { // three holes lie on their circle exactly
			ratio += math.Pow(k.Radial/k.RadialU, 2)
		}
	}
	return ratio, math.Sqrt(rms / float64(2*len(c.Clocking)))
}

// best returns the k holes whose removal leaves the ring that fits best: all
// sets are tried up to 12 holes and two of them, beyond that the set before
// grows by one.
func (r *ringReader) best(before []int, k int) []int {
	var sets [][]int
	switch n := len(r.holes); {
	case k == 2 && n <= 12:
		for i := range n {
			for j := i + 1; j < n; j++ {
				sets = append(sets, []int{i, j})
			}
		}
	default:
		for i := range n {
			if !slices.Contains(before, i) {
				sets = append(sets, append(slices.Clone(before), i))
			}
		}
	}
	var best []int
	least := math.Inf(1)
	for _, set := range sets {
		if c, ok := r.clock(r.without(set)); ok {
			if m, _ := r.misfit(c); m < least {
				best, least = set, m
			}
		}
	}
	return best
}

func (r *ringReader) without(set []int) []int {
	var rest []int
	for i := range r.holes {
		if !slices.Contains(set, i) {
			rest = append(rest, i)
		}
	}
	return rest
}

// explain measures each hole of set against the ring of the rest. It returns nil
// where one of them does not stand out of its uncertainty and of four times the
// rest's own scatter.
func (r *ringReader) explain(set []int) *Standouts {
	slices.Sort(set)
	rest := r.without(set)
	c, ok := r.clock(rest)
	if !ok {
		return nil
	}
	out := &Standouts{}
	if _, rms := r.misfit(c); r.worst(c) >= r.z {
		out.RestScatter = rms // more than the scan's noise
	}
	for _, k := range c.Clocking {
		if k.HasOthers {
			out.FromRest = append(out.FromRest, fromRest(k))
		}
	}
	for _, i := range set {
		idx := append(slices.Clone(rest), i)
		slices.Sort(idx)
		c, ok := r.clock(idx)
		at := slices.IndexFunc(c.Clocking, func(k bolt.Clocking) bool { return k.Hole == r.holes[i].ID })
		if !ok || at < 0 || !c.Clocking[at].HasOthers {
			return nil
		}
		s := r.standout(c.Clocking[at], 4*out.RestScatter)
		if !s.Turned && !s.Shifted {
			return nil
		}
		out.Holes = append(out.Holes, s)
		out.FromRest = append(out.FromRest, fromRest(c.Clocking[at]))
	}
	return out
}

func fromRest(k bolt.Clocking) FromRest {
	return FromRest{Hole: k.Hole, Deg: k.FromOthers.Degrees(), DegU: coverage * k.FromOthersU.Degrees()}
}

// standout measures a hole against the ring of the others; least is how far, mm,
// it has to be off to count.
func (r *ringReader) standout(k bolt.Clocking, least float64) Standout {
	along, across := r.ratios(k)
	s := Standout{Hole: k.Hole, Deg: k.FromOthers.Degrees(), DegU: coverage * k.FromOthersU.Degrees(),
		Along: k.FromOthers.Radians() * r.radius, AlongU: coverage * k.FromOthersU.Radians() * r.radius,
		Out: k.RadialFromOthers, OutU: coverage * r.outU(k)}
	s.Turned = along >= r.z && math.Abs(s.Along) >= least
	s.Shifted = across >= r.z && math.Abs(s.Out) >= least
	return s
}

// hole returns the hole or stud called id, or nil.
func (rep *Report) hole(id string) *Hole {
	for _, list := range [][]Hole{rep.Holes, rep.Studs} {
		for i := range list {
			if list[i].ID == id {
				return &list[i]
			}
		}
	}
	return nil
}

// asBolt returns the hole as package bolt takes it. Where the report came from
// a file the centre is taken as equally sure in all directions.
func (h *Hole) asBolt() bolt.Hole {
	if h.measured != nil {
		return *h.measured
	}
	v := math.Pow(h.Uncertainty.Centre/coverageCentre, 2)
	b := bolt.Hole{ID: h.ID, Kind: bolt.Kind(h.Kind), Centre: h.Centre.R3(), Axis: h.Axis.R3(),
		Diameter: h.Diameter, Face: h.Face, Wall: h.Wall, From: bolt.From(h.From),
		Width: h.Width, Length: h.Length, CentreCov: [2][2]float64{{v, 0}, {0, v}},
		DiameterU: h.Uncertainty.Diameter / coverage}
	if h.Direction != nil {
		b.Direction = h.Direction.R3()
	}
	return b
}
