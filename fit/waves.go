package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// Waves is the noise along a surface: normal kernels of length L, mm, and white noise
// besides, variances in mm²,
//
//	C(d) = Σ Share_m exp(-d²/2 Length_m²),  Share_m ≥ 0
//
// None: the noise is white, or not known.
type Waves struct {
	Length, Share []float64
	White         float64
	// Unseen is the standard deviation of each share, mm²: a face has few long waves, and a
	// surface of second degree takes most of what they are.
	Unseen []float64
}

// Total is the variance that hangs together, mm².
func (w Waves) Total() float64 {
	sum := 0.0
	for _, a := range w.Share {
		sum += a
	}
	return sum
}

// Covariance is C times a factor, and what of long waves the face may have left unseen,
// those of the length that would move a surface most: a standard deviation of their share.
// nil where there are no waves.
func (w Waves) Covariance(factor float64) Covariance {
	if len(w.Length) == 0 {
		return nil
	}
	share := make([]float64, len(w.Share))
	most := 0
	for m, a := range w.Share {
		share[m] = factor * a
		// Waves move the mean of a surface by their share times their area.
		if w.Unseen[m]*w.Length[m]*w.Length[m] > w.Unseen[most]*w.Length[most]*w.Length[most] {
			most = m
		}
	}
	share[most] += factor * w.Unseen[most]
	return func(d2 float64) float64 {
		var v float64
		for m, l := range w.Length {
			if share[m] > 0 && d2 < kernelCut*l*l {
				v += share[m] * math.Exp(-d2/(2*l*l))
			}
		}
		return v
	}
}

// LearnWaves learns the noise from the heights, mm, of some thousand points of a face
// over a plane, which are spread over area, mm², of it; it uses height up. Their covariance
// by distance, from near > 0 to far, mm, is written as a sum of normal kernels (see
// shares). A face may be bent as a whole: a surface of second degree is taken out of
// height, and what that takes of the waves is given back as it is (see bend). Of waves of
// which a face has few, a standard deviation more is taken than it shows. The work goes
// through each, which calls its function for every k < n, in any order, and whose error is
// the only one.
//
// It is white where the mean products of pairs are no larger than chance makes them
// (three standard deviations, up to whatever distance they are looked at). Where the
// kernels together have more than the variance, the shortest lose it: too much of
// them would make the long waves, which move a fit, small by comparison.
func LearnWaves(pts []r3.Vector, height []float64, near, far, area float64,
	each func(n int, do func(k int)) error) (Waves, error) {
	if len(pts) == 0 || !(near > 0) || !(far > near) {
		return Waves{}, nil
	}
	bendOf(pts).takeOut(height)
	var variance float64
	for _, h := range height {
		variance += h * h / float64(len(pts))
	}
	parts := make([]*Covariogram, (len(pts)+learnRows-1)/learnRows)
	err := each(len(parts), func(k int) {
		parts[k] = NewCovariogram(near, far, learnBins)
		parts[k].Add(pts, height, k*learnRows, min((k+1)*learnRows, len(pts)), far)
	})
	if err != nil {
		return Waves{}, err
	}
	all := NewCovariogram(near, far, learnBins)
	for _, c := range parts {
		all.Merge(c)
	}
	return wavesIn(all, near, far, variance, area, few(pts)), nil
}

// few returns the bend over some of the points, enough to know what of the waves it takes.
func few(pts []r3.Vector) bend {
	var some []r3.Vector
	n := min(bendPoints, len(pts))
	for k := range n {
		some = append(some, pts[k*len(pts)/n])
	}
	return bendOf(some)
}

// wavesIn takes the noise out of its covariance by distance, from near to far, mm;
// variance is that of all of it, mm². From both the bend out has taken its part. area is
// the face's, mm².
func wavesIn(c *Covariogram, near, far, variance, area float64, out bend) Waves {
	var sum, square, z float64
	for _, b := range c.Bins() {
		sum += b.Sum
		square += b.Square
		z = max(z, sum/math.Sqrt(max(square, notZero)))
	}
	if z < leastEvidence {
		return Waves{}
	}
	var seen []CovarianceBin
	var at []int // where these are in c
	for i, b := range c.Bins() {
		if b.Pairs >= leastPairs {
			seen, at = append(seen, b), append(at, i)
		}
	}
	var w Waves
	var kernels [][]float64
	var taken []float64
	for l := near; l < far/kernelReach; l *= kernelRatio {
		of, inBin := out.taken(l, c)
		w.Length, taken = append(w.Length, l), append(taken, of)
		kernel := make([]float64, len(seen))
		for i, b := range seen {
			kernel[i] = math.Exp(-b.Distance*b.Distance/(2*l*l)) - inBin[at[i]]
		}
		kernels = append(kernels, kernel)
	}
	w.Share = shares(seen, kernels)
	for m, a := range w.Share {
		variance += a * taken[m]
		w.Share[m] *= waveDoubt(w.Length[m], area)
	}
	w.Unseen = unseen(w.Length, w.Share, taken, area)
	total := w.Total()
	if total < leastShare*variance {
		return Waves{}
	}
	for m := range w.Share {
		less := min(w.Share[m], max(0, total-variance))
		w.Share[m] -= less
		total -= less
	}
	w.White = max(variance-total, leastWhite*variance)
	return w
}

// waveDoubt is the factor by which more of waves of length L is taken than the one face
// shows, of area A: by the standard deviation of what such faces show, half at most. The
// sample variance of normal noise has the relative variance 2πL²/A: twice its correlation
// squared, integrated over the plane, over A. Where a face has few waves they are more
// often too few than too many by as much, and of circles whose centres they move that
// much intervals would be too short.
func waveDoubt(length, area float64) float64 {
	return 1 + min(math.Sqrt(2*math.Pi*length*length/area), mostDoubt)
}

// unseen is the standard deviation of the shares that a face of area A shows. What of the
// noise is left when it is smoothed over waves of length L has of each kernel the variance
// a l²/(l² + L²), of L itself half its share; the variance of that is seen in A/2πL²
// places, less what the bend takes of them.
func unseen(length, share, taken []float64, area float64) []float64 {
	out := make([]float64, len(length))
	for m, l := range length {
		var left float64
		for k, a := range share {
			left += a * length[k] * length[k] / (length[k]*length[k] + l*l)
		}
		out[m] = 2 * left * math.Sqrt(2*math.Pi*l*l/area) / max(1-taken[m], leastSeen)
	}
	return out
}
