package mesh

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"spotface/mesh/parallel"
)

// Sampling is what the data says of its own sampling.
type Sampling struct {
	// Spacing is the median over the sampled points of the median distance to
	// their six nearest neighbours, mm. On a triangular grid that is its
	// pitch, among points strewn at random over a surface one over the square
	// root of their number per mm².
	Spacing float64

	// Noise is the standard deviation of points across the surface, mm, seen
	// over patches up to about forty spacings wide, as far as the scan has
	// parts so wide on which a quadric fits. Waves longer than that, or than
	// the smooth parts, do not show in it: what a fit to a whole face leaves
	// is the better figure once there is one.
	Noise float64

	// LocalNoise is the same over patches of some five spacings: what neighbouring
	// points do not share. With independent noise it equals Noise; on a mesh
	// fused from many images it may be a third of it or less.
	LocalNoise float64

	// Patches is the number of patches that LocalNoise rests on. Zero means that
	// the scan has too few points to tell noise; both noises are zero then.
	Patches int
}

const (
	texturePatches = 800 // sampled
	texturePoints  = 24  // neighbours in a patch
	spacingPoints  = 6
	textureCut     = 2.5 // standard deviations beyond which a point is astray
)

// EstimateSampling estimates spacing and noise from patches about a sample of
// points drawn by seed. ix is a tree of s.Offsets, or nil. jobs is the number of
// goroutines, zero for GOMAXPROCS. The only error is the context's.
//
// In each patch a quadric w(u,v) is fitted over the tangent plane, so that
// curvature is no noise; what lies off by more than 2.5 standard deviations
// is left out: points astray, and what is beyond an edge. LocalNoise is the
// median of the patches' variances, each RSS/(m-6) with m points for its six
// coefficients, over the median of chi square by its degrees of freedom; it is
// found by iteration, as the cut depends on it, and corrected for points astray
// that lie within it by chance. Half of the patches may lie
// across edges before it breaks down. See broadNoise for Noise.
func EstimateSampling(ctx context.Context, s *Scan, ix *KDTree, seed uint64, jobs int) (Sampling, error) {
	if err := ctx.Err(); err != nil {
		return Sampling{}, err
	}
	if ix == nil {
		ix = NewKDTree(s.Offsets, jobs)
	}
	sample := samplePoints(s.Len(), texturePatches, seed)
	patches := make([]texturePatch, len(sample))
	err := parallel.Chunks(ctx, jobs, len(sample), 64, func(lo, hi int) {
		var p patch
		for k := lo; k < hi; k++ {
			p.gather(s.Offsets, ix, sample[k], texturePoints)
			patches[k].set(&p)
		}
	})
	if err != nil {
		return Sampling{}, err
	}
	var tex Sampling
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
	tex.LocalNoise = median(scales)
	for range 20 {
		fits := make([]patchFit, len(patches))
		err := parallel.Chunks(ctx, jobs, len(patches), 64, func(lo, hi int) {
			for k := lo; k < hi; k++ {
				fits[k] = patches[k].fit(tex.LocalNoise)
			}
		})
		if err != nil {
			return Sampling{}, err
		}
		var variance []float64
		for _, f := range fits {
			if !math.IsNaN(f.variance) {
				variance = append(variance, f.variance)
			}
		}
		was := tex.LocalNoise
		tex.Patches = len(variance)
		tex.LocalNoise = math.Sqrt(median(variance) * astrayShare(fits, textureCut*was))
		if math.Abs(tex.LocalNoise-was) <= 3e-3*was {
			break
		}
	}
	tex.Noise = tex.LocalNoise
	for _, k := range broadPatches {
		noise, err := broadNoise(ctx, s, ix, seed, k, jobs)
		if err != nil {
			return Sampling{}, err
		}
		tex.Noise = max(tex.Noise, noise)
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
