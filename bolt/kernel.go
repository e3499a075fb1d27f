package bolt

import "math"

// kernel is a shape of correlation by distance: exponential of a length, mm,
// half of it of another if that is not 0, or that of waves.
type kernel struct {
	length, short float64
	waves         waves
}

// depthNodes are nodes and weights of Gauss and Legendre's rule of ten points
// on 0 to 1 (Abramowitz and Stegun, Handbook of mathematical functions, table
// 25.4), which is even about 1/2.
var depthNodes = [5][2]float64{
	{0.1488743389816312, 0.2955242247147529}, {0.4333953941292472, 0.2692667193099963},
	{0.6794095682990244, 0.2190863625159820}, {0.8650633666889845, 0.1494513491505806},
	{0.9739065285171717, 0.0666713443086881},
}

// at returns the correlation at a distance across, mm, of rows depth long.
func (k kernel) at(across, depth float64) float64 {
	switch {
	case k.length <= 0:
		return k.waves.at(across, depth)
	case k.short > 0:
		return (kernel{length: k.length}.at(across, depth) + kernel{length: k.short}.at(across, depth)) / 2
	}
	if depth == 0 {
		return math.Exp(-across / k.length)
	}
	// Mean over two places along the rows, a share u of the depth apart: the
	// density of u is 2 (1 - u), and u = v² puts the nodes where it matters.
	var c float64
	for _, n := range depthNodes {
		for _, v := range [2]float64{(1 - n[0]) / 2, (1 + n[0]) / 2} {
			c += n[1] / 2 * 4 * v * (1 - v*v) * math.Exp(-math.Hypot(across, depth*v*v)/k.length)
		}
	}
	return c
}

const (
	// mostBins is the number of bins that noise is learned on.
	mostBins = arcBins / 2
	// turnSteps is the number of steps in which a kernel is laid out over half a
	// turn, and binSteps those in a bin.
	turnSteps = 96
	binSteps  = 2 * turnSteps / mostBins
)

// turns is the covariance of two bins' means by the angle between them, 0 to π.
type turns [turnSteps + 1]float64

// turns lays the kernel out over a circle. The means of two bins have the mean
// correlation over both, which is that over a triangle two bins wide.
func (k kernel) turns(radius, depth float64) turns {
	var at, mean turns
	for i := range at {
		at[i] = k.at(2*radius*math.Sin(math.Pi/2*float64(i)/turnSteps), depth)
	}
	for i := range mean {
		sum := at[i] * binSteps
		for d := 1; d < binSteps; d++ {
			up := i + d
			if up > turnSteps {
				up = 2*turnSteps - up
			}
			sum += float64(binSteps-d) * (at[max(i-d, d-i)] + at[up])
		}
		mean[i] = sum / (binSteps * binSteps)
	}
	return mean
}
