package fit

import "github.com/golang/geo/r3"

// CircleFit is a fitted circle in space. Cov is of (u, v, w, a, b, r): centre along the
// two directions of geom.Basis(Normal) and along Normal, mm; tilts of Normal toward the
// two, rad; radius, mm.
type CircleFit struct {
	Circle
	Result
}

// CircleTo fits a circle in space to pts, mm, by least squares of the true
// distance: radial and axial together. It needs 3 points that are not on one
// line; the largest component of Normal is positive. Errors: *TooFewError,
// *InputError, ErrDegenerate, ErrNoConvergence, and *FlatError with the answer.
//
// Start: Taubin's circle in the best plane; then Levenberg–Marquardt on anchor, frame
// and curvature, see arc and round.
func CircleTo(pts []r3.Vector, opt Options) (CircleFit, error) {
	return circle(circleForm, pts, opt)
}

// Circle2DTo is CircleTo of points in the plane z = 0, by least squares of the radial
// distance. Its Cov is of (x, y, r), mm², the others are zero.
//
// Start: Taubin's algebraic fit (IEEE Trans. PAMI 13 (1991) 1115–1138) in the
// reduced form of Chernov, Circular and linear regression (2010), section 5.8;
// then Levenberg–Marquardt on anchor, direction and curvature, see arc.
func Circle2DTo(pts []r3.Vector, opt Options) (CircleFit, error) {
	return circle(circle2DForm, pts, opt)
}

func circle(f *form, pts []r3.Vector, opt Options) (CircleFit, error) {
	e, err := fitRound(f, pts, opt)
	out := CircleFit{Result: e.Result}
	if e.known {
		out.Circle = Circle{Centre: e.c.back(e.centre()), Normal: e.w, Radius: e.c.scale / e.k}
	}
	return out, err
}

// SphereFit is a fitted sphere. Cov is of (x, y, z, r), mm².
type SphereFit struct {
	Sphere
	Result
}

// SphereTo fits a sphere to pts, mm, by least squares of the radial distance.
// It needs 4 points that are not on one plane. Errors: *TooFewError,
// *InputError, ErrDegenerate, ErrNoConvergence, and *FlatError with the answer.
//
// Start: Taubin's algebraic fit; then Levenberg–Marquardt on anchor, direction
// and curvature as for a circle, see arc and round.
func SphereTo(pts []r3.Vector, opt Options) (SphereFit, error) {
	e, err := fitRound(sphereForm, pts, opt)
	out := SphereFit{Result: e.Result}
	if e.known {
		out.Sphere = Sphere{Centre: e.c.back(e.centre()), Radius: e.c.scale / e.k}
	}
	return out, err
}
