package mesh

import (
	"math"
	"slices"
)

// texturePatch is a patch in the frame of its tangent plane.
type texturePatch struct {
	ok      bool
	n       int
	at      [texturePoints + 1][3]float64 // u, v, w; u and v in units of width
	width   float64                       // mm
	spacing float64                       // mm
	scale   float64                       // first guess at the noise, mm
}

// set finds the tangent plane: of trial planes through the place and two
// neighbours the one from which the nearest three fifths of the points are
// least far (least quantile of squares, Rousseeuw & Leroy 1987).
func (t *texturePatch) set(p *patch) {
	if p.n >= 1 {
		m := min(spacingPoints, p.n)
		t.spacing = (p.reach((m+1)/2) + p.reach(m/2+1)) / 2
		if m == 1 {
			t.spacing = p.reach(1)
		}
	}
	if p.n < 12 {
		return
	}
	best := math.Inf(1)
	var n [3]float64
	var r [texturePoints]float64
	state := uint32(2463534242)
	for range textureDraws {
		a := wide(p.off[nextDraw(&state)%uint32(p.n)])
		b := wide(p.off[nextDraw(&state)%uint32(p.n)])
		w := cross(a, b)
		l := dot(w, w)
		if l < 1e-2*dot(a, a)*dot(b, b) || l == 0 {
			continue
		}
		l = 1 / math.Sqrt(l)
		w = [3]float64{w[0] * l, w[1] * l, w[2] * l}
		for i := range p.n {
			r[i] = math.Abs(dot(w, wide(p.off[i])))
		}
		slices.Sort(r[:p.n])
		if q := r[p.n*3/5]; q < best {
			best, n = q, w
		}
	}
	if math.IsInf(best, 1) {
		return
	}
	u := anyAcross(n)
	v := cross(n, u)
	t.ok, t.n, t.scale, t.width = true, p.n+1, best, p.reach(p.n)
	for i := range p.n { // the place itself stays at zero
		o := wide(p.off[i])
		t.at[i+1] = [3]float64{dot(o, u) / t.width, dot(o, v) / t.width, dot(o, n)}
	}
}

// anyAcross returns a unit vector square to the unit vector n.
func anyAcross(n [3]float64) [3]float64 {
	e := [3]float64{1, 0, 0}
	if math.Abs(n[0]) > 0.6 {
		e = [3]float64{0, 1, 0}
	}
	w := cross(n, e)
	l := 1 / math.Sqrt(dot(w, w))
	return [3]float64{w[0] * l, w[1] * l, w[2] * l}
}

// patchFit is what a patch says of the noise.
type patchFit struct {
	// variance is its estimate of the noise variance, divided by the median of
	// chi square over its degrees of freedom, so that its median is the
	// variance. NaN where the patch cannot tell.
	variance float64
	rss      float64 // residual sum of squares of the points within the cut
	m        int     // their number
	beyond   int     // points between once and twice the cut
}

// fit returns what the patch says, given the noise for the cut.
func (t *texturePatch) fit(noise float64) patchFit {
	f := patchFit{variance: math.NaN()}
	if !t.ok {
		return f
	}
	cut := textureCut*noise + 1e-7*t.width
	// Begin from the plane's own band, and from a wide one that lets a curved
	// wall in; the fit that holds more points is the patch's.
	f.rss, f.m, f.beyond = t.quadric(cut, cut)
	if rss, m, beyond := t.quadric(0.3*t.width, cut); m > f.m {
		f.rss, f.m, f.beyond = rss, m, beyond
	}
	if f.m < 12 || 5*f.m < 2*t.n {
		return f
	}
	dof := float64(f.m - 6)
	// Median of chi square over its degrees of freedom: Wilson & Hilferty
	// (1931), PNAS 17, p. 684.
	mid := math.Pow(1-2/(9*dof), 3)
	// The cut takes the tails: variance of a normal distribution cut at ±c,
	// 1 - 2cφ(c)/(2Φ(c)-1), where a residual has 1-6/m of the variance.
	c := textureCut / math.Sqrt(dof/float64(f.m))
	cutLoss := 1 - 2*c*math.Exp(-c*c/2)/math.Sqrt(2*math.Pi)/math.Erf(c/math.Sqrt2)
	f.variance = f.rss / dof / mid / cutLoss
	return f
}

// astrayShare returns by what factor to reduce the variance for points astray
// that lie within the cut by chance. They lie about as thickly there as beyond
// it, where a normal distribution leaves few, and add cut²/3 each. Patches
// across edges, which have lost many points, do not count.
func astrayShare(fits []patchFit, cut float64) float64 {
	var rss, dof, beyond float64
	for _, f := range fits {
		if math.IsNaN(f.variance) || f.m < texturePoints*7/10 {
			continue
		}
		c := textureCut / math.Sqrt(1-6/float64(f.m)) / math.Sqrt2
		rss += f.rss
		dof += float64(f.m - 6)
		beyond += float64(f.beyond) - float64(f.m)*(math.Erf(2*c)-math.Erf(c))/math.Erf(c)
	}
	if beyond <= 0 || rss == 0 {
		return 1
	}
	return min(1, max(0.5, (1-beyond*cut*cut/3/rss)*dof/max(dof/2, dof-beyond)))
}

// quadric fits w = c0 + c1 u + c2 v + c3 u² + c4 uv + c5 v² to the points
// within band of the plane and again, the band narrowing to cut, to those near
// the quadric. It returns the residual sum of squares and number of points, and
// how many lie between once and twice the cut.
func (t *texturePatch) quadric(band, cut float64) (rss float64, m, beyond int) {
	var c [6]float64
	last := -1
	for range 12 {
		var a [6][7]float64
		m = 0
		for i := range t.n {
			x := t.at[i]
			b := [6]float64{1, x[0], x[1], x[0] * x[0], x[0] * x[1], x[1] * x[1]}
			r := x[2]
			for j := range b {
				r -= c[j] * b[j]
			}
			if math.Abs(r) > band {
				continue
			}
			m++
			addNormal(&a, &b, x[2], 1)
		}
		if m < 9 {
			return 0, 0, 0
		}
		if band == cut && m == last {
			break
		}
		var ok bool
		if c, ok = solve6(&a); !ok {
			return 0, 0, 0
		}
		if band == cut {
			last = m
		}
		band = max(cut, band/2)
	}
	m = 0
	for i := range t.n {
		x := t.at[i]
		r := x[2] - (c[0] + c[1]*x[0] + c[2]*x[1] + c[3]*x[0]*x[0] + c[4]*x[0]*x[1] + c[5]*x[1]*x[1])
		if r = math.Abs(r); r <= cut {
			rss += r * r
			m++
		} else if r <= 2*cut {
			beyond++
		}
	}
	return rss, m, beyond
}
