package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/golang/geo/r3"
	"github.com/spf13/cobra"

	"spotface/fit"
	"spotface/mesh"
)

// shapeNames in the order in which help and messages list them.
var shapeNames = [...]string{"plane", "line", "circle", "sphere", "cylinder", "cone"}

func newFit(a *app) *cobra.Command {
	var out outFlags
	var unit string
	var method fitMethod
	cmd := &cobra.Command{
		Use:   "fit SHAPE POINTS",
		Short: "Fit one shape to a file of points",
		Long: `Fit one plane, line, circle, sphere, cylinder or cone to all points of a file by
least squares of the distance square to the shape. Every point counts: this
looks for nothing and leaves nothing out, unless --robust asks it to stand points
that do not belong.

--criterion minimum-zone gives the form error that standards define: the least
width that holds all points. What a bolt or pin of a hole must pass is the
largest inscribed cylinder, what a bore must pass over a stud the smallest
circumscribed one: not the least-squares one, which is the best guess of the
surface.

POINTS holds x, y and z on each line, separated by spaces, tabs, commas or
semicolons; with two columns the figure lies in the plane z = 0. Numbers are
read and worked in double precision.`,
		Example: `  spotface fit circle rim.txt
  spotface fit cylinder bore.csv --unit in --format json`,
		ValidArgs: shapeNames[:],
		Args:      wantArgs(2, 2, "a shape and a file of points"),
		RunE: func(cmd *cobra.Command, args []string) error {
			shape, file := args[0], args[1]
			if !slices.Contains(shapeNames[:], shape) {
				return fmt.Errorf("no shape %q: use %s", shape, orList(shapeNames[:]))
			}
			if err := method.validate(shape); err != nil {
				return err
			}
			if err := validate(&out, nil, args[1:]); err != nil {
				return err
			}
			u, err := parseUnit(unit)
			if err != nil {
				return err
			}
			pts, warnings, err := a.readPoints(cmd.Context(), file)
			if err != nil {
				return err
			}
			file = called(file)
			for _, w := range warnings {
				a.note("warning: %s: %s", file, w)
			}
			toMillimetres(pts, u)
			res, err := fitShape(shape, pts, method)
			if err != nil {
				return fmt.Errorf("%s: %w", file, err)
			}
			data, err := res.render(out.format, file)
			if err != nil {
				return fmt.Errorf("%s: %w", file, err)
			}
			if res.Warning != "" {
				a.note("warning: %s: %s", file, res.Warning)
			}
			var o outputs
			o.add("-o", out.out, data)
			return o.write(cmd.Context(), a.stdout)
		},
	}
	out.register(cmd)
	method.register(cmd)
	cmd.Flags().StringVar(&unit, "unit", "", "`UNIT` of the numbers in the file: mm, cm, m, in or ft (default mm); results are in mm")
	complete(cmd, "unit", units[:]...)
	return cmd
}

// toMillimetres scales pts from the unit u, empty for millimetres.
func toMillimetres(pts []r3.Vector, u mesh.Unit) {
	if u == "" {
		return
	}
	mm, _ := u.Millimetres() // known: parseUnit made it
	for i, p := range pts {
		pts[i] = p.Mul(mm)
	}
}

// fitShape fits the named shape to pts, mm. Points that all have z = 0, such as
// those of two columns, are a figure in that plane.
func fitShape(shape string, pts []r3.Vector, m fitMethod) (*fitResult, error) {
	flat := !slices.ContainsFunc(pts, func(p r3.Vector) bool { return p.Z != 0 })
	if flat && slices.Contains([]string{"sphere", "cylinder", "cone"}, shape) {
		return nil, fmt.Errorf("all points lie in the plane z = 0, as two columns do: a %s needs x, y and z", shape)
	}
	switch {
	case m.criterion != leastSquares:
		return byCriterion(shape, pts, flat, m.criterion)
	case m.robust:
		return byRobust(shape, pts, flat, m)
	}
	var err error
	var result func() *fitResult
	switch {
	case shape == "line":
		var f fit.LineFit
		f, err = fit.LineTo(pts, fit.Options{})
		result = func() *fitResult { return lineResult(f) }
		if flat {
			result = func() *fitResult { return flatLineResult(f, pts) }
		}
	case shape == "circle" && flat:
		var f fit.Circle2DFit
		f, err = fit.Circle2DTo(pairs(pts), fit.Options{})
		result = func() *fitResult { return circle2Result(f) }
	case shape == "circle":
		var f fit.CircleFit
		f, err = fit.CircleTo(pts, fit.Options{})
		result = func() *fitResult { return circleResult(f) }
	default:
		kind, ok := surfaces[shape]
		if !ok {
			return nil, fmt.Errorf("no shape %q", shape)
		}
		var f fit.Fit
		f, err = fit.To(kind, pts, fit.Options{Direction: m.held})
		result = func() *fitResult { return surfaceResult(f) }
	}
	warning, err := doubt(err)
	if err != nil {
		return nil, err
	}
	r := result()
	r.Warning = warning
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

func pairs(pts []r3.Vector) [][2]float64 {
	xy := make([][2]float64, len(pts))
	for i, p := range pts {
		xy[i] = [2]float64{p.X, p.Y}
	}
	return xy
}

// orList joins words as in "a, b or c".
func orList(words []string) string {
	n := len(words)
	if n < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:n-1], ", ") + " or " + words[n-1]
}
