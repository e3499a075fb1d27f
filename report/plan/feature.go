package plan

import (
	"math"
	"slices"

	"github.com/goccy/go-yaml/ast"

	"spotface/report"
	"spotface/report/wording"
)

// names keeps the ids of a plan's features apart, and the places where one
// feature names another.
type names struct {
	r       *planReader
	seen    map[string]bool
	refs    []reference
	axis    ast.Node // of the frame
	lengths []lengthRef
}

type reference struct {
	node ast.Node
	id   string
}

// take reads an id that no other feature has.
func (n *names) take(dst *string, what string) func(ast.Node) error {
	return func(v ast.Node) (err error) {
		if *dst, err = n.r.id(v, what); err != nil {
			return err
		}
		if n.seen[*dst] {
			return n.r.fail(v, "the id %s stands twice: give each feature its own", *dst)
		}
		n.seen[*dst] = true
		return nil
	}
}

// checkReferences refuses a frame's axis and perpendicular_to where they name what the
// plan does not have.
func (n *names) checkReferences(p *Plan) error {
	if axis := p.Frame.Axis; axis != "" {
		var have []string
		for _, c := range p.Cylinders {
			have = append(have, c.ID)
		}
		for _, c := range p.BoltCircles {
			have = append(have, c.ID)
		}
		if !slices.Contains(have, axis) {
			return n.r.fail(n.axis, "the frame's axis is %s, which is no cylinder or bolt circle of this plan: add it, or name one of them", axis)
		}
	}
	known := []string{}
	for _, pl := range p.Planes {
		known = append(known, pl.ID)
	}
	if p.Frame.Face != "" {
		known = append(known, p.Frame.Face)
	}
	for _, ref := range n.refs {
		ok := false
		for _, k := range known {
			ok = ok || k == ref.id
		}
		if !ok {
			return n.r.fail(ref.node, "perpendicular_to is %s, which is no plane of this plan: add it under planes", ref.id)
		}
	}
	return nil
}

// size reads {nominal, band}.
func (r *planReader) size(dst **Size, what string) func(ast.Node) error {
	return func(n ast.Node) error {
		s := &Size{Nominal: math.NaN()}
		err := r.mapping(n, what, []field{
			{"nominal", r.into(&s.Nominal, r.mm, what+" nominal", r.positive)},
			{"band", func(n ast.Node) (err error) { s.Band, err = r.band(n, what, r.mm); return err }},
		})
		if err != nil {
			return err
		}
		if math.IsNaN(s.Nominal) {
			return r.fail(n, "%s has no nominal: add the size that the band is about", what)
		}
		*dst = s
		return nil
	}
}

// zone reads {diameter} of a position tolerance.
func (r *planReader) zone(dst *float64) func(ast.Node) error {
	return func(n ast.Node) error {
		return r.mapping(n, "position", []field{
			{"diameter", r.into(dst, r.mm, "position diameter", r.positive)},
		})
	}
}

func (r *planReader) at(dst *[]float64, low, high int) func(ast.Node) error {
	return func(n ast.Node) (err error) {
		*dst, err = r.numbers(n, "at", low, high, r.mm)
		return err
	}
}

func (r *planReader) needID(n ast.Node, id, where string) error {
	if id == "" {
		return r.fail(n, "an entry of %s has no id: add one, as in \"id: X1\"", where)
	}
	return nil
}

func (r *planReader) circle(n ast.Node, p *Plan, ids *names) error {
	var c Circle
	var count, spacing float64
	var countNode, anglesNode, spacingNode ast.Node
	err := r.mapping(n, "bolt_circles", []field{
		{"id", ids.take(&c.ID, "a bolt circle's id")},
		{"count", func(n ast.Node) (err error) {
			countNode = n
			if count, err = r.number(n, "count"); err == nil && (count != math.Trunc(count) || count < 3 || count > 1000) {
				err = r.fail(n, "count is %s, need a whole number from 3 to 1000", wording.Short(count))
			}
			return err
		}},
		{"angles", func(n ast.Node) (err error) {
			anglesNode = n
			c.Angles, err = r.numbers(n, "angles", 3, 1000, 1)
			return err
		}},
		{"spacing", func(n ast.Node) error {
			return r.mapping(n, "spacing", []field{
				{"nominal", func(v ast.Node) error {
					spacingNode = v
					return r.into(&spacing, 1, "spacing nominal", r.positive)(v)
				}},
				{"band", func(n ast.Node) (err error) { c.SpacingBand, err = r.band(n, "spacing", 1); return err }},
			})
		}},
		{"pitch_diameter", r.size(&c.PitchDiameter, "pitch_diameter")},
		{"hole_diameter", r.size(&c.HoleDiameter, "hole_diameter")},
		{"clocking", func(n ast.Node) error {
			return r.mapping(n, "clocking", []field{
				{"band", func(n ast.Node) (err error) { c.ClockingBand, err = r.band(n, "clocking", 1); return err }},
			})
		}},
		{"position", r.zone(&c.Position)},
		{"at", r.at(&c.At, 2, 2)},
	})
	if err != nil {
		return err
	}
	if err := r.needID(n, c.ID, "bolt_circles"); err != nil {
		return err
	}
	switch {
	case anglesNode == nil && countNode == nil:
		return r.fail(n, "bolt circle %s has neither count nor angles: add how many holes it has", c.ID)
	case anglesNode != nil && spacingNode != nil:
		return r.fail(spacingNode, "bolt circle %s has angles, which say the spacing already: leave the nominal spacing out", c.ID)
	case anglesNode != nil && countNode != nil && int(count) != len(c.Angles):
		return r.fail(countNode, "bolt circle %s has count %d but %d angles: leave count out, or mend one of them", c.ID, int(count), len(c.Angles))
	case anglesNode != nil:
		if err := r.checkAngles(anglesNode, c.Angles); err != nil {
			return err
		}
	default:
		if spacingNode == nil {
			spacing = 360 / count
		}
		if spacing*count > 360+1e-6*count { // 51.428571 seven times is a ring, too
			return r.fail(spacingNode, "bolt circle %s: %d holes %s degrees apart need more than a whole turn", c.ID, int(count), wording.Short(spacing))
		}
		if math.Abs(spacing*count-360) <= 1e-3*count {
			spacing = 360 / count // 51.4286 means a seventh
		}
		for i := range int(count) {
			c.Angles = append(c.Angles, float64(i)*spacing)
		}
	}
	p.BoltCircles = append(p.BoltCircles, c)
	return nil
}

func (r *planReader) checkAngles(n ast.Node, a []float64) error {
	if a[0] != 0 {
		return r.fail(n, "angles start with %s, need 0: they count from the clocking hole", wording.Short(a[0]))
	}
	for i := 1; i < len(a); i++ {
		if a[i] <= a[i-1] || a[i] >= 360 {
			return r.fail(n, "angle %s after %s: angles rise counter-clockwise from 0 and stay below 360", wording.Short(a[i]), wording.Short(a[i-1]))
		}
	}
	return nil
}

func (r *planReader) hole(n ast.Node, p *Plan, ids *names) error {
	var h Hole
	err := r.mapping(n, "holes", []field{
		{"id", ids.take(&h.ID, "a hole's id")},
		{"at", r.at(&h.At, 2, 2)},
		{"diameter", r.size(&h.Diameter, "diameter")},
		{"position", r.zone(&h.Position)},
	})
	if err != nil {
		return err
	}
	if err := r.needID(n, h.ID, "holes"); err != nil {
		return err
	}
	switch {
	case h.At == nil && h.Diameter == nil:
		return r.fail(n, "hole %s has neither at nor diameter: nothing tells it from the others", h.ID)
	case h.At == nil && h.Position > 0:
		return r.fail(n, "hole %s has a position zone but no at: add its place in the datum frame", h.ID)
	}
	p.Holes = append(p.Holes, h)
	return nil
}

func (r *planReader) plane(n ast.Node, p *Plan, ids *names) error {
	var pl Plane
	err := r.mapping(n, "planes", []field{
		{"id", ids.take(&pl.ID, "a plane's id")},
		{"at", r.at(&pl.At, 3, 3)},
		{"normal", func(n ast.Node) (err error) {
			if pl.Normal, err = r.numbers(n, "normal", 3, 3, 1); err != nil {
				return err
			}
			l := math.Sqrt(pl.Normal[0]*pl.Normal[0] + pl.Normal[1]*pl.Normal[1] + pl.Normal[2]*pl.Normal[2])
			if l == 0 {
				return r.fail(n, "normal is zero: give the direction out of the material, as in [0, 0, 1]")
			}
			for i := range pl.Normal {
				pl.Normal[i] /= l
			}
			return nil
		}},
		{"flatness", r.into(&pl.Flatness, r.mm, "flatness", r.positive)},
	})
	if err != nil {
		return err
	}
	p.Planes = append(p.Planes, pl)
	return r.needID(n, pl.ID, "planes")
}

func (r *planReader) cylinder(n ast.Node, p *Plan, ids *names) error {
	var c Cylinder
	err := r.mapping(n, "cylinders", []field{
		{"id", ids.take(&c.ID, "a cylinder's id")},
		{"side", func(n ast.Node) error {
			s, err := r.text(n, "side")
			if c.Side = report.Side(s); err == nil && c.Side != report.Internal && c.Side != report.External {
				err = r.fail(n, "side is %q, need internal (a bore) or external (a boss)", s)
			}
			return err
		}},
		{"at", r.at(&c.At, 2, 3)},
		{"diameter", r.size(&c.Diameter, "diameter")},
		{"perpendicular_to", func(n ast.Node) (err error) {
			c.PerpendicularTo, err = r.id(n, "perpendicular_to")
			ids.refs = append(ids.refs, reference{n, c.PerpendicularTo})
			return err
		}},
		{"perpendicularity", r.into(&c.Perpendicularity, r.mm, "perpendicularity", r.positive)},
		{"cylindricity", r.into(&c.Cylindricity, r.mm, "cylindricity", r.positive)},
	})
	if err != nil {
		return err
	}
	if err := r.needID(n, c.ID, "cylinders"); err != nil {
		return err
	}
	if c.Diameter == nil && c.At == nil {
		return r.fail(n, "cylinder %s has neither diameter nor at: nothing tells it from the others", c.ID)
	}
	p.Cylinders = append(p.Cylinders, c)
	return nil
}
