package segment

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/geom"
)

// exactCloud is what the search of an exact cloud proposes surfaces from.
//
// An exact cloud is a sparse one whose points lie on the surfaces to the last digits,
// as clouds made from drawings do. Its elements are the points. The distance from a
// surface alone tells whether a point is on it: a thousandth of the spacing is so little
// that a handful of points within it are no chance. Normals near edges are of no use in
// a sparse cloud and do not count.
type exactCloud struct {
	seed uint64
	dirs []r3.Vector // of the planes and axes found, each once
}

// exactly finds the surfaces of an exact cloud. It changes nothing where the scan is
// none: where those surfaces hold too few of the points.
func (r *run) exactly(ctx context.Context) error {
	n, faced := r.s.Len(), 0
	for _, v := range r.s.Normals {
		if v != (mesh.Vec32{}) { // tells the sides of the surfaces
			faced++
		}
	}
	if r.s.IsMesh() || n < exactFew || n > exactMost || r.tol.held || exactFaced*faced < n {
		return nil
	}
	noisy := r.tol
	for _, band := range exactBands {
		floor := max(band*r.tex.Spacing, scanRounding*r.size)
		r.tol = tolerance{held: true, exact: true, floor: floor}
		held, err := r.elements(ctx, every(n, n), exactLarge, exactTrials)
		if err == nil && len(r.rest) > 0 && float64(held) >= exactShare*float64(n) {
			held, err = r.elements(ctx, r.rest, exactLeast, math.MaxInt)
		}
		if err == nil && float64(held) >= exactHeld*float64(n) {
			if _, err := r.merge(ctx); err != nil {
				return err
			}
			// Neighbours across a thin wall look like noise.
			r.tex.Noise = min(r.tex.Noise, floor)
			r.tol = noisy
			r.tol.floor = r.floor()
			r.least, r.exact = exactLeast, len(r.surfs)
			for p, f := range r.of {
				r.deep[p] = f >= 0
			}
			return nil
		}
		if err != nil {
			return err
		}
		r.surfs, r.rest = nil, nil
		for p := range r.of {
			r.of[p], r.deep[p] = -1, false
		}
	}
	r.tol = noisy
	return nil
}

// elements searches the picked points for exact surfaces of so many points, and returns
// how many points lie on surfaces by then.
func (r *run) elements(ctx context.Context, pick []int32, least, trials int) (held int, err error) {
	cell := r.size / (1<<cellBits - 1) // of one point
	n := &nodes{grid: newCellGrid(r.lo, cell), cells: make(cellIDs, len(pick))}
	for _, p := range pick { // those without a normal, too
		in, _ := n.cells.id(n.grid.key(r.s.Offsets[p]))
		n.pos, n.nrm = append(n.pos, r.s.Offsets[p]), append(n.nrm, r.s.Normals[p])
		n.in = append(n.in, in)
	}
	g, err := connect(ctx, n, r.jobs)
	if err != nil {
		return 0, err
	}
	sr := newSearcher(n, g, &r.tol, r.jobs, r.opt.Seed+uint64(least)<<32)
	sr.spacing, sr.before = r.tex.Spacing, r.surfs
	sr.smooth = slices.Repeat([]bool{true}, n.len())
	sr.exact = &exactCloud{seed: r.opt.Seed}
	for _, w := range sr.ws {
		w.exact = sr.exact
	}
	if err = sr.run(ctx, least, trials); err != nil {
		return 0, err
	}
	// Facets of a round wall are as exact as faces are, and go on smoothly: the wall is
	// left to the search for noisy surfaces.
	sr.fade()
	for k := range sr.found {
		if sr.found[k].fades {
			sr.relabel([]int{k}, true)
		}
	}
	if r.rest, err = r.assign(ctx, n, g, sr, r.rest); err != nil {
		return 0, err
	}
	r.first = nil
	for k := range r.surfs {
		held += r.surfs[k].count
	}
	return held, nil
}

// learn notes the directions of what is found by now.
func (x *exactCloud) learn(s *searcher) {
	x.dirs = x.dirs[:0]
	for _, f := range s.all() {
		if f.kind != sphereKind {
			x.dirs = withDirection(x.dirs, f.a, exactParallel)
		}
	}
}

// samples appends the shapes that the first node of a patch and its neighbours suggest:
// each kind through as few points as settle it (Fischler & Bolles 1981), a cylinder about
// a direction that is known.
func (x *exactCloud) samples(p *patch, out []shape) []shape {
	rng := rand.New(rand.NewPCG(x.seed, uint64(p.nodes[0])))
	q, near := p.pos[0], p.pos[1:min(len(p.pos), 1+exactNear)]
	pick := func() r3.Vector { return near[rng.IntN(len(near))] }
	for range exactTries {
		u, v := pick().Sub(q), pick().Sub(q)
		if n := u.Cross(v); n.Norm() > exactSine*u.Norm()*v.Norm() {
			out = append(out, shape{kind: planeKind, p: q, a: n.Normalize()})
		}
	}
	for _, a := range x.dirs {
		across := func(v r3.Vector) r3.Vector { return v.Sub(a.Mul(v.Sub(q).Dot(a))) }
		for range exactTries {
			if c, r, ok := geom.Circle(q, across(pick()), across(pick())); ok {
				out = append(out, shape{kind: cylinderKind, p: c, a: a, r: r})
			}
		}
	}
	for range exactTries {
		if c, r, ok := geom.Sphere(q, pick(), pick(), pick()); ok {
			out = append(out, shape{kind: sphereKind, p: c, r: r})
		}
	}
	// Without a direction known, from the normals, made exact by least squares.
	n := min(len(p.pos), exactFit)
	few := patch{pos: p.pos[:n], nrm: p.nrm[:n]}
	for _, h := range few.hypotheses(nil) {
		ok := h.kind == cylinderKind || h.kind == coneKind
		for turn := 0; ok && turn < exactTurns; turn++ {
			h, ok = h.refit(few.pos)
		}
		if ok {
			out = append(out, h)
		}
	}
	return out
}
