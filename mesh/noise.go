package mesh

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// Sampling is what the data says of its own sampling.
type Sampling struct {
	// Spacing is the median over the sampled points of the median distance to
	// their six nearest neighbours, mm. On a triangular grid that is its
	// pitch, among points spread at random over a surface one over the square
	// root of their number per mm².
	Spacing float64

	// Noise is the standard deviation of points across the surface, mm, seen
	// over patches up to about fifty spacings wide, as far as the scan has
	// parts so wide on which a quadric fits. Waves longer than that, or than
	// the smooth parts, do not show in it: what a fit to a whole face leaves
	// is the better figure once there is one.
	Noise float64

	// LocalNoise is the same over patches of some five spacings: what
	// neighbouring points do not share. With independent noise it equals Noise;
	// on a mesh fused from many images it may be a third of it or less.
	LocalNoise float64

	// Patches is the number of patches that LocalNoise rests on. Zero means that
	// the scan has too few points to tell noise; both noises are zero then.
	Patches int
}

// EstimateSampling estimates spacing and noise from patches about a sample of
// points drawn by seed. tree is a tree of s.Offsets, or nil. jobs is the number
// of goroutines, zero for GOMAXPROCS. The only error is the context's.
//
// In each patch a quadric w(u,v) is fitted over the tangent plane, so that
// curvature is no noise; outliers, and what is beyond an edge, are left out.
// See local and broad for how the patches' answers are combined.
func EstimateSampling(ctx context.Context, s *Scan, tree *KDTree,
	seed uint64, jobs int) (Sampling, error) {
	if err := ctx.Err(); err != nil {
		return Sampling{}, err
	}
	if tree == nil {
		tree = NewKDTree(s.Offsets, jobs)
	}
	e := noiseEstimate{s, tree, seed, jobs}
	var out Sampling
	var err error
	if out.Spacing, out.LocalNoise, out.Patches, err = e.local(ctx); err != nil {
		return Sampling{}, err
	}
	out.Noise = out.LocalNoise
	for _, k := range broadPatches {
		noise, err := e.broad(ctx, k)
		if err != nil {
			return Sampling{}, err
		}
		out.Noise = max(out.Noise, noise)
	}
	return out, nil
}

// noiseEstimate is what the estimates at all widths have in common.
type noiseEstimate struct {
	s    *Scan
	tree *KDTree
	seed uint64
	jobs int
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

// heights are the points of a patch over its tangent plane: u and v by the
// patch's width, w in mm.
type heights struct {
	at    []r3.Vector
	width float64 // mm
}

// newHeights puts offsets from a place over the plane through it of normal n.
func newHeights(at []r3.Vector, n r3.Vector, width float64) heights {
	u, v := geom.Basis(n)
	for i, o := range at {
		at[i] = r3.Vector{X: o.Dot(u) / width, Y: o.Dot(v) / width, Z: o.Dot(n)}
	}
	return heights{at, width}
}

// refit fits a quadric by least squares to the points within band of q, whose
// number and residual sum of squares about q it returns.
func (h *heights) refit(q geom.Quadric, band float64) (next geom.Quadric, m int, rss float64, ok bool) {
	var sums geom.QuadricSums
	for _, x := range h.at {
		d := x.Z - q.At(x.X, x.Y)
		if math.Abs(d) <= band {
			m++
			rss += d * d
			sums.Add(x.X, x.Y, x.Z)
		}
	}
	next, ok = sums.Fit()
	return next, m, rss, ok
}

// localPatch is a patch of the nearest neighbours of a place.
type localPatch struct {
	heights
	spacing float64 // mm; zero if there are no neighbours
	scale   float64 // a first guess at the noise, mm; zero if there is no plane
}

// localPatchOf takes as tangent plane, of trial planes through the place and
// two neighbours, the one from which the nearest three fifths of the points are
// least far (least quantile of squares, Rousseeuw & Leroy 1987).
func localPatchOf(p *patch) (t localPatch) {
	if p.n >= 1 {
		m := min(spacingNeighbours, p.n)
		t.spacing = (p.radius((m+1)/2) + p.radius(m/2+1)) / 2
		if m == 1 {
			t.spacing = p.radius(1)
		}
	}
	if p.n < leastLocal {
		return t
	}
	var n r3.Vector
	var off [maxPatch]r3.Vector
	var dist [maxPatch]float64
	for i := range p.n {
		off[i] = p.off[i].R3()
	}
	best := math.Inf(1)
	state := uint32(drawSeed)
	for range localDraws {
		w, ok := trialNormal(off[nextDraw(&state)%uint32(p.n)], off[nextDraw(&state)%uint32(p.n)])
		if !ok {
			continue
		}
		for i, o := range off[:p.n] {
			dist[i] = math.Abs(w.Dot(o))
		}
		if q := geom.Nth(dist[:p.n], p.n*3/5); q < best {
			best, n = q, w
		}
	}
	if math.IsInf(best, 1) {
		return t
	}
	at := make([]r3.Vector, p.n+1) // with the place itself
	copy(at[1:], off[:p.n])
	t.heights, t.scale = newHeights(at, n, p.radius(p.n)), best
	return t
}

// patchNoise is what a patch says of the noise.
type patchNoise struct {
	// variance is its estimate of the noise variance, divided by the median of
	// chi square over its degrees of freedom, so that its median is the
	// variance. NaN where the patch cannot tell.
	variance float64
	rss      float64 // residual sum of squares of the points within the cut
	m        int     // their number
	beyond   int     // points between once and twice the cut
}

// noise returns what the patch says, given the noise for the cut.
func (t *localPatch) noise(noise float64) patchNoise {
	f := patchNoise{variance: math.NaN()}
	if len(t.at) == 0 {
		return f
	}
	cut := noiseCut*noise + 1e-7*t.width // and rounding
	// Begin from the plane's own band, and from a wide one that lets a curved
	// wall in; the fit that holds more points is the patch's.
	f.rss, f.m, f.beyond = t.settle(cut, cut)
	if rss, m, beyond := t.settle(startBand*t.width, cut); m > f.m {
		f.rss, f.m, f.beyond = rss, m, beyond
	}
	if f.m < leastLocal || 5*f.m < 2*len(t.at) {
		return f
	}
	dof := float64(f.m - 6)
	// Median of chi square over its degrees of freedom: Wilson & Hilferty
	// (1931), PNAS 17, p. 684.
	mid := math.Pow(1-2/(9*dof), 3)
	// A residual has 1-6/m of the variance.
	f.variance = f.rss / dof / mid / cutVariance(noiseCut/math.Sqrt(dof/float64(f.m)))
	return f
}

// cutVariance returns the variance of a standard normal distribution cut at
// ±c: 1 - 2cφ(c)/(2Φ(c)-1).
func cutVariance(c float64) float64 {
	return 1 - 2*c*math.Exp(-c*c/2)/math.Sqrt(2*math.Pi)/math.Erf(c/math.Sqrt2)
}

// settle fits a quadric to the points within band of the plane and again, the
// band narrowing to cut, to those near the quadric. It returns the residual
// sum of squares and number of points, and how many lie between once and twice
// the cut.
func (t *localPatch) settle(band, cut float64) (rss float64, m, beyond int) {
	var q geom.Quadric
	last := -1
	for range 12 {
		next, m, _, ok := t.refit(q, band)
		if m < 9 {
			return 0, 0, 0
		}
		if band == cut && m == last {
			break
		}
		if !ok {
			return 0, 0, 0
		}
		if q = next; band == cut {
			last = m
		}
		band = max(cut, band/2)
	}
	for _, x := range t.at {
		if r := math.Abs(x.Z - q.At(x.X, x.Y)); r <= cut {
			rss += r * r
			m++
		} else if r <= 2*cut {
			beyond++
		}
	}
	return rss, m, beyond
}

// local returns spacing and noise of patches of a few neighbours. The noise is
// the median of the patches' variances, each RSS/(m-6) with m points for its
// six coefficients, over the median of chi square by its degrees of freedom; it
// is found by iteration, as the cut depends on it, and corrected for outliers
// that lie within it by chance. Half of the patches may lie across edges before
// it breaks down.
func (e noiseEstimate) local(ctx context.Context) (spacing, noise float64, used int, err error) {
	sample := samplePoints(e.s.Len(), localSample, e.seed)
	patches := make([]localPatch, len(sample))
	err = parallel.Chunks(ctx, e.jobs, len(sample), 64, func(lo, hi int) {
		var p patch
		for k := lo; k < hi; k++ {
			p.gather(e.s.Offsets, e.tree, sample[k], localPoints)
			patches[k] = localPatchOf(&p)
		}
	})
	if err != nil {
		return 0, 0, 0, err
	}
	var spacings, scales []float64
	for i := range patches {
		if patches[i].spacing > 0 {
			spacings = append(spacings, patches[i].spacing)
		}
		if len(patches[i].at) > 0 {
			scales = append(scales, patches[i].scale)
		}
	}
	noise = geom.Median(scales)
	fits := make([]patchNoise, len(patches))
	for range 20 {
		err := parallel.Chunks(ctx, e.jobs, len(patches), 64, func(lo, hi int) {
			for k := lo; k < hi; k++ {
				fits[k] = patches[k].noise(noise)
			}
		})
		if err != nil {
			return 0, 0, 0, err
		}
		var variance []float64
		for _, f := range fits {
			if !math.IsNaN(f.variance) {
				variance = append(variance, f.variance)
			}
		}
		was := noise
		used = len(variance)
		noise = math.Sqrt(geom.Median(variance) * withoutOutliers(fits, noiseCut*was))
		if math.Abs(noise-was) <= 3e-3*was {
			break
		}
	}
	return geom.Median(spacings), noise, used, nil
}

// withoutOutliers returns by what factor to reduce the variance for outliers
// that lie within the cut by chance. They lie about as thickly there as beyond
// it, where a normal distribution leaves few, and add cut²/3 each. Patches
// across edges, which have lost many points, do not count.
func withoutOutliers(fits []patchNoise, cut float64) float64 {
	var rss, dof, beyond float64
	for _, f := range fits {
		if math.IsNaN(f.variance) || f.m < localPoints*7/10 {
			continue
		}
		c := noiseCut / math.Sqrt(1-6/float64(f.m)) / math.Sqrt2
		rss += f.rss
		dof += float64(f.m - 6)
		beyond += float64(f.beyond) - float64(f.m)*(math.Erf(2*c)-math.Erf(c))/math.Erf(c)
	}
	if beyond <= 0 || rss == 0 {
		return 1
	}
	return min(1, max(0.5, (1-beyond*cut*cut/3/rss)*dof/max(dof/2, dof-beyond)))
}

// broad returns the standard deviation across the surface in patches of k
// points, or 0 where too few patches are smooth. Patches with an edge or more
// curvature than a quadric holds read high, by different amounts; the smooth
// ones agree, so the shortest stretch of the sorted logarithms that holds a
// quarter of the patches is theirs (as the shorth, Andrews et al. 1972, Robust
// Estimates of Location, does with half).
func (e noiseEstimate) broad(ctx context.Context, k int) (float64, error) {
	if e.s.Len() < 4*k {
		return 0, nil
	}
	sample := samplePoints(e.s.Len(), broadSample, e.seed)
	noise := make([]float64, len(sample))
	err := parallel.Chunks(ctx, e.jobs, len(sample), 8, func(lo, hi int) {
		var b broadPatch
		for m := lo; m < hi; m++ {
			noise[m] = b.noise(e.s, e.tree, sample[m], k)
		}
	})
	if err != nil {
		return 0, err
	}
	noise = slices.DeleteFunc(noise, math.IsNaN)
	if len(noise) < broadLeast {
		return 0, nil
	}
	slices.Sort(noise)
	best, at := math.Inf(1), 0
	for i := range noise[:len(noise)-broadLeast+1] {
		if r := noise[i+broadLeast-1] / noise[i]; r < best {
			best, at = r, i
		}
	}
	if !(best < broadSpread) {
		return 0, nil
	}
	// What lies about their middle is theirs, too.
	mid := geom.Median(slices.Clone(noise[at : at+broadLeast]))
	lo, _ := slices.BinarySearch(noise, mid/broadAround)
	hi, _ := slices.BinarySearch(noise, mid*broadAround)
	return geom.Median(noise[lo:hi]), nil
}

// broadPatch keeps the room that a broad patch needs.
type broadPatch struct {
	nb       []Neighbour
	in       []int32
	at       []r3.Vector
	residual []float64
}

// noise returns the standard deviation about its quadric of a patch of about k
// points, those beyond three standard deviations by the median left out, or NaN
// where it is not smooth. The patch is as wide as its middle's density tells.
func (b *broadPatch) noise(s *Scan, tree *KDTree, i int32, k int) float64 {
	b.nb = tree.Nearest(s.Offsets[i], broadMiddle, 0, b.nb[:0])
	width := math.Sqrt(float64(b.nb[len(b.nb)-1].D2) * float64(k) / broadMiddle)
	b.in = tree.InRadius(s.Offsets[i], float32(width), b.in[:0])
	if len(b.in) < k/4 {
		return math.NaN()
	}
	q := s.Offsets[i].R3()
	b.at = b.at[:0]
	var all geom.Moments
	for m := 0; m < len(b.in); m += max(1, len(b.in)/broadUsed) {
		o := s.Offsets[b.in[m]].R3().Sub(q)
		all.Add(o)
		b.at = append(b.at, o)
	}
	n, _, _, ok := all.Plane()
	if !ok {
		return math.NaN()
	}
	h := newHeights(b.at, n, width)
	var c geom.Quadric
	band := math.Inf(1)
	for range 8 {
		b.residual = b.residual[:0]
		for _, x := range h.at {
			b.residual = append(b.residual, math.Abs(x.Z-c.At(x.X, x.Y)))
		}
		next, m, rss, ok := h.refit(c, band)
		if !ok || m < len(h.at)/4 || m < leastLocal {
			return math.NaN()
		}
		c = next
		last := band
		band = 3 * 1.4826 * geom.Median(slices.Clone(b.residual))
		if math.Abs(band-last) >= 0.01*band {
			continue
		}
		relief := math.Sqrt(c[3]*c[3] + c[4]*c[4]/2 + c[5]*c[5])
		if float64(m) < broadInliers*float64(len(h.at)) || relief > broadMost*h.width {
			return math.NaN()
		}
		sigma := b.spread(math.Sqrt(rss / float64(m-6)))
		steep := relief / h.width
		if steep > broadRelief && steep*steep*steep*h.width > sigma || sigma > broadRough*h.width {
			return math.NaN()
		}
		return sigma
	}
	return math.NaN()
}

// spread returns the standard deviation of the residuals, beginning from a
// rough one; what lies beyond the cut is left out and allowed for.
func (b *broadPatch) spread(sigma float64) float64 {
	for range 5 {
		m, rss := 0, 0.0
		for _, r := range b.residual {
			if r <= noiseCut*sigma {
				m++
				rss += r * r
			}
		}
		if m < leastLocal {
			return math.NaN()
		}
		sigma = math.Sqrt(rss / float64(m-6) / cutVariance(noiseCut))
	}
	return sigma
}
