package segment

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// patch is a seed's surroundings: free nodes reached over the graph without a
// step across a crease.
type patch struct {
	nodes []int32
	pos   []r3.Vector
	nrm   []r3.Vector
}

// collect fills p with up to size free nodes around seed, nearest first.
func (w *worker) collect(seed int32, size int, p *patch) {
	any := w.panels != nil || w.tol.exact
	p.nodes = w.flood([]int32{seed}, size, p.nodes, func(i, j int32, _ int) bool {
		if !any && w.n.nrm[i].R3().Dot(w.n.nrm[j].R3()) < creaseCos {
			w.seen[j] = 0 // no crease from another node, perhaps
			return false
		}
		return true
	})
	p.nodes = p.nodes[:min(size, len(p.nodes))]
	w.read(p)
}

func (w *worker) read(p *patch) {
	if w.panels != nil {
		w.panels.read(p)
		return
	}
	p.pos, p.nrm = p.pos[:0], p.nrm[:0]
	for _, i := range p.nodes {
		p.pos = append(p.pos, w.n.at(i))
		p.nrm = append(p.nrm, w.n.nrm[i].R3())
	}
}

// hypotheses appends the shapes that a patch suggests: closed-form fits that
// use the normals, so that a patch of a dozen nodes is enough.
func (p *patch) hypotheses(out []shape) []shape {
	var pos, nrm geom.Moments
	for i := range p.pos {
		pos.Add(p.pos[i].Sub(p.pos[0]))
		nrm.Add(p.nrm[i])
	}
	c, m := p.pos[0].Add(pos.Mean()), nrm.Mean()
	add := func(s shape, ok bool) {
		if ok && s.sane() {
			out = append(out, s)
		}
	}
	least := func(s geom.Sym3) r3.Vector { _, v := s.Eigen(); return v[0] }
	add(shape{kind: planeKind, p: c, a: least(pos.Cov())}, true) // Pearson 1901
	// The spread of the normals decides whether anything curved is worth a try.
	if 1-m.Norm2() < curvedSpread*curvedSpread {
		return out
	}
	add(p.offset(cylinderKind, least(nrm.Sq), c, m)) // normals perpendicular to the axis
	add(p.coneAbout(least(nrm.Cov()), m))
	add(p.offset(sphereKind, r3.Vector{}, c, m))
	return out
}

// offset solves q = centre + rho n by least squares, across the axis of a cylinder or in
// space: the points q lie a radius along their normals n from axis or centre.
func (p *patch) offset(k kind, axis, c, m r3.Vector) (shape, bool) {
	across := func(v r3.Vector) r3.Vector { return v.Sub(axis.Mul(v.Dot(axis))) }
	cq, cn := across(c), across(m)
	var qn, nn float64
	for i := range p.pos {
		dn := across(p.nrm[i]).Sub(cn)
		qn += across(p.pos[i]).Sub(cq).Dot(dn)
		nn += dn.Norm2()
	}
	rho := qn / nn
	return shape{kind: k, a: axis, r: math.Abs(rho), p: c.Sub(cn.Mul(rho))}, nn > 0
}

// coneAbout takes the axis from the normals, which lie on a circle about it,
// and the apex as the point that all tangent planes n·(x - p) = 0 share.
func (p *patch) coneAbout(axis, m r3.Vector) (shape, bool) {
	var a geom.Sym3
	var b r3.Vector
	for i := range p.pos {
		a.AddOuter(p.nrm[i], 1)
		b = b.Add(p.nrm[i].Mul(p.nrm[i].Dot(p.pos[i])))
	}
	apex, ok := solve3(a, b)
	var into float64
	for i := range p.pos {
		into += p.pos[i].Sub(apex).Dot(axis)
	}
	if into < 0 {
		axis = axis.Mul(-1)
	}
	sin := math.Abs(m.Dot(axis)) / max(m.Norm(), 1e-9)
	s := shape{kind: coneKind, p: apex, a: axis, sin: sin, cos: math.Sqrt(1 - sin*sin)}
	return s, ok && sin < 1
}

// solve3 solves s x = b.
func solve3(s geom.Sym3, b r3.Vector) (r3.Vector, bool) {
	a := [9]float64{s.XX, s.XY, s.XZ, s.XY, s.YY, s.YZ, s.XZ, s.YZ, s.ZZ}
	x := [3]float64{b.X, b.Y, b.Z}
	if !geom.Cholesky(a[:], 3, singular) {
		return r3.Vector{}, false
	}
	geom.CholeskySolve(a[:], x[:])
	return r3.Vector{X: x[0], Y: x[1], Z: x[2]}, true
}
