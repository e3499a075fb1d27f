package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"
	"github.com/spf13/cobra"

	"spotface/fit/zone"
	"spotface/report/wording"
)

func newFit(a *app) *cobra.Command {
	var out outFlags
	var unit string
	var method fitMethod
	cmd := &cobra.Command{
		Use:   "fit SHAPE POINTS",
		Short: "Fit one shape to a file of points",
		Long: `Fit one plane, line, circle, sphere, cylinder or cone to all points of a file by
least squares of the distance perpendicular to the shape. Every point counts: this
looks for nothing and leaves nothing out, unless --robust asks it to tolerate
points that do not belong.

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
			if u != "" {
				mm, _ := u.Millimetres() // known: parseUnit made it
				for i, p := range pts {
					pts[i] = p.Mul(mm)
				}
			}
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

// fitMethod is how `spotface fit` fits.
type fitMethod struct {
	criterion string
	robust    bool
	axis      string

	held r3.Vector // unit, if axis is given
}

const leastSquares = "least-squares"

// criterion is what a shape may be fitted by.
type criterion struct {
	name   string
	by     zone.Criterion // but for least squares
	result string         // what the answer is called, before the shape
	has    []string       // shapes
}

var (
	criterionNames = []string{leastSquares, "minimum-zone", "inscribed", "circumscribed"}
	robustShapes   = []string{"plane", "circle", "sphere", "cylinder"}
)

func criterionOf(name string) criterion {
	round := []string{"circle", "sphere", "cylinder"}
	switch name {
	case "minimum-zone":
		return criterion{name, zone.Minimum, "narrowest zone of a", append([]string{"plane", "line"}, round...)}
	case "inscribed":
		return criterion{name, zone.Inscribed, "largest inscribed", round}
	}
	return criterion{name, zone.Circumscribed, "smallest circumscribed", round}
}

func (m *fitMethod) register(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&m.criterion, "criterion", leastSquares, "`WHAT` to fit by: "+orList(criterionNames))
	complete(cmd, "criterion", criterionNames...)
	f.BoolVar(&m.robust, "robust", false, "tolerate points that do not belong, and count them")
	f.StringVar(&m.axis, "axis", "", "hold a cylinder's axis to the direction `x,y,z`")
}

// validate checks that shape has such a fit.
func (m *fitMethod) validate(shape string) error {
	has := criterionOf(m.criterion).has
	switch {
	case !slices.Contains(criterionNames, m.criterion):
		return fmt.Errorf("--criterion %q is not known: use %s", m.criterion, orList(criterionNames))
	case m.criterion == leastSquares:
	case m.robust || m.axis != "":
		return fmt.Errorf("--criterion %s goes with neither --robust nor --axis", m.criterion)
	case !slices.Contains(has, shape):
		return fmt.Errorf("a %s has no fit by --criterion %s: %s have", shape, m.criterion, wording.List(has))
	}
	switch {
	case m.robust && !slices.Contains(robustShapes, shape):
		return fmt.Errorf("a %s has no --robust fit: %s have", shape, wording.List(robustShapes))
	case m.axis == "":
		return nil
	case shape != "cylinder":
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

// orList joins words as in "a, b or c".
func orList(words []string) string {
	n := len(words)
	if n < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:n-1], ", ") + " or " + words[n-1]
}
