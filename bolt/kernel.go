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
	// turnSteps is the number of steps in which a kernel is laid out over half a turn.
	turnSteps = 96
)

// turns is the covariance of two bins' means by the angle between them, 0 to π.
type turns [turnSteps + 1]float64

// turns lays the kernel out over a circle.
func (k kernel) turns(radius, depth float64) turns {
	return layTurns(radius, mostBins, func(across float64) float64 { return k.at(across, depth) })
}

// layTurns lays a correlation by distance across out over a circle of some number of
// bins. The means of two bins have the mean correlation over both, which is that over
// a triangle two bins wide.
func layTurns(radius float64, bins int, corr func(across float64) float64) turns {
	var at, mean turns
	for i := range at {
		at[i] = corr(2 * radius * math.Sin(math.Pi/2*float64(i)/turnSteps))
	}
	steps := 2 * turnSteps / bins // in a bin
	for i := range mean {
		sum := at[i] * float64(steps)
		for d := 1; d < steps; d++ {
			up := i + d
			if up > turnSteps {
				up = 2*turnSteps - up
			}
			sum += float64(steps-d) * (at[max(i-d, d-i)] + at[up])
		}
		mean[i] = sum / float64(steps*steps)
	}
	return mean
}

// part returns where in turns the angle, 0 to π, lies: the first of four values and
// Lagrange's weights of them. (Cubic, since the roughness that linear interpolation
// puts into a smooth kernel would pass for short waves.)
func part(angle float64) (from int, weight [4]float64) {
	at := turnSteps / math.Pi * angle
	from = min(max(int(at)-1, 0), turnSteps-3)
	u := at - float64(from)
	return from, [4]float64{
		-(u - 1) * (u - 2) * (u - 3) / 6, u * (u - 2) * (u - 3) / 2,
		-u * (u - 1) * (u - 3) / 2, u * (u - 1) * (u - 2) / 6,
	}
}

// rowsAt returns the correlation of two rows' means at a distance across, each row
// height high, lag rows apart.
func (k kernel) rowsAt(across, height float64, lag int) float64 {
	if lag == 0 || height == 0 {
		return k.at(across, height)
	}
	// Two places in them are (lag + u) heights apart, of density 1 - |u|: Gauss's rule
	// of three points for that, from its moments 1, 1/6 and 1/15.
	var c float64
	for _, n := range [3][2]float64{{-math.Sqrt2 / math.Sqrt(5), 5.0 / 24}, {0, 7.0 / 12}, {math.Sqrt2 / math.Sqrt(5), 5.0 / 24}} {
		c += n[1] * k.at(math.Hypot(across, height*(float64(lag)+n[0])), 0)
	}
	return c
}

// layRows lays the kernel out over a wall: the covariance of two cells of so many bins'
// width and the height given by the angle between them, of rows 0, 1, ... apart.
func (k kernel) layRows(radius, height float64, rows, bins int) []turns {
	out := make([]turns, rows)
	for lag := range out {
		out[lag] = layTurns(radius, bins, func(across float64) float64 { return k.rowsAt(across, height, lag) })
	}
	return out
}
