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
func (s *searcher) others(sup *support) []support {
	if sup.kind == planeKind || s.panels != nil {
		return nil
	}
	pts := slices.Clone(s.ws[0].sample(sup.nodes, otherSample))
	var pat patch
	s.ws[0].fill(&pat, sup.nodes, supportSample)
	hyp := pat.hypotheses(nil)
	return s.grown(len(hyp), func(w *worker, k int) (out support, ok bool) {
		if hyp[k].kind == sup.kind {
			return out, false
		}
		f, err := fit.From(hyp[k].surface(), pts, fit.Options{MaxIter: otherSteps, ShapeOnly: true})
		h := shapeOf(f)
		if !usable(err) || !h.sane() {
			return out, false
		}
		var seeds []int32
		for _, i := range sup.nodes {
			if d, _ := h.at(s.n.at(i)); math.Abs(d) <= max(sup.band, sup.form) {
				seeds = append(seeds, i)
			}
		}
		if leastKept*len(seeds) < len(sup.nodes) {
			return out, false
		}
		return w.grow(h, seeds, s.n.len())
	})
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
