package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// Covariogram is what the errors of two points of a scan share, by their distance
// along the surface: the empirical covariance function (Cressie, Statistics for
// spatial data, 1993, section 2.4; from memory), in bins equal in the logarithm of
// the distance.
type Covariogram struct {
	near, scale float64
	from        []float64 // squared distance at which each bin begins
	bins        []CovarianceBin
}

// CovarianceBin is the mean product of the errors of pairs of points about Distance,
// mm, apart.
type CovarianceBin struct {
	Distance    float64
	Pairs       float64
	Sum, Square float64 // of the products, mm², and of their squares, mm⁴
}

// Mean is the covariance, mm²; not a number of a bin without pairs.
func (b CovarianceBin) Mean() float64 { return b.Sum / b.Pairs }

// NewCovariogram has bins from near to far, mm. Pairs that are closer than near go
// into the first.
func NewCovariogram(near, far float64, bins int) *Covariogram {
	c := &Covariogram{near: near, scale: float64(bins) / math.Log(far/near)}
	for b := range bins {
		c.from = append(c.from, near*near*math.Exp(2*float64(b)/c.scale))
		c.bins = append(c.bins, CovarianceBin{Distance: near * math.Exp((float64(b)+0.5)/c.scale)})
	}
	return c
}

// Add adds the pairs of point i with all before it, for i from lo to hi-1, that are
// less than most apart, mm. e are the points' errors, mm.
func (c *Covariogram) Add(pts []r3.Vector, e []float64, lo, hi int, most float64) {
	last := len(c.bins) - 1
	for i := lo; i < hi; i++ {
		p, ei := pts[i], e[i]
		for j, q := range pts[:i] {
			dx, dy, dz := p.X-q.X, p.Y-q.Y, p.Z-q.Z
			d2 := dx*dx + dy*dy + dz*dz
			if d2 >= most*most {
				continue
			}
			b := last // most pairs are far apart
			for b > 0 && d2 < c.from[b] {
				b--
			}
			v := ei * e[j]
			c.bins[b].Pairs++
			c.bins[b].Sum += v
			c.bins[b].Square += v * v
		}
	}
}

// Merge adds the pairs of o, which has the same bins.
func (c *Covariogram) Merge(o *Covariogram) {
	for b := range c.bins {
		c.bins[b].Pairs += o.bins[b].Pairs
		c.bins[b].Sum += o.bins[b].Sum
		c.bins[b].Square += o.bins[b].Square
	}
}

// Bin returns the number of the bin of pairs at a distance, mm; -1 if they are farther
// apart than those of all bins.
func (c *Covariogram) Bin(distance float64) int {
	if distance <= c.near {
		return 0
	}
	b := int(c.scale * math.Log(distance/c.near))
	if b >= len(c.bins) {
		return -1
	}
	return b
}

// Bins returns the bins, nearest first.
func (c *Covariogram) Bins() []CovarianceBin { return c.bins }

// NormalKernels writes the bins as Σ a_m exp(-d²/2L_m²), a_m ≥ 0, with kernels of the
// lengths given, mm, and returns the a_m, mm²; see shares.
func NormalKernels(bins []CovarianceBin, length []float64) []float64 {
	kernel := make([][]float64, len(length))
	for m, l := range length {
		for _, bin := range bins {
			kernel[m] = append(kernel[m], math.Exp(-bin.Distance*bin.Distance/(2*l*l)))
		}
	}
	return shares(bins, kernel)
}

// shares writes the bins' means as Σ a_m k_m, a_m ≥ 0, with kernels k_m given by their
// values in each bin, and returns the a_m, mm²: non-negative least squares (Lawson and
// Hanson, Solving least squares problems, 1974, chapter 23), here by coordinates. A
// bin weighs as the square root of its pairs, since pairs of one neighbourhood are
// alike; one without pairs does not count.
func shares(bins []CovarianceBin, kernel [][]float64) []float64 {
	share := make([]float64, len(kernel))
	rest := make([]float64, len(bins))
	weight := make([]float64, len(bins))
	for b, bin := range bins {
		if bin.Pairs > 0 {
			rest[b], weight[b] = bin.Mean(), math.Sqrt(bin.Pairs)
		}
	}
	for range shareRounds {
		for m, k := range kernel {
			var num, den float64
			for b, x := range k {
				num += weight[b] * x * (rest[b] + share[m]*x)
				den += weight[b] * x * x
			}
			next := 0.0
			if den > 0 {
				next = max(0, num/den)
			}
			for b, x := range k {
				rest[b] -= (next - share[m]) * x
			}
			share[m] = next
		}
	}
	return share
}
