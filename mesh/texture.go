package mesh

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
)

// Texture is what the data says of its own sampling.
type Texture struct {
	// Spacing is the median over the sampled points of the median distance to
	// their six nearest neighbours, mm. On a triangular grid that is its
	// pitch, among points strewn at random over a surface one over the square
	// root of their number per mm².
	Spacing float64

	// Noise is the standard deviation of points across the local surface, mm:
	// of what is rough over the few spacings that a patch is wide. Where the
	// noise of neighbouring points is alike, as on a mesh fused from many
	// images, the waves longer than a patch do not show in it, and it is less
	// than the noise of the whole.
	Noise float64

	// Patches is the number of patches that Noise rests on. Zero means that
	// the scan has too few points to tell noise, and Noise is zero.
	Patches int
}

const (
	texturePatches = 1500 // sampled
	texturePoints  = 24   // neighbours in a patch
	spacingPoints  = 6
	textureCut     = 3 // standard deviations beyond which a point is astray
)

// EstimateTexture estimates spacing and noise from patches about a sample of
// points drawn by seed. ix is an index of s.Offsets, or nil. The only error is
// the context's.
//
// In each patch a quadric w(u,v) is fitted over the tangent plane, so that
// curvature is no noise; what lies off by more than three standard deviations
// is left out: points astray, and what is beyond an edge. The noise is the
// median of the patches' variances, each RSS/(m-6) with m points for its six
// coefficients, over the median of chi square by its degrees of freedom; it is
// found by iteration, as the cut depends on it. Half of the patches may lie
// across edges before it breaks down.
func EstimateTexture(ctx context.Context, s *Scan, ix *Index, seed uint64) (Texture, error) {
	if err := ctx.Err(); err != nil {
		return Texture{}, err
	}
	if ix == nil {
		ix = NewIndex(s.Offsets, 0)
	}
	sample := samplePoints(s.Len(), texturePatches, seed)
	patches := make([]texturePatch, len(sample))
	err := eachChunk(ctx, 0, len(sample), 64, func(lo, hi int) {
		var p patch
		for k := lo; k < hi; k++ {
			p.gather(s.Offsets, ix, sample[k], texturePoints, nil)
			patches[k].set(&p)
		}
	})
	if err != nil {
		return Texture{}, err
	}
	var tex Texture
	var spacings, scales []float64
	for i := range patches {
		if patches[i].spacing > 0 {
			spacings = append(spacings, patches[i].spacing)
		}
		if patches[i].ok {
			scales = append(scales, patches[i].scale)
		}
	}
	tex.Spacing = median(spacings)
	tex.Noise = median(scales)
	for range 20 {
		variance := make([]float64, len(patches))
		err := eachChunk(ctx, 0, len(patches), 64, func(lo, hi int) {
			for k := lo; k < hi; k++ {
				variance[k] = patches[k].variance(tex.Noise)
			}
		})
		if err != nil {
			return Texture{}, err
		}
		variance = slices.DeleteFunc(variance, func(v float64) bool { return math.IsNaN(v) })
		was := tex.Noise
		tex.Noise, tex.Patches = math.Sqrt(median(variance)), len(variance)
		if math.Abs(tex.Noise-was) <= 1e-3*was {
			break
		}
	}
	return tex, nil
}

// samplePoints draws about m of n numbers without repetition, ascending: one
// at random from each of m equal stretches.
func samplePoints(n, m int, seed uint64) []int32 {
	m = min(n, m)
	rng := rand.New(rand.NewPCG(seed, 0x7e87))
	out := make([]int32, m)
	for k := range m {
		lo, hi := k*n/m, (k+1)*n/m
		out[k] = int32(lo + rng.IntN(hi-lo))
	}
	return out
}

// median returns the middle value of v, the mean of two for an even number,
// and 0 for none. It sorts v.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}

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

// variance returns the patch's estimate of the noise variance, given the noise
// for the cut, divided by the median of chi square over its degrees of
// freedom: its median is the variance. NaN where the patch cannot tell.
func (t *texturePatch) variance(noise float64) float64 {
	if !t.ok {
		return math.NaN()
	}
	cut := textureCut*noise + 1e-7*t.width
	// Begin from the plane's own band, and from a wide one that lets a curved
	// wall in; the fit that holds more points is the patch's.
	rss, m := t.quadric(cut, cut)
	if rss2, m2 := t.quadric(0.3*t.width, cut); m2 > m {
		rss, m = rss2, m2
	}
	if m < 12 || 5*m < 2*t.n {
		return math.NaN()
	}
	dof := float64(m - 6)
	// Median of chi square over its degrees of freedom: Wilson & Hilferty
	// (1931), PNAS 17, p. 684.
	mid := math.Pow(1-2/(9*dof), 3)
	// The cut takes the tails: variance of a normal distribution cut at ±c,
	// 1 - 2cφ(c)/(2Φ(c)-1), where a residual has 1-6/m of the variance.
	c := textureCut / math.Sqrt(dof/float64(m))
	cutLoss := 1 - 2*c*math.Exp(-c*c/2)/math.Sqrt(2*math.Pi)/math.Erf(c/math.Sqrt2)
	return rss / dof / mid / cutLoss
}

// quadric fits w = c0 + c1 u + c2 v + c3 u² + c4 uv + c5 v² to the points
// within band of the plane and again, the band narrowing to cut, to those near
// the quadric. It returns the residual sum of squares and number of points.
func (t *texturePatch) quadric(band, cut float64) (rss float64, m int) {
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
			for j := range b {
				for k := j; k < 6; k++ {
					a[j][k] += b[j] * b[k]
				}
				a[j][6] += b[j] * x[2]
			}
		}
		if m < 9 {
			return 0, 0
		}
		if band == cut && m == last {
			break
		}
		var ok bool
		if c, ok = solve6(&a); !ok {
			return 0, 0
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
		if math.Abs(r) <= cut {
			rss += r * r
			m++
		}
	}
	return rss, m
}

// solve6 solves the normal equations, upper triangle and right side in a, by
// Cholesky's method. ok is false where they are singular.
func solve6(a *[6][7]float64) (c [6]float64, ok bool) {
	var l [6][6]float64
	for i := range 6 {
		for j := 0; j <= i; j++ {
			s := a[j][i]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i == j {
				if s <= 1e-9*a[i][i] {
					return c, false
				}
				l[i][i] = math.Sqrt(s)
			} else {
				l[i][j] = s / l[j][j]
			}
		}
	}
	for i := range 6 {
		s := a[i][6]
		for k := range i {
			s -= l[i][k] * c[k]
		}
		c[i] = s / l[i][i]
	}
	for i := 5; i >= 0; i-- {
		s := c[i]
		for k := i + 1; k < 6; k++ {
			s -= l[k][i] * c[k]
		}
		c[i] = s / l[i][i]
	}
	return c, true
}
