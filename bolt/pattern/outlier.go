package pattern

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Place is where a member lies against a nominal pattern: how far it is turned about
// the pattern's centre, rad, counter-clockwise, and how far out it lies, mm.
type Place struct{ Turn, Out Value }

// Ratio is the larger of the two in standard uncertainties.
func (p Place) Ratio() float64 { return max(p.Turn.Ratio(), p.Out.Ratio()) }

// Outliers says which members leave a nominal pattern.
type Outliers struct {
	Off             []int  // members that are off, ascending
	Turned, Shifted []bool // of each of them, which of its two figures stands out
	// Against is where each member lies against the pattern laid through the others that
	// are on it; nil where the members scatter.
	Against []Place
	// RestScatter is the root mean square, mm, by which the members that are not off leave
	// the pattern, where that is more than their uncertainty; else 0. Scatter is true
	// where members leave the pattern and no few of them explain it.
	RestScatter float64
	Scatter     bool
}

// FindOutliers looks for the smallest set of members without which the rest agree with
// the nominal pattern within their uncertainty, or at least far better than the set does.
// At most (n-2)/2 of n members, and no more than mostOff, can be off. All are looked at
// together, along the circle and across: over regular patterns one is named in at most
// 5 % of scans (Bonferroni). It returns false where fewer than four members make no
// pattern of their own without one, or nothing is known of their uncertainty.
//
// Centre, turn and size of the pattern are free. That uses both directions of each place
// and so finds a member that is off better than angles about the circle's centre do: with
// n equal holes the others predict its place along the circle with s² (1 + 2/(n-1)), and
// the circle's centre with s² (1 + 3/(n-1)).
func FindOutliers(nominal [][2]float64, p Places) (Outliers, bool) {
	n := len(nominal)
	if n < 4 {
		return Outliers{}, false
	}
	o := outlierSearch{nominal: nominal, places: p, z: StandsOut(n, falseOutlier, p.DOF),
		rest: StandsOut(n, falseFurther, p.DOF)}
	against, ok := o.leaveOut(Without(n))
	if !ok {
		return Outliers{}, false
	}
	if worst(against) < o.z {
		return Outliers{Against: against}, true
	}
	var set []int
	found, have := Outliers{Scatter: true}, false
	for k := 1; k <= min((n-2)/2, mostOff); k++ {
		var clear bool
		if set, clear = o.best(set, k); set == nil {
			break
		}
		out, ok := o.explain(set)
		if !ok || out.RestScatter > 0 && (have || !clear) {
			continue
		}
		found, have = out, true // names a set, though the rest may still scatter
		if out.RestScatter == 0 {
			break
		}
	}
	return found, true
}

// StandsOut is how many standard uncertainties one of n members must be off, along or
// across and either way, to be more than chance with the probability p: Bonferroni's bound
// for the largest of the 2n distances. With ν degrees of freedom each has the distribution
// of Student, of which the standard uncertainty is the standard deviation, √(ν/(ν-2)) of its
// scale (the outlier test of Cook and Weisberg, Residuals and influence in regression,
// 1982, chapter 2; from memory). dof is ν, 0 for the normal distribution.
func StandsOut(n int, p, dof float64) float64 {
	q := 1 - p/float64(4*n)
	if dof > 2 && dof < nearlyNormal {
		return distuv.StudentsT{Sigma: math.Sqrt((dof - 2) / dof), Nu: dof}.Quantile(q)
	}
	return distuv.UnitNormal.Quantile(q)
}

// outlierSearch lays a nominal pattern through some of its members. z is how many standard
// uncertainties one must be off to count; rest the same for those that remain when some
// are named already, where blaming one more takes better evidence.
type outlierSearch struct {
	nominal [][2]float64
	places  Places
	z, rest float64
}

// through lays the pattern through the members idx; false where they do not hold it.
func (o *outlierSearch) through(idx []int) (*Fit, bool) {
	f, err := To(o.nominal, o.places, Options{Use: idx, ByVariance: true})
	return f, err == nil
}

// leaveOut returns where each member of idx lies against the pattern laid through the
// others of idx.
func (o *outlierSearch) leaveOut(idx []int) (out []Place, ok bool) {
	for k, i := range idx {
		f, ok := o.through(slices.Delete(slices.Clone(idx), k, k+1))
		if !ok {
			return nil, false
		}
		out = append(out, f.place(i))
	}
	return out, true
}

func (f *Fit) place(i int) (p Place) {
	p.Turn, p.Out = f.Polar(i)
	return p
}

// worst returns the largest of the distances, in standard uncertainties.
func worst(all []Place) (w float64) {
	for _, p := range all {
		w = max(w, p.Ratio())
	}
	return w
}

// best returns the k members whose removal leaves the pattern that fits best: all pairs
// are tried up to 12 members, else the set before grows by one. It is clear if no other
// set does nearly as well: of four that scatter, each may pass for the one that is off.
func (o *outlierSearch) best(before []int, k int) (best []int, clear bool) {
	var sets [][]int
	n := len(o.nominal)
	for i := range n {
		if k == 2 && n <= 12 {
			for j := i + 1; j < n; j++ {
				sets = append(sets, []int{i, j})
			}
		} else if !slices.Contains(before, i) {
			sets = append(sets, append(slices.Clone(before), i))
		}
	}
	least, next := math.Inf(1), math.Inf(1)
	for _, set := range sets {
		switch f, ok := o.through(Without(n, set...)); {
		case !ok:
		case f.Misfit < least:
			best, least, next = set, f.Misfit, least
		case f.Misfit < next:
			next = f.Misfit
		}
	}
	// Two coordinates a member that is left, less centre, size and turn.
	freedom := float64(2*(n-k) - 4)
	return best, next-least >= clearly*max(1, least/freedom)
}

// explain measures each member of set against the pattern of the rest, and all against the
// others of the rest. It is false where one of the set does not stand out of its
// uncertainty and of four times the rest's own scatter.
func (o *outlierSearch) explain(set []int) (out Outliers, ok bool) {
	slices.Sort(set)
	rest := Without(len(o.nominal), set...)
	laid, ok := o.through(rest)
	others, all := o.leaveOut(rest)
	if !ok || !all {
		return out, false
	}
	if worst(others) >= o.rest { // more than the scan's noise
		for _, i := range rest {
			d := laid.off(i)
			out.RestScatter += (d[0]*d[0] + d[1]*d[1]) / float64(2*len(rest))
		}
		out.RestScatter = math.Sqrt(out.RestScatter)
	}
	out.Off, out.Against = set, make([]Place, len(o.nominal))
	for k, i := range rest {
		out.Against[i] = others[k]
	}
	for _, i := range set {
		p := laid.place(i)
		q := o.nominal[i]
		along := math.Abs(p.Turn.Off) * laid.Scale * math.Hypot(q[0], q[1])
		turned := p.Turn.Ratio() >= o.z && along >= 4*out.RestScatter
		shifted := p.Out.Ratio() >= o.z && math.Abs(p.Out.Off) >= 4*out.RestScatter
		if !turned && !shifted {
			return out, false
		}
		out.Turned, out.Shifted = append(out.Turned, turned), append(out.Shifted, shifted)
		out.Against[i] = p
	}
	return out, true
}
