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
		if v != (mesh.Vec32{}) { // says on which side the material is
			faced++
		}
	}
	if r.s.IsMesh() || n < exactFew || n > sheetSample || r.tol.held || exactFaced*faced < n {
		return nil
	}
	band := max(exactBand*r.tex.Spacing, scanRounding*r.size)
	if !r.looksExact(band) {
		return nil
	}
	noisy := r.tol
	r.tol = tolerance{held: true, exact: true, floor: band}
	if found, err := r.exactSurfaces(ctx); err != nil || !found {
		r.tol = noisy
		return err
	}
	if _, err := r.merge(ctx); err != nil {
		return err
	}
	// Neighbours across a thin wall look like noise.
	r.tex.Noise = min(r.tex.Noise, r.tol.floor)
	r.tol = noisy
	r.tol.floor = r.floor()
	r.least, r.exact = exactLeast, len(r.surfs)
	for p, f := range r.of {
		r.deep[p] = f >= 0
	}
	return nil
}

// looksExact reports whether the neighbours of any of some points lie on one shape. It
// spares all other clouds the graph of their points.
func (r *run) looksExact(band float64) bool {
	x := exactCloud{seed: r.opt.Seed}
	var p patch
	var hyp []shape
	var near []mesh.Neighbour
	for _, i := range every(r.s.Len(), exactTrials) {
		p.nodes, p.pos, p.nrm = append(p.nodes[:0], i), p.pos[:0], p.nrm[:0]
		near = r.crowd.Nearest(r.s.Offsets[i], exactPatches[0], 0, near[:0])
		for _, n := range near {
			p.pos, p.nrm = append(p.pos, r.s.Offsets[n.I].R3()), append(p.nrm, r.s.Normals[n.I].R3())
		}
		hyp = x.samples(&p, hyp[:0])
		for k := range hyp {
			on := 0
			for _, q := range p.pos {
				if d, _ := hyp[k].at(q); math.Abs(d) <= band {
					on++
				}
			}
			if on >= exactSure {
				return true
			}
		}
	}
	return false
}

// exactSurfaces searches the points for exact surfaces, large ones first, and reports
// whether these hold enough of them. If not, nothing is changed.
func (r *run) exactSurfaces(ctx context.Context) (found bool, err error) {
	all := float64(r.s.Len())
	free, err := r.exactAmong(ctx, every(r.s.Len(), r.s.Len()), exactLarge, exactTrials)
	if err == nil && len(free) > 0 && float64(len(free)) <= (1-exactShare)*all {
		free, err = r.exactAmong(ctx, free, exactLeast, math.MaxInt)
	}
	if err == nil && float64(len(free)) <= (1-exactHeld)*all {
		r.rest = free
		return true, nil
	}
	r.surfs = nil
	for p := range r.of {
		r.of[p] = -1
	}
	return false, err
}

// exactAmong finds the exact surfaces of so many points or more among some points, which
// are the nodes, and returns the points that are on none.
func (r *run) exactAmong(ctx context.Context, pick []int32, least, trials int) (free []int32, err error) {
	n := &nodes{in: make([]int32, len(pick))}
	for _, p := range pick {
		n.pos, n.nrm = append(n.pos, r.s.Offsets[p]), append(n.nrm, r.s.Normals[p])
	}
	g, err := connect(ctx, n, r.jobs)
	if err != nil {
		return nil, err
	}
	sr := newSearcher(n, g, &r.tol, r.jobs, r.opt.Seed+uint64(least)<<32)
	sr.before = r.surfs
	sr.smooth = slices.Repeat([]bool{true}, n.len())
	sr.exact = &exactCloud{seed: r.opt.Seed}
	for _, w := range sr.ws {
		w.exact = sr.exact
	}
	if err = sr.run(ctx, least, trials); err != nil {
		return nil, err
	}
	// Facets of a round wall are as exact as faces are, and go on smoothly: the wall is
	// left to the search for noisy surfaces.
	sr.fade()
	for k := range sr.found {
		if sr.found[k].fades {
			sr.drop(k)
		}
	}
	base := int32(len(r.surfs))
	r.surfs = nil
	for _, f := range sr.all() {
		r.surfs = append(r.surfs, *f)
	}
	for i, p := range pick {
		if l := sr.label[n.lot[i]]; l >= 0 {
			r.of[p] = base + l
		} else {
			free = append(free, p)
		}
	}
	return free, nil
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
