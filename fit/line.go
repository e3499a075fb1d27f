package fit

import (
	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"
)

// LineFit is a fitted line. Point is the points' centroid, which lies on it.
type LineFit struct {
	Line
	// Cov is of (u, v, a, b): shifts across at Point along the two directions
	// of geom.Basis(Direction), mm, and tilts toward them, rad.
	Cov       [4][4]float64
	Residuals ResidualStats
}

// LineTo fits a line in space to pts, mm, by least squares of the distance. It
// needs 2 distinct points; the largest component of Direction is positive.
// Errors: *TooFewError, *InputError, ErrDegenerate.
//
// Method: the direction of most spread about the centroid (Pearson 1901).
func LineTo(pts []r3.Vector, opt Options) (LineFit, error) {
	if _, err := opt.check("line", 0); err != nil {
		return LineFit{}, err
	}
	c, err := columns("line", pts, opt, 2)
	if err != nil {
		return LineFit{}, err
	}
	mean, dir, val := principal(c)
	if val[2] < val[1]*(1+alike) {
		return LineFit{}, degenerate("line", "the points spread as much across the line as along it")
	}
	out := LineFit{Line: Line{Point: c.back(mean), Direction: orient(dir[2])}}
	r := newSpread()
	for i := range c.x {
		v := c.at(i).Sub(mean).Cross(dir[2]).Norm()
		r.add(c, i, v, v*v)
	}
	var variance float64
	out.Residuals, variance = r.stats(c, 2*c.n-4)
	out.Residuals.FormError = 2 * out.Residuals.Max
	// Two residuals a point, of the Jacobians -(1, 0, h, 0) and -(0, 1, 0, h) at the
	// height h along the line: J'WJ is diagonal with n and Σ wh².
	n := float64(c.n)
	for i := range 2 {
		out.Cov[i][i] = variance / n * c.scale * c.scale
		out.Cov[i+2][i+2] = variance / (n * val[2])
	}
	return out, nil
}

// Covariance is Cov.
func (f LineFit) Covariance() *mat.SymDense {
	return symmetric(f.Cov[0][:], f.Cov[1][:], f.Cov[2][:], f.Cov[3][:])
}
