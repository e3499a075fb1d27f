package check

import (
	"math"

	"spotface/report"
)

// planar is how a place in a plane errs: normally, or by Student's t, with scales
// along two axes, the larger s. The length of the error of a place that is a from
// where it should be has the distribution of Rice (Bell System Technical Journal 24
// (1945) 46-156, eq. 3.10-11) where both scales are one and normal: never below zero,
// and wider near zero than the error of one coordinate.
type planar struct {
	s   float64
	dof float64 // of Student's t; 0: normal
	ray [rays]struct{ a, b float64 }
	// centred is the reach of no distance, once it was asked for; 0: not yet.
	centred float64
}

// newPlanar takes a covariance c of scales and the direction (x, y) of a; zero means
// that of the larger scale. ok is false where c is not a covariance.
func newPlanar(c covariance, x, y, dof float64) (p *planar, ok bool) {
	most, along := c.largest()
	if !(most > 0) || math.IsInf(most, 0) {
		return nil, false
	}
	p = &planar{s: math.Sqrt(most)}
	s1 := max(math.Sqrt(max(c[0][0]+c[1][1]-most, 0)), 1e-3*p.s)
	w0, w1 := 1.0, 0.0
	if n := math.Hypot(x, y); n > 0 {
		w0, w1 = (x*along[0]+y*along[1])/n, (y*along[0]-x*along[1])/n
	}
	for i := range p.ray {
		sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / rays)
		p.ray[i].a = p.s*p.s*cos*cos + s1*s1*sin*sin
		p.ray[i].b = w0*p.s*cos + w1*s1*sin
	}
	if dof > 0 && dof < manyDoF {
		p.dof = dof
	}
	return p, true
}

// within is the probability that a place which is a from where it should be is
// found within r of there. In units of the scales the error has a length ρ beyond
// which S(ρ) lies, in any direction t alike,
//
//	S = exp(-ρ²/2), of Student's t (1 + ρ²/ν)^(-ν/2)
//
// and the circle is met where A ρ² + 2 a B ρ + a² - r² = 0, with A and B of the
// direction alone. Over a turn, by the trapezium rule,
//
//	P = 1/2π ∫ S(ρ₁) - S(ρ₂) dt
//
// between the ray's entry ρ₁, 0 from inside, and its exit ρ₂: to rounding where S has
// fallen off at the circle, to 0.004 at worst, where a is r.
func (p *planar) within(a, r float64) float64 {
	if !(r > 0) {
		return 0
	}
	c := (a - r) * (a + r)
	sum := 0.0
	for _, ray := range p.ray {
		b := a * ray.b
		d := b*b - ray.a*c
		switch {
		case c <= 0 && b > 0:
			sum += 1 - p.beyond(-c/(b+math.Sqrt(d)))
		case c <= 0:
			sum += 1 - p.beyond((math.Sqrt(d)-b)/ray.a)
		case b < 0 && d > 0:
			sum += p.beyond(c/(math.Sqrt(d)-b)) - p.beyond((math.Sqrt(d)-b)/ray.a)
		}
	}
	return sum / rays
}

// beyond is S(ρ).
func (p *planar) beyond(rho float64) float64 {
	if p.dof == 0 {
		return math.Exp(-rho * rho / 2)
	}
	return math.Exp(-p.dof / 2 * math.Log1p(rho*rho/p.dof))
}

// reach is the distance below which a place that is a off is found in 97.72 %.
func (p *planar) reach(a float64) float64 {
	miss := func(r float64) float64 { return p.within(a, r) - report.OneSide }
	if a > 0 {
		return root(miss, a, a+p.reach(0)) // |a + e| ≤ a + |e|
	}
	if p.centred == 0 {
		hi := 3 * p.s
		for miss(hi) < 0 {
			hi *= 2
		}
		p.centred = root(miss, 0, hi)
	}
	return p.centred
}

// least is the lower 97.72 % limit of the true distance of a place found at r: the a with
// reach(a) = r, or 0 where reach(0) is more.
func (p *planar) least(r float64) float64 {
	most := p.reach(0)
	if r <= most {
		return 0
	}
	return root(func(a float64) float64 { return report.OneSide - p.within(a, r) }, r-most, r)
}

// expanded is the uncertainty U of a distance found to be r: the true one is below r + U, and
// above r - U, each with 97.72 % or more. Far from zero U is 2 s, for many degrees of freedom.
//
// r - U is the limit of a test of the true distance: a place at its limit is called beyond it
// in at most 2.28 %. r + U comes from the distribution of the true place about the one found;
// a place at its limit passes less often than that.
func (p *planar) expanded(r float64) float64 {
	return max(p.reach(r)-r, r-p.least(r))
}

// root finds where f, which rises from lo to hi, is zero, by halving: lo where it is above zero
// there, hi where it is below.
func root(f func(float64) float64, lo, hi float64) float64 {
	for range halvings {
		if mid := (lo + hi) / 2; f(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
