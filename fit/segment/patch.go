package segment

import (
	"math"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"
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
	w.stamp++
	p.nodes = p.nodes[:0]
	w.seen[seed] = w.stamp
	p.nodes = append(p.nodes, seed)
	for at := 0; at < len(p.nodes) && len(p.nodes) < size; at++ {
		i := p.nodes[at]
		ni := w.n.nrm[i].R3()
		for _, j := range w.g.of(i) {
			if j < 0 || w.seen[j] == w.stamp || w.label[j] >= 0 {
				continue
			}
			crease := ni.Dot(w.n.nrm[j].R3()) < creaseCos && w.panels == nil && !w.tol.exact
			if crease {
				continue
			}
			w.seen[j] = w.stamp
			p.nodes = append(p.nodes, j)
			if len(p.nodes) == size {
				break
			}
		}
	}
	w.read(p)
}

// fill makes p of about size of the nodes ns, evenly over the list.
func (w *worker) fill(p *patch, ns []int32, size int) {
	p.nodes = p.nodes[:0]
	step := max(1, len(ns)/size)
	for k := 0; k < len(ns); k += step {
		p.nodes = append(p.nodes, ns[k])
	}
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
	n := float64(len(p.pos))
	var c, m r3.Vector
	for i := range p.pos {
		c = c.Add(p.pos[i])
		m = m.Add(p.nrm[i])
	}
	c, m = c.Mul(1/n), m.Mul(1/n)
	var scatter, raw [6]float64 // of positions about c; of normals about 0
	for i := range p.pos {
		addOuter(&scatter, p.pos[i].Sub(c))
		addOuter(&raw, p.nrm[i])
	}
	// Plane: the direction of least scatter, Pearson 1901.
	if v, ok := eigen3(scatter); ok {
		out = append(out, shape{kind: planeKind, p: c, a: v[0]})
	}
	// The spread of the normals decides whether anything curved is worth a try.
	spread := math.Sqrt(max(0, 1-m.Norm2()))
	if spread < curvedSpread {
		return out
	}
	if v, ok := eigen3(raw); ok {
		// Cylinder: normals perpendicular to the axis.
		if s, ok := p.cylinderAbout(v[0], c, m); ok {
			out = append(out, s)
		}
	}
	cov := raw
	for k, d := range outer(m) {
		cov[k] -= n * d
	}
	if v, ok := eigen3(cov); ok {
		if s, ok := p.coneAbout(v[0], m); ok {
			out = append(out, s)
		}
	}
	if s, ok := p.sphere(c, m); ok {
		out = append(out, s)
	}
	return out
}

// cylinderAbout solves q = centre + rho n across the axis by least squares:
// the points q of a cylinder lie a radius along their normals n from its axis.
func (p *patch) cylinderAbout(axis, c, m r3.Vector) (shape, bool) {
	across := func(v r3.Vector) r3.Vector { return v.Sub(axis.Mul(v.Dot(axis))) }
	cq, cn := across(c), across(m)
	var qn, nn float64
	for i := range p.pos {
		dn := across(p.nrm[i]).Sub(cn)
		qn += across(p.pos[i]).Sub(cq).Dot(dn)
		nn += dn.Norm2()
	}
	if nn == 0 {
		return shape{}, false
	}
	rho := qn / nn
	s := shape{kind: cylinderKind, a: axis, r: math.Abs(rho), p: c.Sub(cn.Mul(rho))}
	return s, s.sane()
}

// sphere solves p = centre + rho n in space.
func (p *patch) sphere(c, m r3.Vector) (shape, bool) {
	var qn, nn float64
	for i := range p.pos {
		dn := p.nrm[i].Sub(m)
		qn += p.pos[i].Sub(c).Dot(dn)
		nn += dn.Norm2()
	}
	if nn == 0 {
		return shape{}, false
	}
	rho := qn / nn
	s := shape{kind: sphereKind, r: math.Abs(rho), p: c.Sub(m.Mul(rho))}
	return s, s.sane()
}

// coneAbout takes the axis from the normals, which lie on a circle about it,
// and the apex as the point that all tangent planes n·(x - p) = 0 share.
func (p *patch) coneAbout(axis, m r3.Vector) (shape, bool) {
	var a [6]float64
	var b r3.Vector
	for i := range p.pos {
		addOuter(&a, p.nrm[i])
		b = b.Add(p.nrm[i].Mul(p.nrm[i].Dot(p.pos[i])))
	}
	apex, ok := solve3(a, b)
	if !ok {
		return shape{}, false
	}
	var into float64
	for i := range p.pos {
		into += p.pos[i].Sub(apex).Dot(axis)
	}
	if into < 0 {
		axis = axis.Mul(-1)
	}
	sin := math.Abs(m.Dot(axis)) / max(m.Norm(), 1e-9)
	if sin >= 1 {
		return shape{}, false
	}
	s := shape{kind: coneKind, p: apex, a: axis, sin: sin, cos: math.Sqrt(1 - sin*sin)}
	return s, s.sane()
}

// outer returns v vᵀ as xx, xy, xz, yy, yz, zz.
func outer(v r3.Vector) [6]float64 {
	return [6]float64{v.X * v.X, v.X * v.Y, v.X * v.Z, v.Y * v.Y, v.Y * v.Z, v.Z * v.Z}
}

func addOuter(s *[6]float64, v r3.Vector) {
	for k, d := range outer(v) {
		s[k] += d
	}
}

// eigen3 returns the unit eigenvectors of a symmetric matrix, least
// eigenvalue first.
func eigen3(s [6]float64) (v [3]r3.Vector, ok bool) {
	var e mat.EigenSym
	a := mat.NewSymDense(3, []float64{s[0], s[1], s[2], s[1], s[3], s[4], s[2], s[4], s[5]})
	if !e.Factorize(a, true) {
		return v, false
	}
	var m mat.Dense
	e.VectorsTo(&m)
	for k := range v {
		v[k] = r3.Vector{X: m.At(0, k), Y: m.At(1, k), Z: m.At(2, k)}
	}
	return v, true
}

// solve3 solves the symmetric system s x = b.
func solve3(s [6]float64, b r3.Vector) (r3.Vector, bool) {
	var x mat.VecDense
	a := mat.NewSymDense(3, []float64{s[0], s[1], s[2], s[1], s[3], s[4], s[2], s[4], s[5]})
	if err := x.SolveVec(a, mat.NewVecDense(3, []float64{b.X, b.Y, b.Z})); err != nil {
		return r3.Vector{}, false
	}
	return r3.Vector{X: x.AtVec(0), Y: x.AtVec(1), Z: x.AtVec(2)}, true
}
