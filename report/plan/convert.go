package plan

import (
	"math"

	"github.com/golang/geo/r1"

	"spotface/mesh"
	"spotface/report"
	"spotface/report/budget"
	"spotface/report/wording"
)

// converter turns what the file says into a plan in millimetres. It keeps the first error.
type converter struct {
	unit mesh.Unit
	mm   float64 // millimetres in the unit
	err  error
}

func (c *converter) fault(err error) {
	if c.err == nil {
		c.err = err
	}
}

// length is a length, mm, which must be above zero where it is given.
func (c *converter) length(v *number) float64 {
	if v.fraction && c.unit != mesh.Inch {
		c.fault(fail(v.node, "%s is %s: a fraction is a size in inches, and the plan's unit is %s: write unit: in, or the decimal number", nameOf(v.node), v.node.GetToken().Value, c.unit))
	}
	x, err := v.above()
	c.fault(err)
	return x * c.mm
}

// plain is a number that is no length, above zero where it is given.
func (c *converter) plain(v *number) float64 {
	c.fault(v.plain())
	x, err := v.above()
	c.fault(err)
	return x
}

// signed is a number as it is, times scale.
func (c *converter) signed(v *number, scale float64) float64 {
	c.fault(v.plain())
	return v.value * scale
}

func (c *converter) band(b *band, scale float64) *r1.Interval {
	if b == nil {
		return nil
	}
	return &r1.Interval{Lo: b.lo * scale, Hi: b.hi * scale}
}

func (c *converter) size(s *fileSize, what string) *Size {
	if s == nil {
		return nil
	}
	if s.Nominal.node == nil {
		c.fault(&Error{Path: what, Message: "a size with a band has no nominal: add the size that the band is about"})
	}
	return &Size{Nominal: c.length(&s.Nominal), Band: c.band(s.Band, c.mm)}
}

func (c *converter) place(v *numbers, scale float64) []float64 {
	if v == nil {
		return nil
	}
	out := make([]float64, len(v.values))
	for i := range out {
		out[i] = v.values[i] * scale
	}
	return out
}

func (c *converter) zone(z *fileZone) Zone {
	if z == nil {
		return Zone{}
	}
	if z.Material.node != nil && z.Material.value != "mmc" {
		c.fault(fail(z.Material.node, "material is %q, need mmc, or leave it out", z.Material.value))
	}
	return Zone{Diameter: c.length(&z.Diameter), MMC: z.Material.value == "mmc", Within: c.length(&z.Within)}
}

// plan converts the file.
func (f *file) plan() (*Plan, error) {
	c := &converter{unit: mesh.Millimetre}
	if f.Unit.node != nil {
		c.unit = mesh.Unit(f.Unit.value)
	}
	if why := unitFault("unit", c.unit); why != "" {
		return nil, fail(f.Unit.node, "%s", why)
	}
	c.mm, _ = c.unit.Millimetres()
	p := &Plan{Part: f.Part.value, Unit: c.unit, ScanUnit: mesh.Unit(f.ScanUnit.value), Decision: report.Rule(f.Decision.value), Mates: bool(f.Mates)}
	for _, k := range []text{f.ScanUnit, f.Decision} {
		if k.node != nil && k.value == "" {
			c.fault(fail(k.node, "%s is empty: give it a value, or leave the key out", nameOf(k.node)))
		}
	}
	if g := f.Frame; g != nil {
		p.Frame = Frame{Face: g.Face.value, Axis: g.Axis.value, Clock: g.Clock.value}
	}
	if f.Scanner != nil {
		c.scanner(f.Scanner, &p.Scanner)
	}
	for i := range f.BoltCircles {
		p.BoltCircles = append(p.BoltCircles, c.circle(&f.BoltCircles[i], pathOf("bolt_circles", i)))
	}
	for i := range f.Holes {
		h, path := &f.Holes[i], pathOf("holes", i)
		p.Holes = append(p.Holes, Hole{ID: h.ID.value, At: c.place(h.At, c.mm), Diameter: c.size(h.Diameter, path+".diameter"), Position: c.zone(h.Position)})
	}
	for i := range f.Planes {
		h := &f.Planes[i]
		pl := Plane{ID: h.ID.value, At: c.place(h.At, c.mm), Normal: c.place(h.Normal, 1), Flatness: c.length(&h.Flatness)}
		if n := pl.Normal; len(n) == 3 {
			if l := math.Sqrt(n[0]*n[0] + n[1]*n[1] + n[2]*n[2]); l > 0 {
				pl.Normal = []float64{n[0] / l, n[1] / l, n[2] / l}
			}
		}
		p.Planes = append(p.Planes, pl)
	}
	for i := range f.Cylinders {
		h, path := &f.Cylinders[i], pathOf("cylinders", i)
		p.Cylinders = append(p.Cylinders, Cylinder{ID: h.ID.value, Side: report.Side(h.Side.value), At: c.place(h.At, c.mm),
			Diameter: c.size(h.Diameter, path+".diameter"), PerpendicularTo: h.PerpendicularTo.value,
			Perpendicularity: c.length(&h.Perpendicularity), Cylindricity: c.length(&h.Cylindricity)})
	}
	return p, c.err
}

// circle converts a bolt circle: count and spacing come to angles.
func (c *converter) circle(f *fileCircle, path string) Circle {
	out := Circle{ID: f.ID.value, PitchDiameter: c.size(f.PitchDiameter, path+".pitch_diameter"),
		HoleDiameter: c.size(f.HoleDiameter, path+".hole_diameter"), Position: c.zone(f.Position), At: c.place(f.At, c.mm)}
	var spacing number
	if s := f.Spacing; s != nil {
		spacing, out.SpacingBand = s.Nominal, c.band(s.Band, 1)
	}
	if f.Clocking != nil {
		out.ClockingBand = c.band(f.Clocking.Band, 1)
	}
	count := c.plain(&f.Count)
	switch {
	case f.Count.node != nil && (count != math.Trunc(count) || count < leastHoles || count > mostHoles):
		c.fault(fail(f.Count.node, "count is %s, need a whole number from %d to %d", wording.Short(count), leastHoles, mostHoles))
	case f.Angles == nil && f.Count.node == nil:
		c.fault(&Error{Path: path, Message: "bolt circle " + out.ID + " has neither count nor angles: add how many holes it has"})
	case f.Angles != nil && spacing.node != nil:
		c.fault(fail(spacing.node, "bolt circle %s has angles, which say the spacing already: leave the nominal spacing out", out.ID))
	case f.Angles != nil && f.Count.node != nil && int(count) != len(f.Angles.values):
		c.fault(fail(f.Count.node, "bolt circle %s has count %d but %d angles: leave count out, or mend one of them", out.ID, int(count), len(f.Angles.values)))
	case f.Angles != nil:
		out.Angles = f.Angles.values
	default:
		step := 360 / count
		if spacing.node != nil {
			step = c.plain(&spacing)
		}
		if step*count > 360+1e-6*count { // 51.428571 seven times is a ring, too
			c.fault(fail(spacing.node, "bolt circle %s: %d holes %s degrees apart need more than a whole turn", out.ID, int(count), wording.Short(step)))
		}
		if math.Abs(step*count-360) <= 1e-3*count {
			step = 360 / count // 51.4286 means a seventh
		}
		for i := range int(count) {
			out.Angles = append(out.Angles, float64(i)*step)
		}
	}
	return out
}

func (c *converter) scanner(f *fileScanner, s *Scanner) {
	s.Noise, s.CorrelationLength = c.signed(&f.Noise, c.mm), c.signed(&f.CorrelationLength, c.mm)
	s.Spacing = c.length(&f.Spacing)
	if l := f.Length; l != nil {
		// a + b L takes the place of the number that the other sources give.
		one := number{value: 1, node: l.A.node}
		if one.node == nil {
			one.node = l.B.node
		}
		sure := stated{Distribution: l.Distribution, K: l.K, Confidence: l.Confidence, DoF: l.DoF}
		switch {
		case l.K.node != nil || l.Confidence.node != nil && l.Distribution.node == nil:
			sure.Expanded = one
		case l.Distribution.node != nil:
			sure.HalfWidth = one
		default:
			sure.U = one
		}
		var u budget.Standard
		if one.node != nil {
			u = c.standard(&sure, "scanner.length", "scanner length")
		}
		s.Length = LengthError{A: c.signed(&l.A, c.mm*u.U), B: c.signed(&l.B, u.U), Distribution: u.Distribution, DoF: u.DoF}
		if b := l.B.value; b > mostLengthShare {
			c.fault(fail(l.B.node, "length b is %s, more than a tenth of any length: give it in mm a mm, as in 0.00004 for 40 micrometres a metre", wording.Short(b)))
		}
	}
	if k := f.Coating; k != nil {
		s.Coating = Coating{Thickness: c.signed(&k.Thickness, c.mm), StandardU: c.scaled(c.standard(&k.Sure, "scanner.coating", "coating"))}
	}
	if t := f.Temperature; t != nil {
		s.Temperature = c.temperature(t)
	}
	for i := range f.ReferenceLengths {
		s.ReferenceLengths = append(s.ReferenceLengths, c.reference(&f.ReferenceLengths[i], pathOf("scanner.reference_lengths", i)))
	}
}

// standard is a stated uncertainty in the numbers' own unit; scaled brings it to mm.
func (c *converter) standard(s *stated, path, what string) budget.Standard {
	u, err := s.standard(nil, what)
	if e, ok := err.(*Error); ok && e.Line == 0 {
		e.Path = path
	}
	if err != nil {
		c.fault(err)
	}
	return u
}

func (c *converter) scaled(u budget.Standard) budget.Standard {
	u.U *= c.mm
	return u
}

func (c *converter) temperature(f *fileTemperature) *Temperature {
	const path = "scanner.temperature"
	need := func(ok bool, why string) {
		if !ok {
			c.fault(&Error{Path: path, Message: "temperature has no " + why})
		}
	}
	e := &f.Expansion
	switch {
	case e.sure && f.ExpansionU.node != nil:
		c.fault(fail(f.ExpansionU.node, "temperature has expansion_u beside an expansion with its own uncertainty: leave one of them"))
	case f.Part.node == nil:
		need(false, "part: add the part's temperature while it was scanned, degrees C")
	case e.node == nil:
		need(false, "expansion: add the coefficient of the part's material, per kelvin, as in 11.5e-6 for steel")
	case !e.sure:
		need(f.ExpansionU.node != nil, "expansion_u: add the standard uncertainty of the expansion, per kelvin, as in 1e-6")
	}
	t := &Temperature{Part: c.signed(&f.Part, 1), Expansion: c.signed(&e.Value, 1), StandardU: c.standard(&f.Sure, path, "temperature")}
	if e.sure {
		t.ExpansionU = c.standard(&e.Sure, path+".expansion", "expansion")
	} else {
		t.ExpansionU = budget.Standard{U: c.signed(&f.ExpansionU, 1), Distribution: budget.Normal}
	}
	return t
}

func (c *converter) reference(f *fileReference, path string) ReferenceLength {
	l := ReferenceLength{Value: c.length(&f.Value), SetScale: bool(f.SetScale)}
	for _, k := range []struct {
		of   report.Characteristic
		list *names
	}{{report.Diameter, f.Diameter}, {report.PitchDiameter, f.PitchDiameter}, {report.Distance, f.Distance}} {
		switch {
		case k.list == nil:
		case l.Of != "":
			c.fault(fail(k.list.node, "a reference length has both %s and %s: give each length an entry of its own", l.Of, k.of))
		default:
			l.Of, l.Features = k.of, k.list.values
		}
	}
	switch {
	case l.Of == "":
		c.fault(&Error{Path: path, Message: "a reference length names no feature: add diameter: C1, pitch_diameter: B1, or distance: [H1, X1]"})
	case f.Value.node == nil:
		c.fault(&Error{Path: path, Message: "a reference length has no value: add the length that you read"})
	}
	l.StandardU = c.scaled(c.standard(&f.Sure, path, "reference length"))
	return l
}
