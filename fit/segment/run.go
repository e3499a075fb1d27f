package segment

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// Segment divides s into planes, cylinders, cones and spheres. s needs
// normals (mesh.SetNormals); it is not changed.
//
// The scan is thinned to nodes, surfaces are found among them (see searcher),
// the scan's points near each are handed to it, and what is left is searched
// again at the scan's own density, where small holes are. Surfaces in pieces
// are merged, and each is fitted by least squares to its points away from its
// edges. The same scan, options and seed give the same result on any number of
// cores.
func Segment(ctx context.Context, s *mesh.Scan, opt Options) (*Segmentation, error) {
	if s.Len() == 0 {
		return nil, fmt.Errorf("segment: the scan has no points")
	}
	if isTessellated(s) {
		return segmentFacets(ctx, s, opt)
	}
	if s.Normals == nil {
		return nil, fmt.Errorf("segment: the scan has no normals: compute them first (mesh.SetNormals)")
	}
	r, err := newRun(ctx, s, opt)
	if err != nil {
		return nil, err
	}
	for level := 0; ; level++ {
		r.tell.at(0.05 + 0.85*(1-math.Pow(0.3, float64(level))))
		last, err := r.level(ctx, level)
		if err != nil {
			return nil, err
		}
		if last {
			break
		}
	}
	r.tell.at(0.9)
	if err := r.merge(ctx); err != nil {
		return nil, err
	}
	r.tell.at(0.95)
	out, err := r.finish(ctx)
	if err == nil {
		r.tell.done()
	}
	return out, err
}

// run is the state of one segmentation.
type run struct {
	s     *mesh.Scan
	opt   Options
	jobs  int
	tex   mesh.Texture
	tol   tolerance
	twoSd bool
	tell  progress
	// uneven is how many pitches a mesh's nodes lie apart where it is coarse.
	uneven float64

	surfs []surf  // found so far
	of    []int32 // index into surfs of each point, -1 free
	deep  []bool  // the point lies away from its surface's edge
	junk  []bool  // points that belong to nothing, or nil
}

// surf is a surface with its band, before the final fit.
type surf struct {
	shape
	side  float64
	band  float64
	count int
	fades bool // a slice of what is no face, see searcher.fade
}

// nodeTarget is how many nodes the first level aims at.
const nodeTarget = 60_000

func newRun(ctx context.Context, s *mesh.Scan, opt Options) (*run, error) {
	r := &run{s: s, opt: opt, jobs: opt.Jobs, tell: progress{f: opt.Progress}}
	if r.jobs <= 0 {
		r.jobs = runtime.GOMAXPROCS(0)
	}
	tex, err := textureOf(ctx, s, opt.Seed, r.jobs)
	if err != nil {
		return nil, err
	}
	r.tex = tex
	r.tol.floor, r.tol.held = opt.Band, opt.Band > 0
	if opt.Band <= 0 {
		r.tol.floor = max(sigmas*tex.Noise, 0.04*tex.Spacing, 4e-7*s.Diagonal())
	}
	r.tol.reach = 40 * tex.Spacing
	r.of = make([]int32, s.Len())
	for i := range r.of {
		r.of[i] = -1
	}
	r.deep = make([]bool, s.Len())
	r.junk = junk(s)
	return r, nil
}

// level searches the free points, thinned so far that about nodeTarget nodes
// remain. It reports whether the points were not thinned any more.
func (r *run) level(ctx context.Context, level int) (last bool, err error) {
	items := r.free()
	if len(items) < 8 {
		return true, nil
	}
	cell := r.tex.Spacing * math.Sqrt(max(1, float64(len(items))/nodeTarget))
	if level >= 2 || cell < 1.3*r.tex.Spacing {
		cell, last = 0.5*r.tex.Spacing, true
	}
	n, err := thin(ctx, r.s, items, cell, r.jobs)
	if err != nil {
		return true, err
	}
	g, err := connect(ctx, n, r.jobs)
	if err != nil {
		return true, err
	}
	sr, err := r.search(ctx, n, g, level, last)
	if err != nil {
		return true, err
	}
	return last, r.take(ctx, n, g, sr)
}

// free returns the points that belong to nothing yet and could.
func (r *run) free() []int32 {
	is := func(i int) bool {
		return r.of[i] < 0 && (r.junk == nil || !r.junk[i]) && r.s.Normals[i] != (mesh.Vec32{})
	}
	count := 0
	for i := range r.of {
		if is(i) {
			count++
		}
	}
	items := make([]int32, 0, count)
	for i := range r.of {
		if is(i) {
			items = append(items, int32(i))
		}
	}
	return items
}

// search finds the surfaces among the nodes of a level, large ones first.
func (r *run) search(ctx context.Context, n *nodes, g *graph, level int, last bool) (sr *searcher, err error) {
	sr = newSearcher(n, g, &r.tol, r.twoSd, r.jobs, r.opt.Seed+uint64(level)<<32)
	sr.farthest = math.Inf(1)
	if r.s.IsMesh() {
		if level == 0 {
			r.uneven = max(1.5, 1.2*g.quantile(0.9)/g.spacing())
		}
		sr.farthest = r.uneven * sr.pitch
	}
	if sr.smooth, err = smooth(ctx, n, g, &r.tol, max(n.cell, r.tex.Spacing), r.twoSd, r.jobs); err != nil {
		return nil, err
	}
	for _, pass := range [...]struct{ nodes, trials int }{{1000, 256}, {200, 1024}, {30, 1 << 30}, {16, 1 << 30}} {
		if !last && pass.nodes < 30 {
			break
		}
		if err := sr.run(ctx, pass.nodes, pass.trials); err != nil {
			return nil, err
		}
		if pass.nodes >= learnCount && level == 0 {
			sr.learn()
		}
		if pass.nodes == 200 {
			for _, x := range axes(r.surfs, sr.found, 2*r.tex.Spacing) {
				sr.coaxial(x, 60)
			}
		}
	}
	sr.fade()
	return sr, nil
}

// take hands the points of the nodes to the surfaces found: each point of a
// labelled node, and of the nodes next to one, goes to the nearest surface
// that holds it within its band.
func (r *run) take(ctx context.Context, n *nodes, g *graph, sr *searcher) error {
	base := int32(len(r.surfs))
	for _, f := range sr.found {
		r.surfs = append(r.surfs, surf{shape: f.shape, side: f.side, band: f.band, fades: f.fades})
	}
	var mu sync.Mutex
	return chunks(ctx, n.len(), 512, r.jobs, func(lo, hi int) {
		var near []int32
		got := map[int32]int{}
		for i := lo; i < hi; i++ {
			near = r.takeNode(n, g, sr, int32(i), base, near, got)
		}
		mu.Lock()
		defer mu.Unlock()
		for k, count := range got {
			r.surfs[k].count += count
		}
	})
}

// takeNode hands out the points of node i, counting them in got. near is
// scratch.
func (r *run) takeNode(n *nodes, g *graph, sr *searcher, i, base int32, near []int32, got map[int32]int) []int32 {
	near = near[:0]
	add := func(l int32) {
		if l >= 0 && !slices.Contains(near, l) {
			near = append(near, l)
		}
	}
	add(sr.label[i])
	deep := sr.label[i] >= 0
	for _, j := range g.of(i) {
		if j >= 0 {
			add(sr.label[j])
			deep = deep && sr.label[j] == sr.label[i]
		}
	}
	if len(near) == 0 {
		return near
	}
	last, count := int32(-1), 0
	for _, p := range n.pts[n.first[i]:n.first[i+1]] {
		best, at := math.Inf(1), int32(-1)
		for _, l := range near {
			if d, ok := r.holds(&r.surfs[base+l], p); ok && d < best {
				best, at = d, base+l
			}
		}
		if at >= 0 {
			r.of[p] = at
			r.deep[p] = deep && at == base+sr.label[i]
			if at != last {
				if last >= 0 {
					got[last] += count
				}
				last, count = at, 0
			}
			count++
		}
	}
	if last >= 0 {
		got[last] += count
	}
	return near
}

// holds reports whether point p belongs to f, and its distance in bands.
func (r *run) holds(f *surf, p int32) (float64, bool) {
	d, m := f.at(r.s.Offsets[p].R3())
	d = math.Abs(d) / f.band
	if d > 1 {
		return d, false
	}
	cos := f.side * m.Dot(r.s.Normals[p].R3())
	if r.twoSd {
		cos = math.Abs(cos)
	}
	return d, cos > 0.7
}

// points returns the positions, offset frame, of the named points.
func (r *run) points(ps []int32) []r3.Vector {
	out := make([]r3.Vector, len(ps))
	for k, p := range ps {
		out[k] = r.s.Offsets[p].R3()
	}
	return out
}
