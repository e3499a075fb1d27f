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
// better than the set does. At most (n-2)/2 of n holes, and no more than eight,
// can stand out. All holes
// are looked at together, along the circle and across: over regular patterns one
// is named in at most 5 % of scans (Bonferroni). It returns nil where too few
// holes make a ring of their own, or nothing is known of their uncertainty.
func FindStandouts(rep *Report, c *BoltCircle) *Standouts {
	r, ok := newRing(rep, c)
	if !ok {
		return nil
	}
	n := len(r.holes)
	worst, ok := r.worst(r.without(nil))
	switch {
	case !ok:
		return nil
	case worst < r.z:
		return &Standouts{Holes: []Standout{}}
	}
	var set []int
	var second *Standouts // names a set, though the rest still scatter
	for k := 1; k <= min((n-2)/2, 8); k++ {
		var clear bool
		if set, clear = r.best(set, k); set == nil {
			break
		}
		out := r.explain(set)
		switch {
		case out == nil:
		case out.RestScatter == 0:
			return out
		case second == nil && clear:
			second = out
		}
	}
	if second != nil {
		return second
	}
	return &Standouts{Holes: []Standout{}, Scatter: true}
}

type ring struct {
	pattern
	holes   []bolt.Hole
	nominal []float64 // degrees
	radius  float64
	// z is how many standard uncertainties a hole must be off to count; rest the
	// same for those that remain when some are named already, where blaming one
	// more takes better evidence.
	z, rest float64
}

func newRing(rep *Report, c *BoltCircle) (*ring, bool) {
	n := len(c.Clocking)
	if n < 4 {
		return nil, false
	}
	r := &ring{radius: c.PitchDiameter / 2}
	for _, k := range c.Clocking {
		h := rep.hole(k.Hole)
		if h == nil || k.NominalDeg == nil || h.Uncertainty.Centre == 0 {
			return nil, false
		}
		r.holes = append(r.holes, h.asBolt())
		r.nominal = append(r.nominal, *k.NominalDeg)
	}
	r.pattern = newPattern(c, r.holes, r.nominal)
	looks := float64(4 * n) // along and across, either way
	r.z = distuv.UnitNormal.Quantile(1 - 0.05/looks)
	r.rest = distuv.UnitNormal.Quantile(1 - 0.002/looks)
	return r, true
}

// worst returns the largest of the holes' distances from the pattern laid through
// the others, in standard uncertainties.
func (r *ring) worst(idx []int) (float64, bool) {
	w := 0.0
	for k := range idx {
		l, ok := r.through(slices.Delete(slices.Clone(idx), k, k+1))
		if !ok {
			return 0, false
		}
		off := r.ratio(l, idx[k])
		w = max(w, off[0], off[1])
	}
	return w, true
}

// misfit is the sum of squares of the holes' distances from the pattern laid
// through them, by their covariances, and their root mean square in mm.
func (r *ring) misfit(idx []int) (chi2, rms float64, ok bool) {
	l, ok := r.through(idx)
	if !ok {
		return 0, 0, false
	}
	for _, i := range idx {
		d, c := r.off(l, i), r.cov[i]
		det := c[0][0]*c[1][1] - c[0][1]*c[1][0]
		chi2 += (d[0]*d[0]*c[1][1] - 2*d[0]*d[1]*c[0][1] + d[1]*d[1]*c[0][0]) / det
		rms += d[0]*d[0] + d[1]*d[1]
	}
	return chi2, math.Sqrt(rms / float64(2*len(idx))), true
}

// clearly is how much less the misfit of the best set must be than that of the
// next, in units of the rest's own scatter: the likelihood of the next is then a
// thousandth, exp(-clearly/2).
const clearly = 13.8

// best returns the k holes whose removal leaves the ring that fits best: all
// pairs are tried up to 12 holes, else the set before grows by one. It is clear
// if no other set does nearly as well: of four holes that scatter, each may pass
// for the culprit.
func (r *ring) best(before []int, k int) (best []int, clear bool) {
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
	least, next := math.Inf(1), math.Inf(1)
	for _, set := range sets {
		switch m, _, ok := r.misfit(r.without(set)); {
		case !ok:
		case m < least:
			best, least, next = set, m, least
		case m < next:
			next = m
		}
	}
	// Two coordinates a hole that is left, less centre, radius and turn.
	freedom := float64(2*(len(r.holes)-k) - 4)
	return best, next-least >= clearly*max(1, least/freedom)
}

func (r *ring) without(set []int) []int {
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
func (r *ring) explain(set []int) *Standouts {
	slices.Sort(set)
	rest := r.without(set)
	laid, ok := r.through(rest)
	if !ok {
		return nil
	}
	out := &Standouts{}
	worst, ok := r.worst(rest)
	if _, rms, fits := r.misfit(rest); !ok || !fits {
		return nil
	} else if worst >= r.rest {
		out.RestScatter = rms // more than the scan's noise
	}
	turned := func(i int) (along, across bool) {
		ratio, off := r.ratio(laid, i), r.off(laid, i)
		return ratio[0] >= r.z && math.Abs(off[0]) >= 4*out.RestScatter,
			ratio[1] >= r.z && math.Abs(off[1]) >= 4*out.RestScatter
	}
	for _, i := range set {
		if a, b := turned(i); !a && !b {
			return nil
		}
	}
	c, err := r.clock(rest)
	if err != nil {
		return nil
	}
	for _, k := range c.Clocking {
		if k.HasOthers {
			out.FromRest = append(out.FromRest, fromRest(k))
		}
	}
	for _, i := range set {
		k, ok := r.amongst(rest, i)
		if !ok {
			return nil
		}
		s := Standout{Hole: k.Hole, Deg: k.FromOthers.Degrees(), DegU: coverage * k.FromOthersU.Degrees(),
			Along: k.FromOthers.Radians() * r.radius, AlongU: coverage * k.FromOthersU.Radians() * r.radius,
			Out: k.RadialFromOthers, OutU: coverage * max(k.FromOthersU.Radians()*r.radius, k.RadialU)}
		s.Turned, s.Shifted = turned(i)
		out.Holes = append(out.Holes, s)
		out.FromRest = append(out.FromRest, fromRest(k))
	}
	return out
}

// amongst measures hole i as one more of the ring that rest makes.
func (r *ring) amongst(rest []int, i int) (bolt.Clocking, bool) {
	idx := append(slices.Clone(rest), i)
	slices.Sort(idx)
	c, err := r.clock(idx)
	if err != nil {
		return bolt.Clocking{}, false
	}
	for _, k := range c.Clocking {
		if k.Hole == r.holes[i].ID {
			return k, k.HasOthers
		}
	}
	return bolt.Clocking{}, false
}

func fromRest(k bolt.Clocking) FromRest {
	return FromRest{Hole: k.Hole, Deg: k.FromOthers.Degrees(), DegU: coverage * k.FromOthersU.Degrees()}
}

// clock measures the holes numbered idx, in order, as a ring of their own.
func (r *ring) clock(idx []int) (bolt.Circle, error) {
	holes := make([]bolt.Hole, len(idx))
	nom := bolt.Nominal{Angles: make([]s1.Angle, len(idx))}
	for k, i := range idx {
		holes[k] = r.holes[i]
		nom.Angles[k] = bolt.Wrap(s1.Angle(r.nominal[i]-r.nominal[idx[0]]) * s1.Degree)
	}
	return bolt.Clock(holes, nom)
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
		DiameterU: h.Uncertainty.Diameter / coverage, UnseenU: h.Uncertainty.DiameterUnseen / coverage}
	if h.Direction != nil {
		b.Direction = h.Direction.R3()
	}
	return b
}
