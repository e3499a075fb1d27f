package fit

import (
	"errors"
	"fmt"

	"github.com/golang/geo/r3"
)

// ErrDegenerate is wrapped by every error that says the points do not
// determine the shape; the message says what is missing.
var ErrDegenerate = errors.New("the points do not determine the shape")

// ErrNoConvergence is wrapped where the iteration ran out of steps. The last
// iterate comes back with it.
var ErrNoConvergence = errors.New("no convergence")

// TooFewError says that there are fewer points (of weight above zero) than the
// shape needs.
type TooFewError struct {
	Feature   string
	Got, Need int
}

func (e *TooFewError) Error() string {
	return fmt.Sprintf("fit %s: %d points, need at least %d: widen the band or scan more densely",
		e.Feature, e.Got, e.Need)
}

// FlatError says that the curvature of the fitted shape is less than twice its
// own standard uncertainty: its radius cannot be distinguished from that of a line or
// plane. The least-squares answer comes back with it, finite, but it is not a
// measurement of the radius.
type FlatError struct {
	Feature    string
	Curvature  float64 // 1/radius, 1/mm
	CurvatureU float64 // its standard uncertainty, 1/mm
}

func (e *FlatError) Error() string {
	flat := "plane"
	if e.Feature == "circle" {
		flat = "line"
	}
	return fmt.Sprintf("fit %s: the radius cannot be distinguished from that of a %s: curvature %.3g ± %.2g 1/mm (one standard uncertainty): scan more of the arc",
		e.Feature, flat, e.Curvature, e.CurvatureU)
}

// TaperError says that the half angle of a fitted cone is less than twice its
// own standard uncertainty, so that the cone cannot be distinguished from a cylinder and
// its apex is anywhere. The least-squares answer comes back with it.
type TaperError struct {
	HalfAngle, HalfAngleU float64 // rad
}

func (e *TaperError) Error() string {
	return fmt.Sprintf("fit cone: cannot be distinguished from a cylinder: half angle %.3g ± %.2g rad (one standard uncertainty): fit a cylinder, or scan more of its length",
		e.HalfAngle, e.HalfAngleU)
}

// InputError says that a point or weight cannot be used.
type InputError struct {
	Feature string
	Index   int // of the point, from zero; -1 for all
	Point   r3.Vector
	Reason  string
}

func (e *InputError) Error() string {
	if e.Index < 0 {
		return fmt.Sprintf("fit %s: %s", e.Feature, e.Reason)
	}
	return fmt.Sprintf("fit %s: point %d (%v, %v, %v): %s",
		e.Feature, e.Index, e.Point.X, e.Point.Y, e.Point.Z, e.Reason)
}

// Usable reports whether a fit that returned err came back with a shape, measured or not.
func Usable(err error) bool {
	flat, isFlat := errors.AsType[*FlatError](err)
	taper, isTaper := errors.AsType[*TaperError](err)
	return err == nil || errors.Is(err, ErrNoConvergence) ||
		isFlat && flat.Curvature > 0 || isTaper && taper.HalfAngle > 0
}

func degenerate(feature, missing string) error {
	return fmt.Errorf("fit %s: %w: %s", feature, ErrDegenerate, missing)
}

func noConvergence(feature string, iters int) error {
	return fmt.Errorf("fit %s: %w in %d steps: the points may not show one", feature, ErrNoConvergence, iters)
}
