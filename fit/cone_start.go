package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// coneAbout fits the quadric of revolution A ρ² + C h² + b·v + B h + D = 0
// about the direction w, v across it and h along it, by Taubin's method, from
// the moments. A cylinder, a cone and a plane across w are among these. It
// returns the section at the centroid's height and tan φ there.
func (g *moments) coneAbout(w r3.Vector) (a arc, slope float64) {
	e1, e2 := Frame(w)
	m, mr, mh := g.quadricMatrix(w)
	rootR, rootH := 2*math.Sqrt(mr), 2*math.Sqrt(mh)
	_, v := eigen(&m, 5)
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
	return a, slope
}

// quadricMatrix is the scatter of (ρ²/2√mean ρ², h²/2√mean h², v1, v2, h) for an
// axis along w, whose least eigenvalue is the mean square distance; and the
// means of ρ² and h².
func (g *moments) quadricMatrix(w r3.Vector) (m matrix, mr, mh float64) {
	e1, e2 := Frame(w)
	ss, sh, hh, sx, hx, mr, mh := g.about(w)
	rootR, rootH := 2*math.Sqrt(mr), 2*math.Sqrt(mh)
	m[0][0], m[0][1], m[1][1] = ss/(rootR*rootR), sh/(rootR*rootH), hh/(rootH*rootH)
	dir := [3]r3.Vector{e1, e2, w}
	for i, e := range dir {
		m[0][i+2], m[1][i+2] = sx.Dot(e)/rootR, hx.Dot(e)/rootH
		for j := i; j < 3; j++ {
			m[i+2][j+2] = g.across(e, dir[j])
		}
	}
	return m, mr, mh
}

// coneStart finds a cone on a sample of c.
func coneStart(c *cloud, maxIter int) (*coneModel, int, error) {
	small := c.sample(400)
	var g moments
	g.add(small)
	_, dir, val := principal(small)
	grain := c.grain()
	if val[0] <= 64*grain*grain {
		return nil, 0, degenerate("cone", "all points are on one plane; a cone needs points off it")
	}
	var field []runner[*coneModel]
	score := func(w r3.Vector) float64 {
		m, _, _ := g.quadricMatrix(w)
		return leastEigen(&m, 5)
	}
	for _, st := range axisStarts(score, dir[:], fineStep(val), 8) {
		a, slope := g.coneAbout(st.w)
		field = append(field, runner[*coneModel]{m: &coneModel{cur: a, phi: math.Atan(slope)}})
	}
	score = func(w r3.Vector) float64 {
		m, _ := g.circleMatrix(w)
		return leastEigen(&m, 3)
	}
	for _, st := range axisStarts(score, dir[:], fineStep(val), 6) {
		a, b, d, _ := g.taubinAbout(st.w)
		at := arcOf(a, b, d, st.w)
		for _, phi := range [...]float64{0.05, -0.05, 0.6, -0.6} {
			field = append(field, runner[*coneModel]{m: &coneModel{cur: at, phi: phi}})
		}
	}
	field = race(field, small, maxIter)
	if len(field) == 0 {
		return nil, 0, degenerate("cone", "no cone near the points")
	}
	best := field[0]
	for _, r := range field {
		if r.m.oneNappe(small) {
			best = r
			break
		}
	}
	return best.m, best.iters, nil
}

// oneNappe reports whether the points lie on one nappe, not on both.
func (m *coneModel) oneNappe(c *cloud) bool {
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
