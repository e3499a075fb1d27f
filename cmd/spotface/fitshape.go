package main

import (
	"errors"
	"fmt"
	"math"

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

func pairs(pts []r3.Vector) [][2]float64 {
	xy := make([][2]float64, len(pts))
	for i, p := range pts {
		xy[i] = [2]float64{p.X, p.Y}
	}
	return xy
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
	if r.Warning, err = doubt(err); err != nil {
		return nil, err
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
		return fit.Line2DTo(pairs(pts), opt)
	case s.name == "line":
		return fit.LineTo(pts, opt)
	case s.name == "circle" && s.flat:
		return fit.Circle2DTo(pairs(pts), opt)
	case s.name == "circle":
		return fit.CircleTo(pts, opt)
	}
	return fit.To(s.kind, pts, opt)
}

func (s *shape) robust(pts []r3.Vector, opt robust.Options) (fitted, robust.Outliers, error) {
	switch {
	case s.name == "circle" && s.flat:
		return robust.Circle2D(pairs(pts), opt)
	case s.name == "circle":
		return robust.Circle(pts, opt)
	}
	return robust.To(s.kind, pts, opt)
}

// byCriterion fits by another criterion than least squares.
func (s *shape) byCriterion(pts []r3.Vector, name string) (*fitResult, error) {
	by := criteria[name].by
	r := &fitResult{of: s, Shape: s.name, Points: len(pts), Criterion: name}
	var z zone.Zone
	var distance func(q r3.Vector) float64
	switch s.name {
	case "line":
		f, err := zone.Line(pts)
		if err != nil {
			return nil, err
		}
		r.describe(f.Line)
		z, distance = f.Zone, f.Distance
	case "circle":
		if !s.flat {
			return nil, fmt.Errorf("--criterion %s is of a circle in a plane: give two "+
				"columns, or project the points on their face first", name)
		}
		f, err := zone.Circle(pairs(pts), by)
		if err != nil {
			return nil, err
		}
		r.describe(fit.Circle2DFit{X: f.X, Y: f.Y, Radius: f.Radius})
		z, distance = f.Zone, func(q r3.Vector) float64 { return math.Hypot(q.X-f.X, q.Y-f.Y) - f.Radius }
	default:
		f, err := zone.To(s.kind, pts, by)
		if err != nil {
			return nil, err
		}
		r.describe(f.Shape)
		z, distance = f.Zone, f.Distance
	}
	var sum float64
	for _, q := range pts {
		d := distance(q)
		sum += d * d
	}
	r.RMS = number(math.Sqrt(sum / float64(len(pts))))
	r.FormError, r.Gap, r.Iterations = number(z.Width), ptr(z.DualityGap), z.Iters
	return r, nil
}

// doubt turns an error that comes with the least-squares answer, though the
// points do not tell it from a flatter or straighter shape, into a warning.
func doubt(err error) (warning string, _ error) {
	if e, ok := errors.AsType[*fit.FlatError](err); ok && e.Curvature > 0 {
		return err.Error(), nil
	}
	if e, ok := errors.AsType[*fit.TaperError](err); ok && e.HalfAngle > 0 {
		return err.Error(), nil
	}
	return "", err
}
