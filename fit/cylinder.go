package fit

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// CylinderFit is a fitted cylinder. Point is the foot of the points' centroid on the
// axis. Cov is of (u, v, a, b, r): shifts of the axis across at Point along the two
// directions of geom.Basis(Axis), mm; its tilts toward them, rad; radius, mm.
type CylinderFit struct {
	Cylinder
	Result
}

// CylinderTo fits a right circular cylinder to pts, mm, by least squares of
// the orthogonal distance. It needs 5 points that are not on one plane: 3 along a
// known direction, which are not on one line as seen along it. The largest component of Axis is positive, unless a
// start or a direction gives it a sense. Errors: *TooFewError, *InputError,
// ErrDegenerate, ErrNoConvergence, and *FlatError with the answer.
//
// Start: see moments.axes. Method: Levenberg–Marquardt on anchor, frame and
// curvature, see arc and round.
func CylinderTo(pts []r3.Vector, opt Options) (CylinderFit, error) {
	e, err := fitRound(cylinderForm, pts, opt)
	out := CylinderFit{Result: e.Result}
	if e.known {
		ctr := e.centre()
		out.Cylinder = Cylinder{Point: e.c.back(ctr.Sub(e.w.Mul(ctr.Dot(e.w)))), Axis: e.w, Radius: e.c.scale / e.k}
	}
	return out, err
}

// ConeFit is a fitted cone. Cov is of (u, v, w, a, b, φ): apex along the two directions
// of geom.Basis(Axis) and along Axis, mm; tilts of Axis toward the two with the apex held,
// rad; half angle, rad.
type ConeFit struct {
	Cone
	Result
}

// ConeTo fits one nappe of a right circular cone to pts, mm, by least squares
// of the orthogonal distance. It needs 6 points: 4 along a known direction. Errors:
// *TooFewError, *InputError, ErrDegenerate, ErrNoConvergence; *FlatError and *TaperError
// with the answer.
//
// Start: see moments.axes and coneAbout. Method: Levenberg–Marquardt on anchor,
// frame, curvature of the section and half angle, see arc and round.
func ConeTo(pts []r3.Vector, opt Options) (ConeFit, error) {
	e, err := fitRound(coneForm, pts, opt)
	out := ConeFit{Result: e.Result}
	if e.known {
		sin, cos := math.Sincos(e.phi)
		apex := e.centre().Sub(e.w.Mul(cos / sin / e.k))
		out.Cone = Cone{Apex: e.c.back(apex), Axis: e.w, HalfAngle: s1.Angle(e.phi)}
	}
	return out, err
}
