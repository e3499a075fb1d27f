package fit

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// ConeFit is a fitted cone.
type ConeFit struct {
	Cone
	// Cov is of (u, v, w, a, b, φ): apex along the two directions of
	// geom.Basis(Axis) and along Axis, mm; tilts of Axis toward the two with the apex
	// held, rad; half angle, rad.
	Cov       [6][6]float64
	Residuals ResidualStats
	Iters     int
}

// ConeTo fits one nappe of a right circular cone to pts, mm, by least squares
// of the orthogonal distance. It needs 6 points: 4 along a known direction, 2 about a
// known axis. Errors: *TooFewError, *InputError, ErrDegenerate, ErrNoConvergence;
// *FlatError and *TaperError with the answer.
//
// Start: see axisStarts and coneAbout. Method: Levenberg–Marquardt on anchor,
// frame, curvature of the section and half angle, see arc and round.
func ConeTo(pts []r3.Vector, opt Options) (ConeFit, error) {
	e, err := fitRound(coneForm, pts, opt, holdsDirection|holdsAxis)
	out := ConeFit{Residuals: e.stats, Iters: e.iters}
	if e.known {
		sin, cos := math.Sincos(e.phi)
		apex := e.centre().Sub(e.w.Mul(cos / sin / e.k))
		out.Cone = Cone{Apex: e.c.back(apex), Axis: e.w, HalfAngle: s1.Angle(e.phi)}
		copyCov(&e.cov, out.Cov[0][:], out.Cov[1][:], out.Cov[2][:], out.Cov[3][:], out.Cov[4][:], out.Cov[5][:])
	}
	return out, err
}
