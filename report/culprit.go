package report

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"spotface/bolt"
	"spotface/bolt/pattern"
)

// FindStandouts looks for the smallest set of holes without which the rest
// agree with the nominal pattern within their uncertainty, or at least far
// better than the set does. At most (n-2)/2 of n holes, and no more than eight,
// can stand out. All holes
// are looked at together, along the circle and across: over regular patterns one
// is named in at most 5 % of scans (Bonferroni). It returns nil where too few
// holes make a ring of their own, or nothing is known of their uncertainty. It notes in
// c.Clocking where each hole lies against those on pattern.
func FindStandouts(rep *Report, c *BoltCircle) *Standouts {
	r, ok := newRing(rep, c)
	if !ok {
		return nil
	}
	n := len(r.holes)
	all := r.without(nil)
	from, ok := r.leaveOut(all)
	if !ok {
		return nil
	}
	for i := range from {
		c.Clocking[i].against(&from[i], true)
	}
	if r.worst(from) < r.z {
		return &Standouts{Holes: []Standout{}}
	}
	var set []int
	var second *Standouts // names a set, though the rest still scatter
	for k := 1; k <= min((n-2)/2, 8); k++ {
		var clear bool
		if set, clear = r.best(set, k); set == nil {
			break
		}
		out, from := r.explain(set)
		if out == nil || out.RestScatter > 0 && (second != nil || !clear) {
			continue
		}
		second = out
		for i := range from {
			c.Clocking[i].against(&from[i], !slices.Contains(set, i))
		}
		if out.RestScatter == 0 {
			break
		}
	}
	if second != nil {
		return second
	}
	for i := range c.Clocking { // with no ring to hold them against
		c.Clocking[i].against(nil, false)
	}
	return &Standouts{Holes: []Standout{}, Scatter: true}
}

// against notes where the hole lies against the holes on pattern; nil where none are known.
func (k *Clocking) against(s *Standout, on bool) {
	k.FromPatternDeg, k.FromPatternOut, k.OnPattern = nil, nil, on
	k.FromPatternUncertaintyDeg, k.FromPatternOutUncertainty = 0, 0
	if s != nil {
		k.FromPatternDeg, k.FromPatternUncertaintyDeg = number(s.Deg), s.DegU
		k.FromPatternOut, k.FromPatternOutUncertainty = number(s.Out), s.OutU
	}
}

// ring is a bolt circle's holes and their nominal pattern, whose centre, turn and radius
// are free. That uses both directions of each centre for the place of the pattern, and so
// tells a hole that is off better than angles about the circle's centre do: with n equal
// holes the others predict its place along the circle with s² (1 + 2/(n-1)), and the
// circle's centre with s² (1 + 3/(n-1)).
type ring struct {
	holes   []bolt.Hole
	places  pattern.Places
	nominal [][2]float64
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
	var ids []string
	for _, k := range c.Clocking {
		h := rep.Hole(k.Hole)
		if h == nil || k.NominalDeg == nil || h.Uncertainty.Centre == 0 {
			return nil, false
		}
		ids = append(ids, k.Hole)
		r.nominal = append(r.nominal, polar(r.radius, *k.NominalDeg))
	}
	r.holes = rep.BoltHoles(ids...)
	r.places = bolt.PlacesOf(r.holes, c.Centre.R3(), c.Axis.R3())
	r.z = standsOut(n, 0.05)
	r.rest = standsOut(n, 0.002)
	return r, true
}

// standsOut is how many standard uncertainties one of n holes must be off, along or across
// and either way, to be more than chance with the probability p.
func standsOut(n int, p float64) float64 {
	return distuv.UnitNormal.Quantile(1 - p/float64(4*n))
}

// polar returns the place at a radius and an angle, degrees.
func polar(radius, deg float64) [2]float64 {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	return [2]float64{radius * cos, radius * sin}
}

// through lays the pattern through the holes idx; false where they do not hold it.
func (r *ring) through(idx []int) (*pattern.Fit, bool) {
	f, err := pattern.To(r.nominal, r.places, pattern.Options{Use: idx, ByVariance: true})
	return f, err == nil
}

// leaveOut returns where each hole of idx lies against the pattern laid through the others
// of idx.
func (r *ring) leaveOut(idx []int) ([]Standout, bool) {
	var out []Standout
	for k, i := range idx {
		l, ok := r.through(slices.Delete(slices.Clone(idx), k, k+1))
		if !ok {
			return nil, false
		}
		out = append(out, r.off(l, i))
	}
	return out, true
}

// off is where hole i lies against the pattern laid by f.
func (r *ring) off(f *pattern.Fit, i int) Standout {
	along, across := f.Polar(i)
	return Standout{Hole: r.holes[i].ID, Deg: degrees(along.Off), DegU: Coverage * degrees(along.U),
		Along: along.Off * r.radius, AlongU: Coverage * along.U * r.radius,
		Out: across.Off, OutU: Coverage * across.U}
}

// ratios are how far off it is along and across, in standard uncertainties.
func (s *Standout) ratios() (along, across float64) {
	return pattern.Value{Off: s.Deg, U: s.DegU / Coverage}.Ratio(), pattern.Value{Off: s.Out, U: s.OutU / Coverage}.Ratio()
}

// worst returns the largest of the holes' distances, in standard uncertainties.
func (r *ring) worst(from []Standout) float64 {
	w := 0.0
	for i := range from {
		along, across := from[i].ratios()
		w = max(w, along, across)
	}
	return w
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
		switch f, ok := r.through(r.without(set)); {
		case !ok:
		case f.Misfit < least:
			best, least, next = set, f.Misfit, least
		case f.Misfit < next:
			next = f.Misfit
		}
	}
	// Two coordinates a hole that is left, less centre, radius and turn.
	freedom := float64(2*(len(r.holes)-k) - 4)
	return best, next-least >= clearly*max(1, least/freedom)
}

func (r *ring) without(set []int) []int { return pattern.Without(len(r.holes), set...) }

// explain measures each hole of set against the ring of the rest, and all holes against
// the others of the rest. It returns nil
// where one of them does not stand out of its uncertainty and of four times the
// rest's own scatter.
func (r *ring) explain(set []int) (*Standouts, []Standout) {
	slices.Sort(set)
	rest := r.without(set)
	laid, ok := r.through(rest)
	others, all := r.leaveOut(rest)
	if !ok || !all {
		return nil, nil
	}
	out := &Standouts{}
	if r.worst(others) >= r.rest { // more than the scan's noise
		for _, i := range rest {
			d := laid.Off(i).XY
			out.RestScatter += (d[0]*d[0] + d[1]*d[1]) / float64(2*len(rest))
		}
		out.RestScatter = math.Sqrt(out.RestScatter)
	}
	from := make([]Standout, len(r.holes))
	for k, i := range rest {
		from[i] = others[k]
	}
	for _, i := range set {
		s := r.off(laid, i)
		along, across := s.ratios()
		s.Turned = along >= r.z && math.Abs(s.Along) >= 4*out.RestScatter
		s.Shifted = across >= r.z && math.Abs(s.Out) >= 4*out.RestScatter
		if !s.Turned && !s.Shifted {
			return nil, nil
		}
		out.Holes = append(out.Holes, s)
		from[i] = s
	}
	return out, from
}
