package noise

import (
	"math"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"
)

// kernel is a correlation: weights of the lengths of a ladder, which add up to one.
type kernel struct {
	weight []float64
	prior  float64
	reach  float64 // distance at which it has fallen to 1/e, mm
	smooth bool
}

// ladder returns the lengths of all kernels about the scale, mm.
func ladder(scale float64) []float64 {
	var out []float64
	steps := int(math.Round(math.Log(longest/shortest)/math.Log(ratio))) + below + above
	for k := range steps + 1 {
		out = append(out, scale*shortest*math.Pow(ratio, float64(k-below)))
	}
	return out
}

// kernels returns the kernels that are tried, on the lengths of a ladder.
func kernels(lengths []float64, scale float64) []kernel {
	var out []kernel
	step := math.Log(ratio)
	for m := below; m < len(lengths)-above; m++ {
		smooth := make([]float64, len(lengths))
		smooth[m] = 1
		out = append(out, kernel{smooth, step, math.Sqrt2 * lengths[m], true})
		if (m-below)%roughStep == 0 {
			l := lengths[m]
			out = append(out, kernel{rough(lengths, m), roughStep * step * l / scale, l, false})
			if l <= scale {
				for _, up := range longer {
					two := make([]float64, len(lengths))
					two[m], two[m+up] = 1-longShare, longShare
					prior := twoPrior / float64(len(longer)) * roughStep * step
					out = append(out, kernel{two, prior, math.Sqrt2 * l, false})
				}
			}
		}
	}
	return out
}

// rough returns the weights of exp(-d/L) with L the length number m. The distribution
// function of |Z| is erf(z/√2).
func rough(lengths []float64, m int) []float64 {
	out := make([]float64, len(lengths))
	last := 0.0
	for k, l := range lengths {
		below := 1.0
		if k < len(lengths)-1 {
			below = math.Erf(l * math.Sqrt(ratio) / lengths[m] / math.Sqrt2)
		}
		out[k] = below - last
		last = below
	}
	return out
}

// lay sets k to the covariances of the cells' means by the kernel exp(-d²/2L²). A mean
// over a cell is as one weighted by a normal density: that of two places within width w
// has the variance w²/6, which adds to L².
func (p *Patch) lay(k *mat.SymDense, length float64) {
	l2 := length * length
	across, along := l2+p.Width*p.Width/6, l2+p.Height*p.Height/6
	top := length / math.Sqrt(across)
	if p.Height > 0 {
		top *= length / math.Sqrt(along)
	}
	raw := k.RawSymmetric()
	for i, a := range p.At {
		row := raw.Data[i*raw.Stride:]
		row[i] = top
		for j := i + 1; j < len(p.At); j++ {
			d := a.Sub(p.At[j])
			up := d.Dot(p.Axis)
			row[j] = top * math.Exp(-((d.Norm2()-up*up)/across+up*up/along)/2)
		}
	}
}

// Patch is a piece of surface, or several of the same geometry.
type Patch struct {
	At []r3.Vector // centre of each cell, on the surface
	// Axis is the unit vector along which cells are Height long, as they are Width across
	// it; both are zero for single points.
	Axis          r3.Vector
	Width, Height float64
	N             []float64   // points of each cell
	Y             [][]float64 // of each piece the mean residual of each cell
	// Terms has a row a cell: the derivatives of the residual by what a fit has taken out.
	Terms [][]float64
	// The last terms of patches of one Group, if that is not zero, differ by no more than
	// Spread (standard deviation). Offset is what the fit that left Y has made of it.
	Group          int
	Spread, Offset float64
}
