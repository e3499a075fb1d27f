package main

import (
	"errors"
	"fmt"

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
