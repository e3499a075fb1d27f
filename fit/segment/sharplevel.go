package segment

import (
	"cmp"
	"context"
	"slices"
)

// level is how far a free point lies along a direction, or off an axis, mm.
type level struct {
	p int32
	h float64
}

// levels finds the surfaces whose direction or axis is known from others: the
// planes square to a direction that is known, and the cylinders about an axis. Of
// these only one number is to be found, and the points of all their pieces agree in
// it to the last digits, be they as narrow as the ring between two coaxial walls
// that differ by a few hundredths of their radius, or in as many pieces as the tips
// of a gear's teeth: in a window of two bands there are far more than in those beside
// it. (A thousand points over a hundred spacings bring 0.02 into a window by chance, and
// eight once in some 10^18.) Strips along a bent surface have more beside them than in
// them (standsOut).
func (x *sharp) levels(ctx context.Context) error {
	var free []int32
	for p, f := range x.r.of {
		if f < 0 {
			free = append(free, int32(p))
		}
	}
	order := make([]level, 0, len(free))
	work := 0
	look := func(s shape) error {
		if work += len(free); work > levelWork {
			return nil
		}
		order = order[:0]
		for _, p := range free {
			if x.r.of[p] < 0 {
				d, _ := s.at(x.at(p))
				order = append(order, level{p, d})
			}
		}
		slices.SortFunc(order, func(a, b level) int { return cmp.Or(cmp.Compare(a.h, b.h), cmp.Compare(a.p, b.p)) })
		x.runs(s, order)
		return ctx.Err()
	}
	for _, a := range x.dirs {
		if err := look(shape{kind: planeKind, a: a}); err != nil {
			return err
		}
	}
	for _, ax := range x.axes {
		if err := look(shape{kind: cylinderKind, p: ax.p, a: ax.a}); err != nil {
			return err
		}
	}
	return nil
}

// runs takes the windows of two bands in order, the fullest first, that hold a
// surface parallel to s.
func (x *sharp) runs(s shape, order []level) {
	type run struct{ from, to int }
	var rs []run
	for i, j := 0, 0; i < len(order); i++ {
		for j < len(order) && order[j].h-order[i].h <= 2*x.eps {
			j++
		}
		if j-i < sharpLeast || s.kind == cylinderKind && order[i].h < 0.2*x.r.tex.Spacing {
			continue
		}
		if n := len(rs); n > 0 && rs[n-1].to > i { // overlapping: the fuller
			if j-i > rs[n-1].to-rs[n-1].from {
				rs[n-1] = run{i, j}
			}
			continue
		}
		rs = append(rs, run{i, j})
	}
	slices.SortStableFunc(rs, func(a, b run) int { return cmp.Compare(b.to-b.from, a.to-a.from) })
	for _, r := range rs {
		in := order[r.from:r.to]
		mid := in[len(in)/2].h
		if !standsOut(order, r.from, r.to, mid, x.eps) {
			continue
		}
		ps := make([]int32, len(in))
		for k, l := range in {
			ps[k] = l.p
		}
		slices.Sort(ps)
		level := s
		if s.kind == planeKind {
			level.p = s.a.Mul(mid)
		} else {
			level.r = mid
		}
		x.takeLevel(&level, ps)
	}
}

// standsOut reports whether the window from i to j of order does, as ends asks of a
// surface with known neighbours: few lie up to ten bands off its middle; up to a
// hundred not many more than in it, as what lies there may be of other surfaces.
func standsOut(order []level, i, j int, mid, eps float64) bool {
	in := j - i
	near, far := 0, 0
	for k := i - 1; k >= 0 && mid-order[k].h <= 100*eps; k-- {
		if far++; mid-order[k].h <= 10*eps {
			near++
		}
	}
	for k := j; k < len(order) && order[k].h-mid <= 100*eps; k++ {
		if far++; order[k].h-mid <= 10*eps {
			near++
		}
	}
	return 12*near <= in && far <= levelTimes*in
}

// takeLevel makes a surface of s, whose direction is known better than a few points
// would tell it, and its points ps, if they settle it.
func (x *sharp) takeLevel(s *shape, ps []int32) {
	f := finder{sharp: x, least: sharpLeast}
	if !f.face(s, ps) {
		return
	}
	k := int32(len(x.r.surfs))
	x.r.surfs = append(x.r.surfs, surf{shape: *s, side: x.side(s, ps), band: x.eps, count: len(ps)})
	for _, p := range ps {
		x.r.of[p] = k
	}
}
