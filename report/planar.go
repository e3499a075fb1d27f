package report

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// planar is how a place in a plane errs: normally, or by Student's t, with scales s
// along two axes, the larger first. The length of the error of a place that is a
// from where it should be has the distribution of Rice (Bell System Technical
// Journal 24 (1945) 46-156, eq. 3.10-11) where both scales are one and normal:
// never below zero, and wider near zero than the error of one coordinate.
type planar struct {
	s   [2]float64
	way [2]float64 // unit direction of a, along the axes
	dof float64    // of Student's t; 0: normal
	far float64    // of which next to nothing lies further out, in scales
}

// oneSide is what lies below k = 2 of a normal distribution, 97.72 %: a guard band
// of it leaves 2.28 % for either mistake (JCGM 106:2012, 8.3.2).
const oneSide = 0.977249868051820792799717362833466562528

// manyDoF is from where Student's t is the normal distribution to three digits of
// a tail.
const manyDoF = 500

// newPlanar takes a covariance c of scales and the direction (x, y); zero means
// that of the larger scale. ok is false where c is not a covariance.
func newPlanar(c [2][2]float64, x, y, dof float64) (p planar, ok bool) {
	half, diff := (c[0][0]+c[1][1])/2, (c[0][0]-c[1][1])/2
	r := math.Hypot(diff, c[0][1])
	if !(half+r > 0) || math.IsInf(half+r, 0) {
		return p, false
	}
	p.s[0] = math.Sqrt(half + r)
	p.s[1] = max(math.Sqrt(max(half-r, 0)), 1e-3*p.s[0])
	p.way = [2]float64{1, 0}
	if n := math.Hypot(x, y); n > 0 {
		sin, cos := math.Sincos(math.Atan2(c[0][1], diff) / 2)
		p.way = [2]float64{(x*cos + y*sin) / n, (y*cos - x*sin) / n}
	}
	if dof > 0 && dof < manyDoF {
		p.dof = dof
		p.far = distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(1 - 5e-6)
	}
	return p, true
}

// within is the probability that a place which is a from where it should be is
// found within r of there. With y along the smaller scale, x = (y - m₁)/s₁ and
// h² = r² - y²,
//
//	P = ∫ f(x) [F((h - m₀)/s₀ | x) - F((-h - m₀)/s₀ | x)] dx
//
// where f and F are normal, or f is Student's with ν degrees of freedom and F with
// ν + 1, its scale √((ν + x²)/(ν + 1)) (Kotz & Nadarajah, Multivariate t
// Distributions and Their Applications, 2004, section 1.11). y = r sin t takes away
// the roots at the ends.
func (p planar) within(a, r float64) float64 {
	if !(r > 0) {
		return 0
	}
	m0, m1 := a*p.way[0], a*p.way[1]
	angle := func(x float64) float64 { return math.Asin(min(max((m1+x*p.s[1])/r, -1), 1)) }
	at := func(t float64) float64 {
		sin, cos := math.Sincos(t)
		x, h := (r*sin-m1)/p.s[1], r*cos
		return h / p.s[1] * p.chord(x, (-h-m0)/p.s[0], (h-m0)/p.s[0])
	}
	piece := func(lo, hi float64, n int) float64 {
		if lo, hi = angle(lo), angle(hi); lo < hi {
			return quad.Fixed(at, lo, hi, n, quad.Legendre{}, 0)
		}
		return 0
	}
	const near = 4.5 // 7e-6 of a normal distribution lie further out
	sum := piece(-near, near, 28)
	for x := near; x < p.far; x *= 2 {
		sum += piece(-2*x, -x, 8) + piece(x, 2*x, 8)
	}
	return sum
}

// chord is the density at x along the smaller scale times what lies between lo
// and hi of the larger.
func (p planar) chord(x, lo, hi float64) float64 {
	if p.dof == 0 {
		return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) * (math.Erfc(-hi/math.Sqrt2) - math.Erfc(-lo/math.Sqrt2)) / 2
	}
	wide := math.Sqrt((p.dof + x*x) / (p.dof + 1))
	t := distuv.StudentsT{Sigma: 1, Nu: p.dof + 1}
	return distuv.StudentsT{Sigma: 1, Nu: p.dof}.Prob(x) * (t.CDF(hi/wide) - t.CDF(lo/wide))
}

// reach is what the distance of a place that is a off is found within, with
// 97.72 %.
func (p planar) reach(a float64) float64 {
	miss := func(r float64) float64 { return p.within(a, r) - oneSide }
	if a > 0 {
		return root(miss, a, a+p.reach(0), 1e-4*p.s[0]) // |a + e| ≤ a + |e|
	}
	hi := 3 * p.s[0]
	for miss(hi) < 0 {
		hi *= 2
	}
	return root(miss, 0, hi, 1e-4*p.s[0])
}

// least is the smallest distance off that a place found at r may be, with 97.72 %:
// the a whose reach is r, 0 where that of 0 is more.
func (p planar) least(r float64) float64 {
	most := p.reach(0)
	if r <= most {
		return 0
	}
	return root(func(a float64) float64 { return oneSide - p.within(a, r) }, r-most, r, 1e-4*p.s[0])
}

// expanded is the uncertainty of a distance found to be r: what makes r + U the
// distance that the true one is below, and r - U that which it is above, both with
// 97.72 % or more. Far from zero it is 2 s, for many degrees of freedom.
//
// r - U is the limit of a test of the true distance, so that a place at its limit
// is called beyond it in at most 2.28 %. r + U is by the distribution of the true
// place about the one found; what is at its limit then passes less often still.
func (p planar) expanded(r float64) float64 {
	return max(p.reach(r)-r, r-p.least(r))
}

// root finds where f, which rises from f(lo) ≤ 0 to f(hi) ≥ 0, is zero, to within
// tol: false position with the end that stays halved (Dowell & Jarratt, BIT 11
// (1971) 168-174).
func root(f func(float64) float64, lo, hi, tol float64) float64 {
	flo, fhi := f(lo), f(hi)
	kept := 0
	for range 60 {
		if hi-lo <= tol || flo >= 0 || fhi <= 0 {
			break
		}
		x := lo + (hi-lo)*flo/(flo-fhi)
		v := f(x)
		if math.Abs(v) < 1e-9 {
			return x
		}
		if v < 0 {
			if lo, flo = x, v; kept == 1 {
				fhi /= 2
			}
			kept = 1
		} else {
			if hi, fhi = x, v; kept == 2 {
				flo /= 2
			}
			kept = 2
		}
	}
	switch {
	case flo >= 0:
		return lo
	case fhi <= 0:
		return hi
	}
	return lo + (hi-lo)*flo/(flo-fhi)
}
