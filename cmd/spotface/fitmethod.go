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
var criteria = map[string]fit.Criterion{
	"minimum-zone":  fit.MinimumZone,
	"inscribed":     fit.Inscribed,
	"circumscribed": fit.Circumscribed,
}

var criterionNames = []string{leastSquares, "minimum-zone", "inscribed", "circumscribed"}

func (m *fitMethod) register(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&m.criterion, "criterion", leastSquares, "`WHAT` to fit by: "+orList(criterionNames))
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
	var out fit.Rejection
	var err error
	switch shape {
	case "plane":
		var f fit.PlaneFit
		f, out, err = fit.RobustPlaneTo(pts, fit.RobustOptions{})
		r = planeResult(f)
	case "circle":
		if flat {
			var f fit.Circle2Fit
			f, out, err = fit.RobustCircle2To(pairs(pts), fit.RobustOptions{})
			r = circle2Result(f)
			break
		}
		var f fit.CircleFit
		f, out, err = fit.RobustCircleTo(pts, fit.RobustOptions{})
		r = circleResult(f)
	case "sphere":
		var f fit.SphereFit
		f, out, err = fit.RobustSphereTo(pts, fit.RobustOptions{})
		r = sphereResult(f)
	default:
		var f fit.CylinderFit
		if m.axis != "" {
			f, out, err = fit.RobustCylinderAlong(m.held, pts, fit.RobustOptions{})
		} else {
			f, out, err = fit.RobustCylinderTo(pts, fit.RobustOptions{})
		}
		r = cylinderResult(f)
	}
	warning, err := doubt(err)
	if err != nil {
		return nil, err
	}
	r.Warning, r.Rejected = warning, &out.Rejected
	return r, nil
}

// byCriterion fits shape to pts by another criterion than least squares.
func byCriterion(shape string, pts []r3.Vector, flat bool, name string) (*fitResult, error) {
	by := criteria[name]
	var r *fitResult
	var z fit.Zone
	var distance func(q r3.Vector) float64
	switch shape {
	case "plane":
		f, err := fit.ZonePlane(pts)
		if err != nil {
			return nil, err
		}
		r, z, distance = newResult(shape, f.Point, fit.ResidualStats{}, f.Iters), f.Zone, f.Distance
		r.Direction = direction(f.Normal)
	case "line":
		f, err := fit.ZoneLine(pts)
		if err != nil {
			return nil, err
		}
		r, z, distance = newResult(shape, f.Point, fit.ResidualStats{}, f.Iters), f.Zone, f.Distance
		r.Direction = direction(f.Direction)
	case "circle":
		if !flat {
			return nil, fmt.Errorf("--criterion %s is of a circle in a plane: give two columns, or project the points on their face first", name)
		}
		f, err := fit.ZoneCircle2(pairs(pts), by)
		if err != nil {
			return nil, err
		}
		c := fit.Circle{Centre: r3.Vector{X: f.X, Y: f.Y}, Normal: r3.Vector{Z: 1}, Radius: f.Radius}
		r, z = newResult(shape, c.Centre, fit.ResidualStats{}, f.Iters), f.Zone
		distance = func(q r3.Vector) float64 { return q.Sub(c.Centre).Norm() - c.Radius }
		r.Direction, r.Radius = direction(c.Normal), ptr(f.Radius)
	case "sphere":
		f, err := fit.ZoneSphere(pts, by)
		if err != nil {
			return nil, err
		}
		r, z, distance = newResult(shape, f.Centre, fit.ResidualStats{}, f.Iters), f.Zone, f.Distance
		r.Radius = ptr(f.Radius)
	default:
		f, err := fit.ZoneCylinder(pts, by)
		if err != nil {
			return nil, err
		}
		r, z, distance = newResult(shape, f.Point, fit.ResidualStats{}, f.Iters), f.Zone, f.Distance
		r.Direction, r.Radius = direction(f.Axis), ptr(f.Radius)
	}
	var sum float64
	for _, q := range pts {
		d := distance(q)
		sum += d * d
	}
	r.Points = len(pts)
	r.RMS = number(math.Sqrt(sum / float64(len(pts))))
	r.FormError = number(z.Width)
	r.Criterion, r.Gap = name, ptr(z.Gap)
	return r, nil
}
