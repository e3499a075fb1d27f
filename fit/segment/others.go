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

// other fits a shape of kind k to pts, a sample of sup's nodes, from the one that the
// normals suggest.
func (w *worker) other(sup *support, k kind, pts []r3.Vector) (h shape, ok bool) {
	w.fill(&w.pat, sup.nodes, supportSample)
	w.hyp = w.pat.hypotheses(w.hyp[:0])
	i := slices.IndexFunc(w.hyp, func(h shape) bool { return h.kind == k })
	if i < 0 {
		return h, false
	}
	f, err := fit.From(w.hyp[i].surface(), pts, fit.Options{MaxIter: otherSteps, ShapeOnly: true})
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
