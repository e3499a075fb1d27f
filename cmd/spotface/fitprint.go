package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"path/filepath"
)

// render prints the result in the named format.
func (r *fitResult) render(format, file string) ([]byte, error) {
	if format == "json" {
		data, err := json.MarshalIndent(r, "", "  ")
		if err != nil {
			return nil, err
		}
		return append(data, '\n'), nil
	}
	return r.text(file), nil
}

// labels of the point and the direction of a shape, in the trade's words.
func labels(shape string) (point, direction string) {
	switch shape {
	case "plane":
		return "point", "normal"
	case "circle":
		return "centre", "normal"
	case "sphere":
		return "centre", ""
	case "cylinder":
		return "axis point", "axis"
	case "cone":
		return "apex", "axis"
	}
	return "point", "direction"
}

// text prints for a person: lengths to a tenth of a micrometre, directions to
// a hundredth of a microradian.
func (r *fitResult) text(file string) []byte {
	var b bytes.Buffer
	line := func(label string, digits int, values ...number) {
		fmt.Fprintf(&b, "  %-11s", label)
		for _, v := range values {
			fmt.Fprintf(&b, " %14.*f", digits, float64(v))
		}
	}
	sure := func(parameter, unit string, times float64) {
		if u, ok := r.Uncertainty[parameter]; ok {
			fmt.Fprintf(&b, "   +-%.2g%s", times*float64(u), unit)
		}
		fmt.Fprintln(&b)
	}
	fmt.Fprintf(&b, "%s: %s through %d points, mm.\n\n", filepath.Base(file), r.Shape, r.Points)
	point, direction := labels(r.Shape)
	line(point, 4, r.Point[:]...)
	sure("point", "", 1)
	if r.Direction != nil {
		line(direction, 8, r.Direction[:]...)
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
	fmt.Fprintf(&b, "   rms %.4f\n", float64(r.RMS))
	if r.Condition != nil {
		line("condition", 1, *r.Condition)
		fmt.Fprintln(&b)
	}
	if r.Rejected != nil {
		fmt.Fprintf(&b, "  %-11s %14d points\n", "left out", *r.Rejected)
	}
	fmt.Fprintln(&b)
	if r.Warning != "" {
		fmt.Fprintf(&b, "Warning: %s.\n", r.Warning)
	}
	switch {
	case r.Criterion != "":
		what := map[string]string{"minimum-zone": "narrowest zone of a", "inscribed": "largest inscribed",
			"circumscribed": "smallest circumscribed"}[r.Criterion]
		fmt.Fprintf(&b, "The %s %s, within %.1g mm of the best there is. It hangs on single points:\n"+
			"how sure it is does not show in them.\n", what, r.Shape, max(1e-15, float64(*r.Gap)))
	case r.Uncertainty == nil:
		fmt.Fprintf(&b, "%d points are as few as a %s needs: it meets them all, and nothing shows how\n"+
			"sure it is.\n", r.Points, r.Shape)
	default:
		fmt.Fprint(&b, "+- is the expanded uncertainty (95 %), from the scatter of these points, as if each\n"+
			"erred by itself. Neighbouring points of a scan do not: for them it is larger.\n")
	}
	return b.Bytes()
}
