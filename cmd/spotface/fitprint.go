package main

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"

	"spotface/fit"
)

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
