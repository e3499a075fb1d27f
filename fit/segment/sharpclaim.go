package segment

import (
	"cmp"
	"math"
	"slices"
)

// bySize returns the surfaces, largest first.
func (x *sharp) bySize() []int32 {
	var order []int32
	for k := range x.r.surfs {
		if x.r.surfs[k].count > 0 {
			order = append(order, int32(k))
		}
	}
	slices.SortStableFunc(order, func(a, b int32) int { return cmp.Compare(x.r.surfs[b].count, x.r.surfs[a].count) })
	return order
}

// claim gives surface k the free points on it that can be reached from ps.
func (x *sharp) claim(k int32, ps []int32) {
	f := &x.r.surfs[k]
	queue := slices.Clone(ps)
	for at := 0; at < len(queue); at++ {
		for _, q := range x.of(queue[at]) {
			if q < 0 || x.r.of[q] >= 0 {
				continue
			}
			if _, ok := x.on(&f.shape, q); ok {
				x.r.of[q] = k
				f.count++
				queue = append(queue, q)
			}
		}
	}
}

// join makes one of surfaces that are one: the points of the smaller lie
// on the larger.
func (x *sharp) join() {
	r := x.r
	lists := r.lists()
	order := x.bySize()
	for i, a := range order {
		for _, b := range order[i+1:] {
			f, g := &r.surfs[a], &r.surfs[b]
			if f.count == 0 || g.count == 0 || f.kind != g.kind || f.kind != sphereKind && math.Abs(f.a.Dot(g.a)) < 0.99 {
				continue
			}
			some, in := r.some(lists[b], 100), 0
			for _, p := range some {
				// Extended from afar, the larger strays more.
				if d, _ := f.at(x.at(p)); math.Abs(d) <= 3*x.eps {
					in++
				}
			}
			if 10*in < 9*len(some) || f.kind == planeKind && x.opposed(&f.shape, lists[a], lists[b]) {
				continue
			}
			for _, p := range lists[b] {
				r.of[p] = a
			}
			lists[a] = append(lists[a], lists[b]...)
			f.count, g.count = f.count+g.count, 0
		}
	}
}

// opposed reports whether two sets of points on s face opposite ways for sure.
func (x *sharp) opposed(s *shape, a, b []int32) bool {
	u, v := x.sideways(s, a), x.sideways(s, b)
	return u*v < 0 && min(math.Abs(u), math.Abs(v)) > 0.9
}

// settle gives each point to the nearest of the surfaces around it.
func (x *sharp) settle() {
	r := x.r
	for range 2 {
		was := slices.Clone(r.of)
		for i := range was {
			p := int32(i)
			best, at := math.Inf(1), int32(-1)
			try := func(f int32) {
				if f < 0 || f == at {
					return
				}
				if d, ok := x.on(&r.surfs[f].shape, p); ok && d < best {
					best, at = d, f
				}
			}
			try(was[i])
			for _, q := range x.of(p) {
				if q >= 0 {
					try(was[q])
				}
			}
			if at >= 0 {
				r.of[i] = at
			}
		}
	}
	for k := range r.surfs {
		r.surfs[k].count = 0
	}
	for _, f := range r.of {
		if f >= 0 {
			r.surfs[f].count++
		}
	}
}
