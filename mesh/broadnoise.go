package mesh

import (
	"context"
	"math"
	"slices"

	"spotface/mesh/parallel"
)

// broadPatches are the numbers of neighbours in the patches of broadNoise:
// about 10, 20 and 40 spacings wide.
var broadPatches = [...]int{96, 384, 1536}

const (
	broadSample = 128 // patches
	broadUsed   = 128 // points of a patch that the fit looks at
	broadLeast  = 32  // patches that must agree
	// broadSpread is the largest ratio between the noises of the patches that
	// agree. Over 128 points chance spreads them by ±6 %.
	broadSpread = 1.5
	broadAround = 1.3
	// broadRelief is the most that the quadric may rise over a patch, by the
	// patch's width. On a cylinder it leaves up to relief³·width unexplained, a
	// tenth of that as the root mean square. Where the noise is more than
	// relief³·width, a patch may rise by broadMost: parts of slender bars have no
	// others.
	broadRelief = 0.1
	broadMost   = 0.2
	// broadInliers is the least share of a patch's points that its quadric
	// explains.
	broadInliers = 0.65
)

// broadNoise returns the standard deviation across the surface in patches of k
// points, or 0 where too few patches are smooth. A quadric is fitted to each,
// points beyond three standard deviations by the median left out. Patches with
// an edge or more curvature than a quadric holds read high, by different
// amounts; the smooth ones agree, so the shortest stretch of the sorted
// logarithms that holds a quarter of the patches is theirs (as the shorth,
// Andrews et al. 1972, Robust Estimates of Location, does with half).
func broadNoise(ctx context.Context, s *Scan, ix *KDTree, seed uint64, k, jobs int) (float64, error) {
	if s.Len() < 4*k {
		return 0, nil
	}
	sample := samplePoints(s.Len(), broadSample, seed)
	noise := make([]float64, len(sample))
	err := parallel.Chunks(ctx, jobs, len(sample), 8, func(lo, hi int) {
		var b broadPatch
		for m := lo; m < hi; m++ {
			noise[m] = b.noise(s, ix, sample[m], k)
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
	mid := median(noise[at : at+broadLeast])
	lo, _ := slices.BinarySearch(noise, mid/broadAround)
	hi, _ := slices.BinarySearch(noise, mid*broadAround)
	return median(noise[lo:hi]), nil
}

// broadPatch keeps the room that a patch needs.
type broadPatch struct {
	nb   []Neighbour
	at   [][3]float64
	rest []float64
}

// noise returns the standard deviation of a patch about its quadric, or NaN.
func (b *broadPatch) noise(s *Scan, ix *KDTree, i int32, k int) float64 {
	b.nb = ix.Nearest(s.Offsets[i], k, 0, b.nb[:0])
	q := s.Offsets[i]
	step := max(1, k/broadUsed)
	var all scatter
	for m := 0; m < len(b.nb); m += step {
		v := s.Offsets[b.nb[m].I]
		all.add([3]float32{v[0] - q[0], v[1] - q[1], v[2] - q[2]})
	}
	n, _, _, ok := all.plane()
	if !ok {
		return math.NaN()
	}
	e1 := anyAcross(n)
	e2 := cross(n, e1)
	width := math.Sqrt(float64(b.nb[len(b.nb)-1].D2))
	b.at = b.at[:0]
	for m := 0; m < len(b.nb); m += step {
		v := s.Offsets[b.nb[m].I]
		o := [3]float64{float64(v[0] - q[0]), float64(v[1] - q[1]), float64(v[2] - q[2])}
		b.at = append(b.at, [3]float64{dot(o, e1) / width, dot(o, e2) / width, dot(o, n)})
	}
	var c [6]float64
	band := math.Inf(1)
	for range 8 {
		var a [6][7]float64
		m, rss := 0, 0.0
		b.rest = b.rest[:0]
		for _, x := range b.at {
			f := [6]float64{1, x[0], x[1], x[0] * x[0], x[0] * x[1], x[1] * x[1]}
			d := x[2]
			for j := range f {
				d -= c[j] * f[j]
			}
			b.rest = append(b.rest, math.Abs(d))
			if math.Abs(d) > band {
				continue
			}
			m++
			rss += d * d
			addNormal(&a, &f, x[2], 1)
		}
		if m < len(b.at)/4 || m < 12 {
			return math.NaN()
		}
		if c, ok = solve6(&a); !ok {
			return math.NaN()
		}
		last := band
		band = 3 * 1.4826 * median(b.rest)
		if math.Abs(band-last) < 0.01*band {
			relief := math.Sqrt(c[3]*c[3] + c[4]*c[4]/2 + c[5]*c[5])
			if float64(m) < broadInliers*float64(len(b.at)) || relief > broadMost*width {
				return math.NaN()
			}
			sigma := b.spread(math.Sqrt(rss / float64(m-6)))
			if steep := relief / width; steep > broadRelief && steep*steep*steep*width > sigma {
				return math.NaN()
			}
			return sigma
		}
	}
	return math.NaN()
}

// spread returns the standard deviation of the rest, beginning from a rough
// one: what lies beyond 2.5 of it is left out, for which a normal distribution
// loses all but 0.9112 of its variance.
func (b *broadPatch) spread(sigma float64) float64 {
	for range 5 {
		m, rss := 0, 0.0
		for _, r := range b.rest {
			if r <= 2.5*sigma {
				m++
				rss += r * r
			}
		}
		if m < 12 {
			return math.NaN()
		}
		sigma = math.Sqrt(rss / float64(m-6) / 0.9112)
	}
	return sigma
}
