package bolt

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// likelihood tells how well a kernel explains the residuals of all features of
// one kind.
type likelihood struct {
	groups [][]*binned // of like radius
	free   float64     // bins less what fits took out
	k      [][]triangle
	v      triangle
}

// newLikelihood puts series together whose radii differ by less than 2 %: holes
// of one drill. Their radii are taken to differ by sameDrill when the noise is
// learned; what they differ by is the only sign of its longest waves. (Holes
// that differ more make it look larger, which is the safe side.) Series too
// short to tell anything are left out.
func newLikelihood(all []arcSeries) *likelihood {
	l := &likelihood{}
	var order []*binned
	for _, s := range all {
		if b := s.binned(); len(b.y) >= 5 {
			order = append(order, b)
		}
	}
	slices.SortStableFunc(order, func(a, b *binned) int { return cmp.Compare(a.radius, b.radius) })
	dither(order)
	for _, b := range order {
		l.free += float64(len(b.y) - 2)
		if n := len(l.groups); n > 0 && b.radius < 1.02*l.groups[n-1][0].radius {
			l.groups[n-1] = append(l.groups[n-1], b)
			l.k[n-1] = append(l.k[n-1], triangle{})
			continue
		}
		l.free-- // the group's radius
		l.groups = append(l.groups, []*binned{b})
		l.k = append(l.k, make([]triangle, 1))
	}
	return l
}

// twin is another of the same features, to try another kernel at the same time.
func (l *likelihood) twin() *likelihood {
	t := &likelihood{groups: l.groups, free: l.free}
	for _, k := range l.k {
		t.k = append(t.k, make([]triangle, len(k)))
	}
	return t
}

// dither adds white noise of a twentieth of the residuals' root mean square. Noise
// of a smooth kernel leaves next to nothing in the short waves; without white
// noise of known size the likelihood would hang on that.
func dither(all []*binned) {
	var square, n float64
	for _, b := range all {
		for _, x := range b.x {
			square += x[3] * x[3]
		}
		n += float64(len(b.x))
	}
	size := math.Sqrt(square/n) / 20
	rng := rand.New(rand.NewPCG(1, 0xd17e))
	for _, b := range all {
		for i := range b.x {
			b.x[i][3] += size * rng.NormFloat64()
		}
	}
}

// use lays the kernel out for all features and returns which share of its variance
// is left when circles are taken out.
func (l *likelihood) use(k kernel) (visible float64) {
	var bins, hidden float64
	for g, group := range l.groups {
		var c turns
		depth := math.NaN()
		for i, b := range group {
			if !(math.Abs(b.depth-depth) <= 0.05*depth) {
				c, depth = k.turns(b.radius, b.depth), b.depth
			}
			l.k[g][i].lay(b, &c)
			bins += float64(len(b.x)) * c[0]
			hidden += b.hidden(&l.k[g][i])
		}
	}
	return max(1-hidden/bins, 1e-9)
}

// at returns ln of the restricted likelihood of the kernel in use with a
// correlated variance of q σ², σ² profiled out, and the posterior mean of σ².
func (l *likelihood) at(q float64) (log, sigma2 float64) {
	var quad, logDet float64
	var radii [][2]float64 // precision, and radius about the group's first
	for g, group := range l.groups {
		for i, s := range group {
			logDet += l.v.factor(&l.k[g][i], q, s.n)
			a, b, yy := l.v.normal(s.x)
			// Take the centre out: what is left of r has precision p about r.
			det := a[0][0]*a[1][1] - a[0][1]*a[1][0]
			solve := func(x, y float64) (float64, float64) {
				return (a[1][1]*x - a[0][1]*y) / det, (a[0][0]*y - a[1][0]*x) / det
			}
			ux, uy := solve(a[0][2], a[1][2])
			vx, vy := solve(b[0], b[1])
			p := a[2][2] - a[0][2]*ux - a[1][2]*uy
			h := b[2] - a[0][2]*vx - a[1][2]*vy
			quad += yy - b[0]*vx - b[1]*vy - h*h/p
			logDet += math.Log(det)
			radii = append(radii, [2]float64{p, s.radius - group[0].radius + h/p})
		}
	}
	// Radii differ by the drill besides; the residuals say how that compares.
	between := 0.0
	if quad > 0 {
		between = sameDrill * sameDrill * (l.free - float64(len(radii)-len(l.groups))) / quad
	}
	for _, group := range l.groups {
		var sum, wr, wr2 float64
		for _, pr := range radii[:len(group)] {
			logDet += math.Log1p(pr[0] * between)
			w := 1 / (1/pr[0] + between)
			sum += w
			wr += w * pr[1]
			wr2 += w * pr[1] * pr[1]
		}
		radii = radii[len(group):]
		quad += max(0, wr2-wr*wr/sum)
		logDet += math.Log(sum)
	}
	quad = max(quad, 1e-30)
	return -logDet/2 - l.free/2*math.Log(quad), quad / max(l.free-2, 1)
}
