package fit

import "github.com/golang/geo/r3"

// SphereFit is a fitted sphere.
type SphereFit struct {
	Sphere
	Cov       [4][4]float64 // (x, y, z, r), mm²
	Residuals ResidualStats
	Iters     int
}

// SphereTo fits a sphere to pts, mm, by least squares of the radial distance.
// It needs 4 points that are not on one plane. Errors: *TooFewError,
// *InputError, ErrDegenerate, ErrNoConvergence, and *FlatError with the answer.
//
// Start: Taubin's algebraic fit; then Levenberg–Marquardt on anchor, direction
// and curvature as for a circle, see arc and round.
func SphereTo(pts []r3.Vector, opt Options) (SphereFit, error) {
	e, err := fitRound(sphereForm, pts, opt, holdsRadius)
	out := SphereFit{Residuals: e.stats, Iters: e.iters}
	if e.known {
		out.Sphere = Sphere{Centre: e.c.back(e.centre()), Radius: e.c.scale / e.k}
		copyCov(&e.cov, out.Cov[0][:], out.Cov[1][:], out.Cov[2][:], out.Cov[3][:])
	}
	return out, err
}
