package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"spotface/fit"
	"spotface/fit/robust"
	"spotface/fit/zone"
)

// parameter is a printed uncertainty, of some rows of the covariance.
type parameter struct {
	name   string
	lo, hi int
}

// shape is what `spotface fit` knows of one.
type shape struct {
	name             string
	kind             fit.Kind // of a surface
	flat             bool     // a figure in the plane z = 0
	least            int      // number of points that settle it exactly
	point, direction string   // what they are called in the trade
	parameters       []parameter
}

// shapes in the order in which help and messages list them, those in a plane last.
var shapes = [...]shape{
	{"plane", fit.KindPlane, false, 3, "point", "normal",
		[]parameter{{"point", 0, 1}, {"direction_deg", 1, 3}}},
	{"line", 0, false, 2, "point", "direction", []parameter{{"point", 0, 2}, {"direction_deg", 2, 4}}},
	{"circle", 0, false, 3, "centre", "normal",
		[]parameter{{"point", 0, 3}, {"direction_deg", 3, 5}, {"radius", 5, 6}}},
	{"sphere", fit.KindSphere, false, 4, "centre", "", []parameter{{"point", 0, 3}, {"radius", 3, 4}}},
	{"cylinder", fit.KindCylinder, false, 5, "axis point", "axis",
		[]parameter{{"point", 0, 2}, {"direction_deg", 2, 4}, {"radius", 4, 5}}},
	{"cone", fit.KindCone, false, 6, "apex", "axis",
		[]parameter{{"point", 0, 3}, {"direction_deg", 3, 5}, {"half_angle_deg", 5, 6}}},
	{"line", 0, true, 2, "point", "direction", []parameter{{"point", 0, 1}, {"direction_deg", 2, 3}}},
	{"circle", 0, true, 3, "centre", "normal", []parameter{{"point", 0, 2}, {"radius", 2, 3}}},
}

var shapeNames = [...]string{"plane", "line", "circle", "sphere", "cylinder", "cone"}

// shapeOf returns the named shape for pts. Points that all have z = 0, such as those of
// two columns, are a figure in that plane.
func shapeOf(name string, pts []r3.Vector) (*shape, error) {
	flat := true
	for _, p := range pts {
		flat = flat && p.Z == 0
	}
	var found *shape
	for i := range shapes {
		if s := &shapes[i]; s.name == name && (!s.flat || flat) {
			found = s
		}
	}
	if flat && found.least > 3 {
		return nil, fmt.Errorf("all points lie in the plane z = 0, as two columns do: a %s "+
			"needs x, y and z", name)
	}
	return found, nil
}

// fitShape fits the named shape to pts, mm.
func fitShape(name string, pts []r3.Vector, m fitMethod) (*fitResult, error) {
	s, err := shapeOf(name, pts)
	if err != nil {
		return nil, err
	}
	if m.criterion != leastSquares {
		return s.byCriterion(pts, m.criterion)
	}
	r := &fitResult{of: s, Shape: name}
	var f fitted
	if m.robust {
		var out robust.Outliers
		f, out, err = s.robust(pts, robust.Options{Fit: fit.Options{Direction: m.held()}})
		r.Rejected = &out.Count
	} else {
		f, err = s.leastSquares(pts, fit.Options{Direction: m.held()})
	}
	switch { // numbers that the points do not tell from a flatter or straighter shape's
	case !fit.Usable(err) || errors.Is(err, fit.ErrNoConvergence):
		return nil, err
	case err != nil:
		r.Warning = err.Error()
	}
	r.fill(f)
	return r, nil
}

// fitted is what every fit returns.
type fitted interface {
	Covariance() *mat.SymDense
	Statistics() fit.ResidualStats
	Iterations() int
}

func (s *shape) leastSquares(pts []r3.Vector, opt fit.Options) (fitted, error) {
	switch {
	case s.name == "line" && s.flat:
		return fit.Line2DTo(pts, opt)
	case s.name == "line":
		return fit.LineTo(pts, opt)
	case s.name == "circle" && s.flat:
		return fit.Circle2DTo(pts, opt)
	case s.name == "circle":
		return fit.CircleTo(pts, opt)
	}
	return fit.To(s.kind, pts, opt)
}

func (s *shape) robust(pts []r3.Vector, opt robust.Options) (fitted, robust.Outliers, error) {
	switch {
	case s.name == "circle" && s.flat:
		return robust.Circle2D(pts, opt)
	case s.name == "circle":
		return robust.Circle(pts, opt)
	}
	return robust.To(s.kind, pts, opt)
}

// byCriterion fits by another criterion than least squares.
func (s *shape) byCriterion(pts []r3.Vector, name string) (*fitResult, error) {
	var g any
	var z zone.Zone
	var err error
	switch by := criteria[name].by; {
	case s.name == "line":
		g, z, err = zone.Line(pts)
	case s.name == "circle" && !s.flat:
		return nil, fmt.Errorf("--criterion %s is of a circle in a plane: give two "+
			"columns, or project the points on their face first", name)
	case s.name == "circle":
		g, z, err = zone.Circle(pts, by)
	default:
		g, z, err = zone.To(s.kind, pts, by)
	}
	r := &fitResult{of: s, Shape: s.name, Points: len(pts), Criterion: name, Iterations: z.Iters,
		RMS: number(z.RMS), FormError: number(z.Width), Gap: ptr(z.DualityGap)}
	r.describe(g)
	return r, err
}

// number prints with 17 significant digits, enough to get the same float64
// back.
type number float64

func (n number) MarshalJSON() ([]byte, error) {
	return strconv.AppendFloat(nil, float64(n), 'g', 17, 64), nil
}

func ptr(v float64) *number { n := number(v); return &n }

type vector [3]number

func vec(v r3.Vector) vector { return vector{number(v.X), number(v.Y), number(v.Z)} }

// fitResult is what `spotface fit` prints, with the names of its JSON. What
// does not apply to a shape is nil.
type fitResult struct {
	of         *shape
	Shape      string  `json:"shape"`
	Point      vector  `json:"point"` // mm
	Direction  *vector `json:"direction,omitempty"`
	Radius     *number `json:"radius,omitempty"`         // mm
	HalfAngle  *number `json:"half_angle_deg,omitempty"` // degrees
	RMS        number  `json:"rms"`                      // mm
	FormError  number  `json:"form_error"`               // mm
	Points     int     `json:"points"`
	Iterations int     `json:"iterations"` // 0: solved without
	// Condition is the ratio of the best known combination of parameters to the
	// worst known one.
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
	// Warning says what the points do not really show.
	Warning string `json:"warning,omitempty"`
}

// fill takes in a fit with its uncertainties.
func (r *fitResult) fill(f fitted) {
	s := f.Statistics()
	r.RMS, r.FormError, r.Points = number(s.RMS), number(s.FormError), s.N
	r.Iterations = f.Iterations()
	r.describe(f)
	if r.Points <= r.of.least {
		return // the shape meets every point, whatever their noise
	}
	cov := f.Covariance()
	r.Uncertainty, r.Coverage = map[string]number{}, map[string]number{}
	for _, p := range r.of.parameters {
		u, k := fit.Expanded(cov.SliceSym(p.lo, p.hi))
		if strings.HasSuffix(p.name, "_deg") {
			u *= 180 / math.Pi
		}
		if !math.IsNaN(u) && !math.IsInf(u, 0) {
			r.Uncertainty[p.name], r.Coverage[p.name] = number(u), number(k)
		}
	}
	if c := fit.Condition(cov); c > 0 && !math.IsInf(c, 0) {
		r.Condition = ptr(c)
	}
}

// describe takes in where the shape g lies and how large it is.
func (r *fitResult) describe(g any) {
	switch g := g.(type) {
	case fit.Fit:
		r.describe(g.Surface())
	case fit.LineFit:
		r.describe(g.Line)
	case fit.CircleFit:
		r.describe(g.Circle)
	case fit.Plane:
		r.Point, r.Direction = vec(g.Point), direction(g.Normal)
	case fit.Line:
		r.Point, r.Direction = vec(g.Point), direction(g.Direction)
	case fit.Circle:
		r.Point, r.Direction, r.Radius = vec(g.Centre), direction(g.Normal), ptr(g.Radius)
	case fit.Sphere:
		r.Point, r.Radius = vec(g.Centre), ptr(g.Radius)
	case fit.Cylinder:
		r.Point, r.Direction, r.Radius = vec(g.Point), direction(g.Axis), ptr(g.Radius)
	case fit.Cone:
		axis := vec(g.Axis) // from the apex into the cone, whatever its sign
		r.Point, r.Direction, r.HalfAngle = vec(g.Apex), &axis, ptr(g.HalfAngle.Degrees())
	}
}

// direction turns d so that its largest component is positive, and none is minus zero.
func direction(d r3.Vector) *vector {
	big := d.X
	for _, c := range []float64{d.Y, d.Z} {
		if math.Abs(c) > math.Abs(big) {
			big = c
		}
	}
	v := vec(d.Mul(math.Copysign(1, big)).Add(r3.Vector{}))
	return &v
}

// text prints for a person: lengths to a tenth of a micrometre, directions to
// a hundredth of a microradian.
func (r *fitResult) text(w io.Writer, file string) error {
	line := func(label string, digits int, values ...number) {
		fmt.Fprintf(w, "  %-11s", label)
		for _, v := range values {
			fmt.Fprintf(w, " %14.*f", digits, float64(v))
		}
	}
	sure := func(parameter, unit string, times float64) {
		if u, ok := r.Uncertainty[parameter]; ok {
			fmt.Fprintf(w, "   +-%.2g%s", times*float64(u), unit)
		}
		fmt.Fprintln(w)
	}
	fmt.Fprintf(w, "%s: %s through %d points, mm.\n\n", filepath.Base(file), r.Shape, r.Points)
	line(r.of.point, 4, r.Point[:]...)
	sure("point", "", 1)
	if r.Direction != nil {
		line(r.of.direction, 8, r.Direction[:]...)
		sure("direction_deg", " deg", 1)
	}
	if r.Radius != nil {
		line("radius", 4, *r.Radius)
		sure("radius", "", 1)
		line("diameter", 4, 2**r.Radius)
		sure("radius", "", 2)
	}
	if r.HalfAngle != nil {
		line("half angle", 6, *r.HalfAngle)
		sure("half_angle_deg", " deg", 1)
	}
	line("form error", 4, r.FormError)
	fmt.Fprintf(w, "   rms %.4f\n", float64(r.RMS))
	if r.Condition != nil {
		line("condition", 1, *r.Condition)
		fmt.Fprintln(w)
	}
	if r.Rejected != nil {
		fmt.Fprintf(w, "  %-11s %14d points\n", "left out", *r.Rejected)
	}
	fmt.Fprintln(w)
	if r.Warning != "" {
		fmt.Fprintf(w, "Warning: %s.\n", r.Warning)
	}
	switch {
	case r.Criterion != "":
		fmt.Fprintf(w, "The %s %s, within %.1g mm of the best there is. Single points determine it:\n"+
			"how sure it is does not show in them.\n",
			criteria[r.Criterion].result, r.Shape, max(1e-15, float64(*r.Gap)))
	case len(r.Uncertainty) == 0:
		fmt.Fprintf(w, "%d points are as few as a %s needs: it meets them all, and nothing shows how\n"+
			"sure it is.\n", r.Points, r.Shape)
	default:
		fmt.Fprint(w, "+- is the expanded uncertainty (95 %), from the scatter of these "+
			"points, as if each\n"+
			"erred by itself. Neighbouring points of a scan do not: for them it is larger.\n")
	}
	return nil
}
