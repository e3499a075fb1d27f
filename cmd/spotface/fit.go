package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/golang/geo/r3"
	"github.com/spf13/cobra"

	"spotface/fit/zone"
	"spotface/mesh"
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
			if err := validate(&out, args[1:]); err != nil {
				return err
			}
			pts, warnings, err := a.readPoints(cmd.Context(), file)
			if err != nil {
				return err
			}
			file = a.called(file)
			for _, w := range warnings {
				a.note("warning: %s: %s", file, w)
			}
			if unit != "" {
				mm, _ := mesh.Unit(unit).Millimetres() // known: it is one of the flag's choices
				for i, p := range pts {
					pts[i] = p.Mul(mm)
				}
			}
			res, err := fitShape(shape, pts, method)
			if err != nil {
				return fmt.Errorf("%s: %w", file, err)
			}
			if res.Warning != "" {
				a.note("warning: %s: %s", file, res.Warning)
			}
			o := outputs{of: file}
			return a.result(cmd, &o, &out, res, func(w io.Writer) error { return res.text(w, file) })
		},
	}
	out.register(cmd)
	method.register(cmd)
	unitFlag(cmd, &unit, "file: mm, cm, m, in or ft (default mm); results are in mm")
	return cmd
}

// fitMethod is how `spotface fit` fits.
type fitMethod struct {
	criterion string
	robust    bool
	axis      []float64 // of a cylinder, where it is held
}

const leastSquares = "least-squares"

// criteria are what shapes may be fitted by.
var criteria = map[string]struct {
	by     zone.Criterion
	result string   // what the answer is called, before the shape
	has    []string // shapes
}{
	"minimum-zone": {zone.Minimum, "narrowest zone of a",
		[]string{"plane", "line", "circle", "sphere", "cylinder"}},
	"inscribed": {zone.Inscribed, "largest inscribed", []string{"circle", "sphere", "cylinder"}},
	"circumscribed": {zone.Circumscribed, "smallest circumscribed",
		[]string{"circle", "sphere", "cylinder"}},
}

func (m *fitMethod) register(cmd *cobra.Command) {
	f := cmd.Flags()
	names := []string{leastSquares, "minimum-zone", "inscribed", "circumscribed"}
	choice(cmd, &m.criterion, "criterion", leastSquares, "`WHAT` to fit by: "+orList(names), names...)
	f.BoolVar(&m.robust, "robust", false, "tolerate points that do not belong, and count them")
	f.Float64SliceVar(&m.axis, "axis", nil, "hold a cylinder's axis to the direction `x,y,z`")
	guard(f, "axis", func() error {
		for _, v := range m.axis {
			if len(m.axis) != 3 || math.IsInf(v, 0) || math.IsNaN(v) {
				return errors.New("is no direction: give three numbers, such as 0,0,1")
			}
		}
		if m.held().Norm() == 0 {
			return errors.New("has no direction: give three numbers that are not all 0")
		}
		return nil
	})
}

// held is the direction that the axis is held to, zero if it is not.
func (m *fitMethod) held() r3.Vector {
	if m.axis == nil {
		return r3.Vector{}
	}
	return r3.Vector{X: m.axis[0], Y: m.axis[1], Z: m.axis[2]}.Normalize()
}

// validate checks that shape has such a fit.
func (m *fitMethod) validate(shape string) error {
	other, robust := criteria[m.criterion].has, []string{"plane", "circle", "sphere", "cylinder"}
	switch {
	case other != nil && (m.robust || m.axis != nil):
		return fmt.Errorf("--criterion %s goes with neither --robust nor --axis", m.criterion)
	case other != nil && !slices.Contains(other, shape):
		return fmt.Errorf("a %s has no fit by --criterion %s: %s have", shape, m.criterion,
			wording.List(other))
	case m.robust && !slices.Contains(robust, shape):
		return fmt.Errorf("a %s has no --robust fit: %s have", shape, wording.List(robust))
	case m.axis != nil && shape != "cylinder":
		return fmt.Errorf("--axis holds a cylinder's axis; a %s has none to hold", shape)
	}
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
