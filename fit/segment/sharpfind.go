package segment

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// finder looks for exact surfaces among the free points.
type finder struct {
	*sharp
	free  []int32   // points
	nbr   [][]int32 // by place in free: the nearest free points
	place []int32   // of each point in free, or -1
	least int       // points of a surface
}

// find looks for surfaces of at least so many points among the free points, from
// each, or so many, as a seed. ok is false where the first thousand find next to
// nothing: smooth noise is exact from point to point, and holds no surface.
func (x *sharp) find(ctx context.Context, least, seeds int) (ok bool, err error) {
	f := &finder{sharp: x, least: least}
	if err := f.gather(ctx); err != nil {
		return false, err
	}
	tried := make([]bool, len(f.free))
	vain := 0 // seeds in a row that came to nothing
	var gs []guess
	var nb []int32
	for n, at := range f.rng.Perm(len(f.free)) {
		if n == seeds {
			break
		}
		if n == sharpLook {
			if held := x.held(); held < sharpLook*sharpLeast/2 && 2*held < len(x.r.of) {
				return false, nil
			}
		}
		if n%256 == 0 && ctx.Err() != nil {
			return false, ctx.Err()
		}
		seed := f.free[at]
		if x.r.of[seed] >= 0 || tried[at] {
			continue
		}
		nb = nb[:0]
		for _, q := range f.nbr[at] {
			if x.r.of[q] < 0 {
				nb = append(nb, q)
			}
		}
		gs = f.guesses(seed, nb, gs)
		if vain++; vain > sharpVain {
			break // what is left has form, or is no surface
		}
		if f.best(seed, nb, gs) {
			vain = 0
		} else {
			for k, q := range nb {
				if k < findTried {
					tried[f.place[q]] = true
				}
			}
		}
	}
	return true, ctx.Err()
}

// gather lists the free points and joins each to its nearest.
func (f *finder) gather(ctx context.Context) error {
	f.place = make([]int32, f.r.s.Len())
	for i, k := range f.r.of { // those without a normal too
		f.place[i] = -1
		if k < 0 {
			f.free = append(f.free, int32(i))
		}
	}
	pos := make([]mesh.Vec32, len(f.free))
	for k, p := range f.free {
		pos[k], f.place[p] = f.r.s.Offsets[p], int32(k)
	}
	ix := mesh.NewKDTree(pos, f.r.jobs)
	f.nbr = make([][]int32, len(f.free))
	return parallel.Chunks(ctx, f.r.jobs, len(f.free), 1024, func(lo, hi int) {
		var buf []mesh.Neighbour
		for k := lo; k < hi; k++ {
			row := neighbours(ix, pos[k], int32(k), f.reach(), make([]int32, findDegree), &buf)
			for e, q := range row {
				row[e] = f.free[q]
			}
			f.nbr[k] = row
		}
	})
}

// learn notes the direction and axis of s, if they are new.
func (f *finder) learn(s *shape) {
	if s.kind == sphereKind {
		return
	}
	if !slices.ContainsFunc(f.dirs, func(a r3.Vector) bool { return math.Abs(a.Dot(s.a)) > 1-1e-7 }) {
		f.dirs = append(f.dirs, s.a)
	}
	if s.kind == planeKind {
		return
	}
	if !slices.ContainsFunc(f.axes, func(x axis) bool {
		return math.Abs(x.a.Dot(s.a)) > 1-1e-7 && s.p.Sub(x.p).Cross(x.a).Norm() < 10*f.eps
	}) {
		f.axes = append(f.axes, axis{s.p, s.a})
	}
}

// best grows the guesses of most promise, takes the one with most points that
// is a face, the simpler of equals, and reports whether there was one.
func (f *finder) best(seed int32, nb []int32, gs []guess) bool {
	slices.SortStableFunc(gs, func(a, b guess) int { return cmp.Compare(b.votes-b.dof, a.votes-a.dof) })
	var top shape
	var held []int32
	most := 0.0
	var grown [4]int
	for _, g := range gs {
		if grown[g.kind] == 2 {
			continue
		}
		grown[g.kind]++
		s, ps, ok := f.grow(g.shape, seed)
		if value := float64(len(ps)) * s.prior(); ok && value > most {
			top, held, most = s, ps, value
		}
	}
	if held == nil {
		return false
	}
	k := int32(len(f.r.surfs))
	f.r.surfs = append(f.r.surfs, surf{shape: top, side: f.side(&top, held), band: f.eps, count: len(held)})
	for _, p := range held {
		f.r.of[p] = k
	}
	f.claim(k, held)
	f.learn(&top)
	return true
}

// grow collects the free points on s that are connected with seed, refits s to
// them, and reports whether they are a face.
func (f *finder) grow(s shape, seed int32) (shape, []int32, bool) {
	var ps []int32
	for turn := range 3 {
		now := f.flood(&s, seed)
		if turn > 0 && len(now) <= len(ps) {
			break
		}
		ps = now
		if len(ps) < sharpLeast || turn > 0 && len(ps) < f.least {
			return s, nil, false
		}
		pts := f.r.points(f.r.some(ps, 500))
		next, ok := s.refit(pts)
		if !ok {
			return s, nil, false
		}
		s = next
	}
	return s, ps, f.face(&s, ps) && f.ends(&s, ps)
}

func (f *finder) flood(s *shape, seed int32) []int32 {
	f.now++
	if _, ok := f.on(s, seed); !ok {
		return nil
	}
	out := []int32{seed}
	f.stamp[seed] = f.now
	for at := 0; at < len(out); at++ {
		for _, q := range f.nbr[f.place[out[at]]] {
			if f.stamp[q] == f.now || f.r.of[q] >= 0 {
				continue
			}
			f.stamp[q] = f.now
			if _, ok := f.on(s, q); ok {
				out = append(out, q)
			}
		}
	}
	return out
}

// face reports whether the points ps settle s: enough of them, spread in two
// directions, bent by much more than the band.
func (f *finder) face(s *shape, ps []int32) bool {
	if len(ps) < max(f.least, s.kind.Params()+5) {
		return false
	}
	pts := f.r.points(f.r.some(ps, 500))
	if s.kind == planeKind {
		a, b := widths(pts, s.a)
		return min(a, b) >= 0.4*f.r.tex.Spacing
	}
	var c r3.Vector
	for _, q := range pts {
		c = c.Add(q)
	}
	c = c.Mul(1 / float64(len(pts)))
	_, n := s.at(c)
	lo, hi := math.Inf(1), math.Inf(-1) // of the heights over the plane across n
	least := 1.0
	for _, q := range pts {
		_, m := s.at(q)
		lo, hi = min(lo, q.Sub(c).Dot(n)), max(hi, q.Sub(c).Dot(n))
		least = min(least, m.Dot(n))
	}
	return hi-lo > 20*f.eps && least < math.Cos(10*math.Pi/180)
}

// side returns +1 or -1: whether the points' normals go with s's or against.
func (x *sharp) side(s *shape, ps []int32) float64 {
	if x.sideways(s, ps) < 0 {
		return -1
	}
	return 1
}

// sideways is the mean cosine between the points' normals and those of s. Near
// edges many point elsewhere; it is small where they say little.
func (x *sharp) sideways(s *shape, ps []int32) float64 {
	var sum float64
	some := x.r.some(ps, 500)
	for _, p := range some {
		_, n := s.at(x.at(p))
		sum += n.Dot(x.r.s.Normals[p].R3())
	}
	return sum / float64(len(some))
}
