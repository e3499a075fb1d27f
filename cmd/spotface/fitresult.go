package main

import (
	"fmt"
	"math"
	"strconv"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"spotface/fit"
)

// number prints with 17 significant digits, enough to get the same float64
// back.
type number float64

func (n number) MarshalJSON() ([]byte, error) {
	v := float64(n)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil, fmt.Errorf("a result is not a finite number (%v)", v)
	}
	return strconv.AppendFloat(nil, v, 'g', 17, 64), nil
}

type vector [3]number

// fitResult is what `spotface fit` prints, with the names of its JSON. What
// does not apply to a shape is nil.
type fitResult struct {
	Shape      string  `json:"shape"`
	Point      vector  `json:"point"` // mm
	Direction  *vector `json:"direction,omitempty"`
	Radius     *number `json:"radius,omitempty"`         // mm
	HalfAngle  *number `json:"half_angle_deg,omitempty"` // degrees
	RMS        number  `json:"rms"`                      // mm
	FormError  number  `json:"form_error"`               // mm
	Points     int     `json:"points"`
	Iterations int     `json:"iterations"` // 0: solved without
	// Condition is the ratio of the best told combination of parameters to the
	// worst told one.
	Condition *number `json:"condition,omitempty"`
	// Criterion is absent for least squares. Gap is how far, mm, from its
	// optimum the answer may be.
	Criterion string  `json:"criterion,omitempty"`
	Gap       *number `json:"gap,omitempty"`
	// Rejected is how many points a robust fit found not to belong.
	Rejected *int `json:"rejected,omitempty"`
	// Uncertainty is expanded by Coverage: point and radius in mm, direction
	// and half angle in degrees. Both are empty where the points are no more
	// than the shape has parameters, since nothing then shows their noise.
	Uncertainty map[string]number `json:"uncertainty,omitempty"`
	Coverage    map[string]number `json:"coverage_factor,omitempty"`
	// Warning says what the points do not really tell.
	Warning string `json:"warning,omitempty"`
}

// fewest is the number of points that settle a shape exactly.
func fewest(shape string) int {
	switch shape {
	case "line":
		return 2
	case "plane", "circle":
		return 3
	case "sphere":
		return 4
	case "cylinder":
		return 5
	}
	return 6 // cone
}

// Coverage factors for 95 %: of a scalar (rounded up, as the GUM, JCGM
// 100:2008, 6.3.3, has it), and of the distance from the true place in two and
// in three directions, the root of the 95 % point of chi-squared with as many
// degrees of freedom: sqrt(5.99146) and sqrt(7.81473), any table of it.
const (
	coverScalar = 2
	coverPlane  = 2.4477
	coverSpace  = 2.7955
)

func newResult(shape string, point r3.Vector, s fit.ResidualStats, iters int) *fitResult {
	return &fitResult{
		Shape: shape, Point: vec(point),
		RMS: number(s.RMS), FormError: number(s.FormError), Points: s.N, Iterations: iters,
	}
}

// uncertain records the expanded uncertainty of one parameter: cov is its
// covariance over as many directions as it has, scale turns its unit into the
// printed one. In several directions the worst one stands for all, so that the
// circle (or ball) holds the truth with 95 % or more.
func (r *fitResult) uncertain(name string, scale float64, cov *mat.SymDense) {
	if r.Points <= fewest(r.Shape) {
		return // the shape meets every point, whatever their noise
	}
	var eig mat.EigenSym
	if !eig.Factorize(cov, false) {
		return
	}
	n := cov.SymmetricDim()
	k := [...]float64{1: coverScalar, 2: coverPlane, 3: coverSpace}[n]
	u := k * scale * math.Sqrt(max(0, eig.Values(nil)[n-1]))
	if math.IsNaN(u) || math.IsInf(u, 0) {
		return
	}
	if r.Uncertainty == nil {
		r.Uncertainty, r.Coverage = map[string]number{}, map[string]number{}
	}
	r.Uncertainty[name], r.Coverage[name] = number(u), number(k)
}

// conditioned records the condition number, where it is known and finite.
func (r *fitResult) conditioned(c float64) {
	if c > 0 && !math.IsInf(c, 0) && r.Points > fewest(r.Shape) {
		r.Condition = ptr(c)
	}
}

// block returns rows and columns lo to hi of a covariance.
func block(lo, hi int, at func(i, j int) float64) *mat.SymDense {
	sym := mat.NewSymDense(hi-lo, nil)
	for i := lo; i < hi; i++ {
		for j := i; j < hi; j++ {
			sym.SetSym(i-lo, j-lo, at(i, j))
		}
	}
	return sym
}

// variance is a covariance of one parameter.
func variance(v float64) *mat.SymDense { return mat.NewSymDense(1, []float64{v}) }

// deg turns radians into degrees.
const deg = 180 / math.Pi

func surfaceResult(f fit.Fit) *fitResult {
	switch f := f.(type) {
	case fit.PlaneFit:
		return planeResult(f)
	case fit.SphereFit:
		return sphereResult(f)
	case fit.ConeFit:
		return coneResult(f)
	case fit.CylinderFit:
		return cylinderResult(f)
	}
	return nil
}

func planeResult(f fit.PlaneFit) *fitResult {
	r := newResult("plane", f.Point, f.Residuals, 0)
	r.Direction = direction(f.Normal)
	cov := func(i, j int) float64 { return f.Cov[i][j] }
	r.uncertain("point", 1, block(0, 1, cov)) // along the normal
	r.uncertain("direction_deg", deg, block(1, 3, cov))
	r.conditioned(fit.Condition(f.Covariance()))
	return r
}

func lineResult(f fit.LineFit) *fitResult {
	r := newResult("line", f.Point, f.Residuals, 0)
	r.Direction = direction(f.Direction)
	cov := func(i, j int) float64 { return f.Cov[i][j] }
	r.uncertain("point", 1, block(0, 2, cov)) // across the line
	r.uncertain("direction_deg", deg, block(2, 4, cov))
	r.conditioned(fit.Condition(f.Covariance()))
	return r
}

// flatLineResult is for a line in the plane z = 0, where a point lies on one
// side or the other, so that its residual d has a sign and the line two
// parameters, offset and tilt, with
//
//	σ² = Σd²/(n-2)    var offset = σ²/n    var tilt = σ²/Σt²
//
// t being the distances along the line from the centroid (f.Point).
func flatLineResult(f fit.LineFit, pts []r3.Vector) *fitResult {
	r := newResult("line", f.Point, f.Residuals, 0)
	r.Direction = direction(f.Direction)
	lo, hi, dd, tt := math.Inf(1), math.Inf(-1), 0.0, 0.0
	for _, p := range pts {
		q := p.Sub(f.Point)
		d, t := f.Direction.Cross(q).Z, f.Direction.Dot(q)
		lo, hi = min(lo, d), max(hi, d)
		dd += d * d
		tt += t * t
	}
	r.FormError = number(hi - lo)
	n := float64(len(pts))
	r.uncertain("point", 1, variance(dd/(n-2)/n))
	r.uncertain("direction_deg", deg, variance(dd/(n-2)/tt))
	return r
}

func circleResult(f fit.CircleFit) *fitResult {
	r := newResult("circle", f.Centre, f.Residuals, f.Iters)
	r.Direction = direction(f.Normal)
	r.Radius = ptr(f.Radius)
	cov := func(i, j int) float64 { return f.Cov[i][j] }
	r.uncertain("point", 1, block(0, 3, cov))
	r.uncertain("direction_deg", deg, block(3, 5, cov))
	r.uncertain("radius", 1, block(5, 6, cov))
	r.conditioned(fit.Condition(f.Covariance()))
	return r
}

// circle2Result is for a circle in the plane z = 0.
func circle2Result(f fit.Circle2DFit) *fitResult {
	r := newResult("circle", r3.Vector{X: f.X, Y: f.Y}, f.Residuals, f.Iters)
	r.Direction = direction(r3.Vector{Z: 1})
	r.Radius = ptr(f.Radius)
	cov := func(i, j int) float64 { return f.Cov[i][j] }
	r.uncertain("point", 1, block(0, 2, cov))
	r.uncertain("radius", 1, block(2, 3, cov))
	r.conditioned(fit.Condition(f.Covariance()))
	return r
}

func sphereResult(f fit.SphereFit) *fitResult {
	r := newResult("sphere", f.Centre, f.Residuals, f.Iters)
	r.Radius = ptr(f.Radius)
	cov := func(i, j int) float64 { return f.Cov[i][j] }
	r.uncertain("point", 1, block(0, 3, cov))
	r.uncertain("radius", 1, block(3, 4, cov))
	r.conditioned(fit.Condition(f.Covariance()))
	return r
}

func cylinderResult(f fit.CylinderFit) *fitResult {
	r := newResult("cylinder", f.Point, f.Residuals, f.Iters)
	r.Direction = direction(f.Axis)
	r.Radius = ptr(f.Radius)
	cov := func(i, j int) float64 { return f.Cov[i][j] }
	r.uncertain("point", 1, block(0, 2, cov)) // across the axis
	r.uncertain("direction_deg", deg, block(2, 4, cov))
	r.uncertain("radius", 1, block(4, 5, cov))
	r.conditioned(fit.Condition(f.Covariance()))
	return r
}

func coneResult(f fit.ConeFit) *fitResult {
	r := newResult("cone", f.Apex, f.Residuals, f.Iters)
	axis := vec(f.Axis) // from the apex into the cone, whatever its sign
	r.Direction = &axis
	r.HalfAngle = ptr(f.HalfAngle.Radians() * deg)
	cov := func(i, j int) float64 { return f.Cov[i][j] }
	r.uncertain("point", 1, block(0, 3, cov))
	r.uncertain("direction_deg", deg, block(3, 5, cov))
	r.uncertain("half_angle_deg", deg, block(5, 6, cov))
	r.conditioned(fit.Condition(f.Covariance()))
	return r
}

// direction turns d so that its largest component is positive.
func direction(d r3.Vector) *vector {
	v := vec(d)
	big := v[0]
	for _, c := range v[1:] {
		if math.Abs(float64(c)) > math.Abs(float64(big)) {
			big = c
		}
	}
	if big < 0 {
		v = vec(d.Mul(-1))
	}
	for i := range v {
		v[i] += 0 // no minus zero
	}
	return &v
}

func vec(v r3.Vector) vector { return vector{number(v.X), number(v.Y), number(v.Z)} }

func ptr(v float64) *number { n := number(v); return &n }
