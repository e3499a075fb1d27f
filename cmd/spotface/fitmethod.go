package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"
	"github.com/spf13/cobra"

	"spotface/fit"
	"spotface/fit/robust"
	"spotface/fit/zone"
)

// fitMethod is how `spotface fit` fits.
type fitMethod struct {
	criterion string
	robust    bool
	axis      string

	held r3.Vector // unit, if axis is given
}

const leastSquares = "least-squares"

// criteria by name, beside least squares.
var criteria = map[string]zone.Criterion{
	"minimum-zone":  zone.Minimum,
	"inscribed":     zone.Inscribed,
	"circumscribed": zone.Circumscribed,
}

// surfaces by name.
var surfaces = map[string]fit.Kind{
	"plane": fit.KindPlane, "cylinder": fit.KindCylinder, "sphere": fit.KindSphere, "cone": fit.KindCone,
}

var criterionNames = []string{leastSquares, "minimum-zone", "inscribed", "circumscribed"}

func (m *fitMethod) register(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&m.criterion, "criterion", leastSquares, "`WHAT` to fit by: "+orList(criterionNames))
	complete(cmd, "criterion", criterionNames...)
	f.BoolVar(&m.robust, "robust", false, "stand points that do not belong, and count them")
	f.StringVar(&m.axis, "axis", "", "hold a cylinder's axis to the direction `x,y,z`")
}

// validate checks that shape has such a fit.
func (m *fitMethod) validate(shape string) error {
	if !slices.Contains(criterionNames, m.criterion) {
		return fmt.Errorf("--criterion %q is not known: use %s", m.criterion, orList(criterionNames))
	}
	if m.criterion != leastSquares {
		if m.robust || m.axis != "" {
			return fmt.Errorf("--criterion %s goes with neither --robust nor --axis", m.criterion)
		}
		has := []string{"circle", "sphere", "cylinder"}
		if m.criterion == "minimum-zone" {
			has = []string{"plane", "line", "circle", "sphere", "cylinder"}
		}
		if !slices.Contains(has, shape) {
			return fmt.Errorf("a %s has no fit by --criterion %s: %s have", shape, m.criterion, andList(has))
		}
	}
	if has := []string{"plane", "circle", "sphere", "cylinder"}; m.robust && !slices.Contains(has, shape) {
		return fmt.Errorf("a %s has no --robust fit: %s have", shape, andList(has))
	}
	if m.axis == "" {
		return nil
	}
	if shape != "cylinder" {
		return fmt.Errorf("--axis holds a cylinder's axis; a %s has none to hold", shape)
	}
	parts := strings.Split(m.axis, ",")
	var v [3]float64
	for i, p := range parts {
		x, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if len(parts) != 3 || err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
			return fmt.Errorf("--axis %q is no direction: give three numbers, such as 0,0,1", m.axis)
		}
		v[i] = x
	}
	m.held = r3.Vector{X: v[0], Y: v[1], Z: v[2]}
	if m.held.Norm() == 0 {
		return fmt.Errorf("--axis %q has no direction: give three numbers that are not all 0", m.axis)
	}
	m.held = m.held.Normalize()
	return nil
}

// andList joins words as in "a, b and c".
func andList(words []string) string {
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// byRobust fits shape to pts, some of which need not belong.
func byRobust(shape string, pts []r3.Vector, flat bool, m fitMethod) (*fitResult, error) {
	var r *fitResult
	var out robust.Outliers
	var err error
	switch {
	case shape == "circle" && flat:
		var f fit.Circle2DFit
		f, out, err = robust.Circle2D(pairs(pts), robust.Options{})
		r = circle2Result(f)
	case shape == "circle":
		var f fit.CircleFit
		f, out, err = robust.Circle(pts, robust.Options{})
		r = circleResult(f)
	default:
		var f fit.Fit
		f, out, err = robust.To(surfaces[shape], pts, robust.Options{Fit: fit.Options{Direction: m.held}})
		if f != nil {
			r = surfaceResult(f)
		}
	}
	warning, err := doubt(err)
	if err != nil {
		return nil, err
	}
	r.Warning, r.Rejected = warning, &out.Count
	return r, nil
}

// byCriterion fits shape to pts by another criterion than least squares.
func byCriterion(shape string, pts []r3.Vector, flat bool, name string) (*fitResult, error) {
	by := criteria[name]
	var r *fitResult
	var z zone.Zone
	var distance func(q r3.Vector) float64
	switch shape {
	case "line":
		f, err := zone.Line(pts)
		if err != nil {
			return nil, err
		}
		r, z, distance = newResult(shape, f.Point, fit.ResidualStats{}, f.Iters), f.Zone, f.Distance
		r.Direction = direction(f.Direction)
	case "circle":
		if !flat {
			return nil, fmt.Errorf("--criterion %s is of a circle in a plane: give two columns, or project the points on their face first", name)
		}
		f, err := zone.Circle(pairs(pts), by)
		if err != nil {
			return nil, err
		}
		ctr := r3.Vector{X: f.X, Y: f.Y}
		r, z = newResult(shape, ctr, fit.ResidualStats{}, f.Iters), f.Zone
		distance = func(q r3.Vector) float64 { return q.Sub(ctr).Norm() - f.Radius }
		r.Direction, r.Radius = direction(r3.Vector{Z: 1}), ptr(f.Radius)
	default:
		f, err := zone.To(surfaces[shape], pts, by)
		if err != nil {
			return nil, err
		}
		z, distance = f.Zone, f.Distance
		switch s := f.Shape.(type) {
		case fit.Plane:
			r = newResult(shape, s.Point, fit.ResidualStats{}, f.Iters)
			r.Direction = direction(s.Normal)
		case fit.Sphere:
			r = newResult(shape, s.Centre, fit.ResidualStats{}, f.Iters)
			r.Radius = ptr(s.Radius)
		case fit.Cylinder:
			r = newResult(shape, s.Point, fit.ResidualStats{}, f.Iters)
			r.Direction, r.Radius = direction(s.Axis), ptr(s.Radius)
		}
	}
	var sum float64
	for _, q := range pts {
		d := distance(q)
		sum += d * d
	}
	r.Points = len(pts)
	r.RMS = number(math.Sqrt(sum / float64(len(pts))))
	r.FormError = number(z.Width)
	r.Criterion, r.Gap = name, ptr(z.DualityGap)
	return r, nil
}
