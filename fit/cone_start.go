package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// coneScore fits the quadric of revolution A ρ² + C h² + b·v + B h + D = 0
// about the direction w, v across it and h along it, by Taubin's method, from
// the moments. A cylinder, a cone and a plane across w are among these. It
// returns the section at the centroid's height and tan φ there.
func (g *moments) coneScore(w r3.Vector) (a arc, slope, ms float64) {
	e1, e2 := Frame(w)
	h := lin(w)
	hh := quad(w, w)
	sq := quad(e1, e1)
	for i, v := range quad(e2, e2) {
		sq[i] += v
	}
	mr, mh := g.mean(&sq), g.mean(&hh)
	rootR, rootH := 2*math.Sqrt(mr), 2*math.Sqrt(mh)
	l1, l2 := lin(e1), lin(e2)
	forms := [5]*[10]float64{&sq, &hh, &l1, &l2, &h}
	scale := [5]float64{1 / rootR, 1 / rootH, 1, 1, 1}
	var m matrix
	for i := range 5 {
		for j := i; j < 5; j++ {
			m[i][j] = g.cov(forms[i], forms[j]) * scale[i] * scale[j]
		}
	}
	val, v := eigen(&m, 5)
	ca, ch := v[0][0]/rootR, v[1][0]/rootH
	b1, b2, bh := v[2][0], v[3][0], v[4][0]
	d := -ca*mr - ch*mh
	a = arcOf(ca, e1.Mul(b1).Add(e2.Mul(b2)), d, w)
	// On the surface near the anchor, going along h at constant direction from
	// the axis: gradient along h is bh, outward gradient is -(...)·n = g.
	grad := math.Sqrt(max(b1*b1+b2*b2-4*ca*d, 0))
	if ca < 0 {
		bh = -bh
	}
	if grad > 0 {
		slope = -bh / grad
	}
	return a, slope, max(val[0], 0)
}

// coneStart finds a cone on a sample of c.
func coneStart(c *cloud, maxIter int) (*coneModel, int, error) {
	small := c.sample(400)
	var g moments
	g.add(small)
	val, dir := g.principal()
	grain := c.grain()
	if val[0] <= 64*grain*grain {
		return nil, 0, degenerate("cone", "all points are on one plane; a cone needs points off it")
	}
	best := math.Inf(1)
	m := &coneModel{}
	iters := 0
	attempt := func(t *coneModel) {
		r := solve(t, small, maxIter)
		if r.f < best && t.valid(small) {
			best, m, iters = r.f, t, r.iters
		}
	}
	score := func(w r3.Vector) float64 {
		_, _, ms := g.coneScore(w)
		return ms
	}
	for _, st := range axisStarts(score, dir[:], 8) {
		a, slope, _ := g.coneScore(st.w)
		attempt(&coneModel{cur: a, phi: math.Atan(slope)})
	}
	score = func(w r3.Vector) float64 {
		e1, e2 := Frame(w)
		_, _, _, ms := g.taubin([]r3.Vector{e1, e2})
		return ms
	}
	for _, st := range axisStarts(score, dir[:], 6) {
		e1, e2 := Frame(st.w)
		a, b, d, _ := g.taubin([]r3.Vector{e1, e2})
		at := arcOf(a, e1.Mul(b[0]).Add(e2.Mul(b[1])), d, st.w)
		for _, phi := range [...]float64{0.05, -0.05, 0.6, -0.6} {
			attempt(&coneModel{cur: at, phi: phi})
		}
	}
	if math.IsInf(best, 1) {
		return nil, 0, degenerate("cone", "no cone near the points")
	}
	return m, iters, nil
}

// valid reports whether the points lie on one nappe, not on both.
func (m *coneModel) valid(c *cloud) bool {
	t := *m
	t.normalise()
	if t.cur.k == 0 {
		return false
	}
	apex := t.cur.centre().Sub(t.cur.w.Mul(math.Cos(t.phi) / math.Sin(t.phi) / t.cur.k))
	if !finite(apex) {
		return true // as good as a cylinder
	}
	behind := 0
	for i := range c.x {
		if (r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]}).Sub(apex).Dot(t.cur.w) < 0 {
			behind++
		}
	}
	return behind*20 <= len(c.x)
}
