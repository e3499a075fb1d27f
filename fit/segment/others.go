package segment

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit"
)

// others returns what else the nodes of sup could be: the kinds that it is not,
// fitted by least squares from a start of their own. The normals of a short
// patch hardly tell the taper of a cone from a tilt of a cylinder, the points
// of a full support do.
func (s *searcher) others(sup *support) (out []support) {
	if sup.kind == planeKind || s.panels != nil {
		return nil
	}
	pts := slices.Clone(s.ws[0].sample(sup.nodes, otherSample))
	var got [4]support
	var ok [4]bool
	s.each(len(got), func(w *worker, k int) {
		if kind(k) == sup.kind {
			return
		}
		h, fits := w.other(sup, kind(k), pts)
		if !fits {
			return
		}
		var seeds []int32
		for _, i := range sup.nodes {
			if d, _ := h.at(s.n.at(i)); math.Abs(d) <= max(sup.band, sup.form) {
				seeds = append(seeds, i)
			}
		}
		if leastKept*len(seeds) >= len(sup.nodes) {
			got[k], ok[k] = w.grow(h, seeds, s.n.len())
		}
	})
	for k := range got {
		if ok[k] {
			out = append(out, got[k])
		}
	}
	return out
}

// other fits a shape of kind k to pts, a sample of sup's nodes.
func (w *worker) other(sup *support, k kind, pts []r3.Vector) (h shape, ok bool) {
	if k == coneKind {
		return w.otherCone(sup, pts)
	}
	opt := fit.Options{MaxIter: otherSteps}
	if k == cylinderKind {
		start, err := fit.To(k, thirdOf(pts), opt)
		if !usable(err) {
			return h, false
		}
		opt.Start = start
	}
	f, err := fit.To(k, pts, opt)
	h = shapeOf(f)
	return h, usable(err) && h.sane()
}

// otherCone fits a cone from the one that the normals suggest: a search over all
// directions for a start would take most of the time.
func (w *worker) otherCone(sup *support, pts []r3.Vector) (h shape, ok bool) {
	w.fill(&w.pat, sup.nodes, supportSample)
	w.hyp = w.pat.hypotheses(w.hyp[:0])
	k := slices.IndexFunc(w.hyp, func(h shape) bool { return h.kind == coneKind })
	if k < 0 {
		return h, false
	}
	f, err := fit.From(w.hyp[k].surface(), pts, fit.Options{MaxIter: otherSteps})
	h = shapeOf(f)
	return h, usable(err) && h.sane()
}

// tapered returns the cylinder s as a slender cone that is as wide amid pts.
func (s *shape) tapered(pts []r3.Vector) shape {
	const sin, cos = taperSin, taperCos
	var h float64
	for _, q := range pts {
		h += q.Sub(s.p).Dot(s.a) / float64(len(pts))
	}
	return shape{kind: coneKind, p: s.p.Add(s.a.Mul(h - s.r*cos/sin)), a: s.a, sin: sin, cos: cos}
}

// thirdOf returns every third of pts: enough to find a start by.
func thirdOf(pts []r3.Vector) []r3.Vector {
	var few []r3.Vector
	for k := 0; k < len(pts); k += 3 {
		few = append(few, pts[k])
	}
	return few
}
