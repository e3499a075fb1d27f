package segment

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// Options of Segment; the zero value works.
type Options struct {
	// HalfWidth, mm, is that of the band within which a point belongs to a surface.
	// Zero means from the noise estimated from the scan.
	HalfWidth float64
	// Form is how far, mm, a surface may leave its shape by form. Zero means a
	// hundredth of the surface's extent; less than the noise means no form.
	// A modeller's mesh has no form, and this is not used there.
	Form float64
	// Seed picks the sample sequence.
	Seed uint64
	// Jobs is the number of goroutines; zero means GOMAXPROCS. It does not
	// change the result.
	Jobs int
	// Progress, if set, is called from one goroutine, a few times in all.
	Progress func(done, total int)
}

// Segment divides s into planes, cylinders, cones and spheres. s needs
// normals (mesh.EstimateNormals); it is not changed.
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
		return segmentPanels(ctx, s, opt)
	}
	out, err := segmentNodes(ctx, s, opt)
	if err != nil || !s.IsMesh() || s.Len() > thinnedPoints || sideSpread(s) < leastSpread {
		return out, err
	}
	// Of a thinned scan the points may be too few.
	if share := out.explained(s); share < poorShare {
		opt.Progress = nil
		if p, err := segmentPanels(ctx, s, opt); err == nil && p.explained(s) > share+betterShare {
			return p, nil
		}
	}
	return out, ctx.Err()
}

// explained returns the share of a mesh's area that belongs to a surface.
func (s *Segmentation) explained(m *mesh.Scan) float64 {
	var in, all float64
	for t, c := range m.Triangles {
		a := m.Point(int(c[0]))
		area := m.Point(int(c[1])).Sub(a).Cross(m.Point(int(c[2])).Sub(a)).Norm()
		all += area
		if s.TriangleSurface[t] >= 0 {
			in += area
		}
	}
	return in / max(all, math.SmallestNonzeroFloat64)
}

// segmentNodes searches a scan that shows its surfaces by many points.
func segmentNodes(ctx context.Context, s *mesh.Scan, opt Options) (*Segmentation, error) {
	if s.Normals == nil {
		return nil, fmt.Errorf("segment: the scan has no normals: compute them first " +
			"(mesh.EstimateNormals)")
	}
	r, err := newRun(ctx, s, opt)
	if err != nil {
		return nil, err
	}
	if err := r.exactly(ctx); err != nil {
		return nil, err
	}
	level := 0
	if r.exact > 0 {
		level = 1 // the rest are few
		if float64(len(r.rest)) < exactRest*float64(s.Len()) {
			r.rest = nil
		}
	}
	for ; level == 0 || r.rest != nil; level++ {
		r.progress(1 + level)
		last, err := r.level(ctx, level)
		if err != nil {
			return nil, err
		}
		if last {
			break
		}
	}
	r.progress(lastLevel + 2)
	lists, err := r.merge(ctx)
	if err != nil {
		return nil, err
	}
	out, err := r.finish(ctx, lists)
	if err == nil {
		r.progress(lastLevel + 3)
	}
	return out, err
}

// run is the state of one segmentation.
type run struct {
	s     *mesh.Scan
	opt   Options
	jobs  int
	tex   mesh.Sampling
	tol   tolerance
	lo    r3.Vector // lowest corner of the scan, offset frame
	size  float64   // diagonal of the scan's box, mm
	pitch float64   // mean distance of the scan's points, mm, where that is more than tex's median

	surfs []surf  // found so far
	of    []int32 // index into surfs of each point, -1 free
	deep  []bool  // the point lies away from its surface's edge
	junk  []bool  // points that belong to nothing, or nil
	rest  []int32 // points that the last level left; nil before the first
	exact int     // how many of surfs are exact, see exactly; the first ones
	least int     // points that make a surface

	crowd    *mesh.KDTree // see searcher
	crowdPos []mesh.Vec32
}

// surf is a surface with its band, before the final fit.
type surf struct {
	shape
	side  float64
	band  float64
	rms   float64 // of the residuals, by the median, see spread
	form  float64 // height that form may have, mm; 0 for a surface without
	count int     // points; of a support, nodes
	fades bool    // a slice of what is no face, see searcher.fade
	rough bool    // see roughWalls
}

func newRun(ctx context.Context, s *mesh.Scan, opt Options) (*run, error) {
	r := &run{s: s, opt: opt, jobs: parallel.Jobs(opt.Jobs), least: leastPoints}
	lo, hi := s.Bounds()
	r.lo, r.size = lo.Sub(s.Origin), hi.Sub(lo).Norm()
	coarse := coarseSpacing(s, r.lo, hi.Sub(lo))
	if !s.IsMesh() {
		r.gather()
	}
	err := parallel.Workers(ctx, r.jobs, 2, 1, func(_, k, _ int) (err error) {
		if k == 0 {
			r.junk, err = junkOf(ctx, s, r.jobs)
		} else {
			r.tex, err = samplingOf(ctx, s, r.crowd, r.lo, coarse, opt.Seed, r.jobs)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	r.pitch = max(r.tex.Spacing, min(mostUneven*r.tex.Spacing, coarse))
	r.tol.floor, r.tol.held, r.tol.limit = opt.HalfWidth, opt.HalfWidth > 0, opt.Form
	if !r.tol.held {
		r.tol.floor = r.floor()
	}
	r.tol.first = r.tol.floor
	r.of = slices.Repeat([]int32{-1}, s.Len())
	r.deep = make([]bool, s.Len())
	return r, nil
}

// floor is the least half width of a band, mm, that noise and spacing ask for.
func (r *run) floor() float64 {
	return max(sigmas*r.tex.Noise, leastBand*r.tex.Spacing, scanRounding*r.size)
}

// level searches the points that are free, thinned so far that about nodeTarget
// nodes remain. It reports whether no finer level would find more.
func (r *run) level(ctx context.Context, level int) (last bool, err error) {
	points := r.s.Len()
	var pick []int32
	if level == 0 {
		pick = every(points, samplePoints)
	} else {
		points, pick = len(r.rest), r.rest
	}
	if points < fewestPoints {
		return true, nil
	}
	cell := r.pitch * math.Sqrt(max(1, float64(points)/nodeTarget))
	if level >= lastLevel || cell < lastCell*r.tex.Spacing {
		cell, last = r.tex.Spacing*max(leastCell, math.Sqrt(float64(points)/lastNodes)), true
	}
	n, err := thin(ctx, r.s, r.junk, r.lo, pick, cell, r.jobs)
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
	r.rest, err = r.assign(ctx, n, g, sr, r.rest)
	return last, err
}

// search finds the surfaces among the nodes of a level, large ones first.
func (r *run) search(ctx context.Context, n *nodes, g *graph, level int, last bool) (
	sr *searcher, err error) {
	sr = newSearcher(n, g, &r.tol, r.jobs, r.opt.Seed+uint64(level)<<32)
	sr.spacing, sr.before = r.tex.Spacing, r.surfs
	if !r.s.IsMesh() && r.exact == 0 {
		sr.crowd, sr.crowdPos = r.crowd, r.crowdPos
		sr.crowdRadius = r.pitch * math.Sqrt(sheetPoints/math.Pi*float64(r.s.Len())/float64(len(r.crowdPos)))
	}
	if err := sr.link(ctx); err != nil {
		return nil, err
	}
	sr.smooth = g.seeds()
	old := 0 // surfaces whose axes were looked about
	for _, pass := range passes {
		if pass.last && !last {
			break
		}
		trials := pass.trials
		if level > 0 && pass.large {
			trials /= laterTrials // what is as large was found before, but for strips and what is bent
		}
		if err := sr.run(ctx, pass.nodes, trials); err != nil {
			return nil, err
		}
		if pass.axes {
			about := axes(sr.all()[old:], axisSpacings*r.tex.Spacing)
			old = len(r.surfs) + len(sr.found)
			if err := sr.coaxials(ctx, about); err != nil {
				return nil, err
			}
		}
		if pass.large && r.exact == 0 {
			if !r.tol.formless() {
				if err := sr.withForm(ctx, pass.nodes, trials); err != nil {
					return nil, err
				}
			}
			if level == 0 && !r.tol.held {
				sr.learn()
			}
			if pass.axes && !r.tol.held && !r.tol.formless() {
				sr.roughWalls(ctx)
			}
		}
	}
	sr.fade()
	return sr, nil
}

// gather indexes the points of a cloud, or a sample of them.
func (r *run) gather() {
	r.crowdPos = r.s.Offsets
	if r.s.Len() > sheetSample {
		pick := every(r.s.Len(), sheetSample)
		r.crowdPos = make([]mesh.Vec32, len(pick))
		for k, i := range pick {
			r.crowdPos[k] = r.s.Offsets[i]
		}
	}
	r.crowd = mesh.NewKDTree(r.crowdPos, r.jobs)
}

// points returns the positions, offset frame, of the named points.
func (r *run) points(ps []int32) []r3.Vector {
	out := make([]r3.Vector, len(ps))
	for k, p := range ps {
		out[k] = r.s.Offsets[p].R3()
	}
	return out
}

// progress says that so many steps are done: preparation, levels, merging, fits.
func (r *run) progress(done int) {
	if r.opt.Progress != nil {
		r.opt.Progress(done, lastLevel+3)
	}
}
