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
	// on a mesh fused from many images it may be a third of it or less. Zero
	// where the scan has too few points to tell; Noise is zero then, too.
	LocalNoise float64
}

// EstimateSampling estimates spacing and noise from patches about a sample of
// points drawn by seed. tree is a tree of s.Offsets, or nil. jobs is the number
// of goroutines, zero for GOMAXPROCS. The only error is the context's.
//
// In each patch a quadric w(u,v) is fitted over the tangent plane, so that
// curvature is no noise; outliers, and what is beyond an edge, are left out. Where
// the scan has normals, so are points that face more than 45 degrees away. What
// the quietest quarter of the patches shows is noise, see quietest.
func EstimateSampling(ctx context.Context, s *Scan, tree *KDTree,
	seed uint64, jobs int) (Sampling, error) {
	if tree == nil {
		tree = NewKDTree(s.Offsets, jobs)
	}
	var out Sampling
	noise, spacing := make([]float64, localSample), make([]float64, localSample)
	measure := func(places []int32, k int) float64 { // noise of patches of k points
		_ = parallel.Chunks(ctx, jobs, len(places), patchChunk, func(lo, hi int) {
			var p noisePatch
			for m := lo; m < hi; m++ {
				noise[m] = p.noise(s, tree, places[m], k)
				spacing[m] = p.spacing
			}
		})
		return quietest(noise[:len(places)], min(k, broadUsed), out.LocalNoise)
	}
	places := samplePoints(s.Len(), localSample, seed)
	out.LocalNoise = measure(places, localPoints)
	out.Noise = out.LocalNoise
	// Broad patches lie where near neighbours show this noise: texture is none.
	var quiet []int32
	for m, i := range places {
		if noise[m] <= quietPlace*out.LocalNoise {
			quiet = append(quiet, i)
		}
	}
	out.Spacing = geom.Median(slices.DeleteFunc(spacing, func(d float64) bool { return d == 0 }))
	n := min(broadSample, len(quiet))
	for m := range n {
		quiet[m] = quiet[m*len(quiet)/n]
	}
	for _, k := range broadPatches {
		if s.Len() >= broadFaces*k {
			out.Noise = max(out.Noise, measure(quiet[:n], k))
		}
	}
	return out, ctx.Err()
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

// quietest returns the noise, given that of patches of n points, NaN for those that are
// not smooth; zero where less than a quarter is, or where broad ones do not agree.
// Patches with an edge, with more curvature than a quadric holds or with texture read
// high, by different amounts, so the lower quartile is taken, over that of a patch of
// nothing but noise (Wilson & Hilferty 1931, PNAS 17, p. 684):
//
//	s²/σ² = (1 - 2/9ν - 0.6745 √(2/9ν))³    ν degrees of freedom
func quietest(noise []float64, n int, local float64) float64 {
	smooth := slices.DeleteFunc(slices.Clone(noise), math.IsNaN)
	if len(smooth) == 0 || 4*len(smooth) < len(noise) {
		return 0
	}
	s := geom.Nth(smooth, len(smooth)/4)
	freedom := patchFreedom * float64(n-6)
	if n > localPoints {
		if s > broadSpread*geom.Nth(smooth, len(smooth)/broadLowest) {
			return 0
		}
		own := min(1, local*local/(s*s)) // the share of the variance that neighbours do not share
		freedom = min(freedom, max(leastFreedom, freedom*own))
	}
	v := 2 / (9 * freedom)
	return s / math.Pow(1-v-normalQuartile*math.Sqrt(v), 1.5)
}

// noisePatch keeps the room that a patch needs.
type noisePatch struct {
	spacing, width float64 // mm
	nb             []Neighbour
	in             []int32
	at             []r3.Vector
	residual       []float64
}

// noise returns the standard deviation about its quadric of a patch of about k
// points, outliers left out, or NaN where it is not smooth. A patch of more points
// than broadMiddle is as wide as its middle's density tells.
func (b *noisePatch) noise(s *Scan, tree *KDTree, i int32, k int) float64 {
	q := s.Offsets[i]
	b.nb = tree.Nearest(q, min(k, broadMiddle)+1, 0, b.nb[:0])
	if b.spacing, b.width = 0, 0; len(b.nb) == 0 {
		return math.NaN()
	}
	far := func(k int) float64 { return math.Sqrt(float64(b.nb[min(k, len(b.nb)-1)].D2)) }
	b.spacing = (far((spacingNeighbours+1)/2) + far(spacingNeighbours/2+1)) / 2
	b.width = far(len(b.nb) - 1)
	b.in = b.in[:0]
	broad := k > broadMiddle
	if broad {
		b.width *= math.Sqrt(float64(k) / broadMiddle)
		b.in = tree.InRadius(q, float32(b.width), b.in)
	} else {
		for _, n := range b.nb {
			b.in = append(b.in, n.I)
		}
	}
	b.at = b.at[:0]
	var all geom.Moments
	mid := s.Normal(int(i))
	for m := 0; m < len(b.in); m += max(1, len(b.in)/broadUsed) {
		if n := s.Normal(int(b.in[m])); mid.Dot(n) >= facingAway*mid.Norm() {
			o := s.Offsets[b.in[m]].R3().Sub(q.R3())
			all.Add(o)
			b.at = append(b.at, o)
		}
	}
	n, _, _, ok := all.Plane()
	if !ok || len(b.in) < k/leastPart || b.width == 0 {
		return math.NaN()
	}
	// Heights over the tangent plane: u and v by the patch's width, w in mm.
	e1, e2 := geom.Basis(n)
	for i, o := range b.at {
		b.at[i] = r3.Vector{X: o.Dot(e1) / b.width, Y: o.Dot(e2) / b.width, Z: o.Dot(n)}
	}
	var c geom.Quadric
	band := math.Inf(1)
	for range bandRounds {
		b.residual = b.residual[:0]
		var sums geom.QuadricSums
		m, rss := 0, 0.0
		for _, x := range b.at {
			d := math.Abs(x.Z - c.At(x.X, x.Y))
			b.residual = append(b.residual, d)
			if d <= band {
				m++
				rss += d * d
				sums.Add(x.X, x.Y, x.Z)
			}
		}
		if m < len(b.at)/leastPart || m < leastLocal {
			return math.NaN()
		}
		if c, ok = sums.Fit(); !ok {
			return math.NaN()
		}
		last := band
		band = noiseCut * sigmaOfMedian * geom.Median(slices.Clone(b.residual))
		if math.Abs(band-last) >= bandSettled*band {
			continue
		}
		relief := math.Sqrt(c[3]*c[3] + c[4]*c[4]/2 + c[5]*c[5])
		if float64(m) < patchInliers*float64(len(b.at)) || broad && relief > broadMost*b.width {
			return math.NaN()
		}
		sigma := b.spread(math.Sqrt(rss / float64(m-6)))
		steep := relief / b.width
		if broad && (steep > broadRelief && steep*steep*steep*b.width > sigma ||
			sigma > broadRough*b.width) {
			return math.NaN()
		}
		return sigma
	}
	return math.NaN()
}

// spread returns the standard deviation of the residuals, given a rough one; what lies
// beyond the cut is left out and allowed for. A residual has 1-6/m of the variance, and
// a normal distribution cut at ±c has 1 - 2cφ(c)/(2Φ(c)-1).
func (b *noisePatch) spread(sigma float64) float64 {
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
	dof := float64(m - 6)
	c := noiseCut * math.Sqrt(float64(m)/dof)
	cut := 1 - 2*c*math.Exp(-c*c/2)/math.Sqrt(2*math.Pi)/math.Erf(c/math.Sqrt2)
	return math.Sqrt(rss / dof / cut)
}
