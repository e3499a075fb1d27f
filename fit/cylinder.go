package fit

import "github.com/golang/geo/r3"

// CylinderFit is a fitted cylinder. Point is the foot of the points' centroid
// on the axis.
type CylinderFit struct {
	Cylinder
	// Cov is of (u, v, a, b, r): shifts of the axis across at Point along the two
	// directions of geom.Basis(Axis), mm; its tilts toward them, rad; radius, mm.
	Cov       [5][5]float64
	Residuals ResidualStats
	Iters     int
}

// CylinderTo fits a right circular cylinder to pts, mm, by least squares of
// the orthogonal distance. It needs 5 points that are not on one plane: 3 along a
// known direction, which are not on one line as seen along it, 4 perpendicular to
// one, 1 about a known axis. The largest component of Axis is positive, unless a
// start or a direction gives it a sense. Errors: *TooFewError, *InputError,
// ErrDegenerate, ErrNoConvergence, and *FlatError with the answer.
//
// Start: see axisStarts. Method: Levenberg–Marquardt on anchor, frame and
// curvature, see arc and round.
func CylinderTo(pts []r3.Vector, opt Options) (CylinderFit, error) {
	e, err := fitRound(cylinderForm, pts, opt, holdsRadius|holdsDirection|holdsPerpendicular|holdsAxis)
	out := CylinderFit{Residuals: e.stats, Iters: e.iters}
	if e.known {
		ctr := e.centre()
		out.Cylinder = Cylinder{Point: e.c.back(ctr.Sub(e.w.Mul(ctr.Dot(e.w)))), Axis: e.w, Radius: e.c.scale / e.k}
		copyCov(&e.cov, out.Cov[0][:], out.Cov[1][:], out.Cov[2][:], out.Cov[3][:], out.Cov[4][:])
	}
	return out, err
}
