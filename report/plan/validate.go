package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/golang/geo/r1"

	"spotface/report"
	"spotface/report/budget"
	"spotface/report/wording"
)

// Validate returns an *Error where the plan cannot mean what it says: an id that is
// missing, given twice or names nothing, a band the wrong way round, a number that is not
// finite, an unknown unit or rule. A plan that was read from a file is valid; check.Check
// calls it for those that were built in Go.
func (p *Plan) Validate() error {
	if p == nil {
		return errors.New("plan: it is nil")
	}
	v := &validator{plan: p, mm: 1, ids: make(map[string]bool)}
	v.units()
	for i := range p.BoltCircles {
		v.circle(entry("bolt_circles", i), &p.BoltCircles[i])
	}
	for i := range p.Holes {
		v.hole(entry("holes", i), &p.Holes[i])
	}
	for i := range p.Planes {
		v.plane(entry("planes", i), &p.Planes[i])
	}
	for i := range p.Cylinders {
		v.cylinder(entry("cylinders", i), &p.Cylinders[i])
	}
	v.frame()
	v.scanner()
	if len(p.BoltCircles)+len(p.Holes)+len(p.Planes)+len(p.Cylinders) == 0 {
		v.fault("", "names no feature to judge: add bolt_circles, holes, planes or cylinders")
	}
	if v.err != nil { // a nil *Error is no nil error
		v.err.File = p.File
		return v.err
	}
	return nil
}

// entry is the path of an entry of a list.
func entry(list string, i int) string { return fmt.Sprintf("%s[%d]", list, i) }

// validator keeps the first error.
type validator struct {
	plan *Plan
	mm   float64 // millimetres in the plan's unit: messages have the file's numbers
	ids  map[string]bool
	err  *Error
}

func (v *validator) fault(path, format string, args ...any) {
	if v.err == nil {
		v.err = &Error{Path: path, Message: fmt.Sprintf(format, args...)}
	}
}

// rule is what must not be, where, and how to mend it.
type rule struct {
	broken      bool
	at, message string // at: the key below the path
}

// check faults the first rule that is broken.
func (v *validator) check(path string, rules []rule) {
	for _, r := range rules {
		if r.broken {
			v.fault(path+r.at, "%s", r.message)
		}
	}
}

func (v *validator) units() {
	p := v.plan
	if p.Unit != "" {
		if why := unitFault("unit", p.Unit); why != "" {
			v.fault("unit", "%s", why)
			return
		}
		v.mm, _ = p.Unit.Millimetres()
	}
	if why := unitFault("scan_unit", p.ScanUnit); p.ScanUnit != "" && why != "" {
		v.fault("scan_unit", "%s", why)
	}
	rules := []string{string(report.Guarded), string(report.SimpleAcceptance), string(report.GuardedRejection)}
	if p.Decision != "" && !slices.Contains(rules, string(p.Decision)) {
		v.fault("decision", "decision is %q, need one of %s", p.Decision, strings.Join(rules, ", "))
	}
}

// id refuses names that cannot be told apart.
func (v *validator) id(path, id, list string) {
	switch {
	case id == "":
		v.fault(path, "an entry of %s has no id: add one, as in \"id: X1\"", list)
	case strings.ContainsAny(id, "/ \t\n"):
		v.fault(path+".id", "the id is %q, need a short name without spaces or slashes, as in B1", id)
	case v.ids[id]:
		v.fault(path+".id", "the id %s stands twice: give each feature its own", id)
	}
	v.ids[id] = true
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// amount refuses what is not finite or below zero; what is the key's name.
func (v *validator) amount(path, what string, x, scale float64) {
	switch {
	case !finite(x):
		v.fault(path, "%s is %v, need a finite number", what, x)
	case x < 0:
		v.fault(path, "%s is %s, need zero or more", what, wording.Short(x/scale))
	}
}

func (v *validator) band(path, what string, b *r1.Interval, scale float64) {
	switch {
	case b == nil:
	case math.IsNaN(b.Lo) || math.IsNaN(b.Hi):
		v.fault(path, "the band of %s has a limit that is no number", what)
	case b.Lo > b.Hi || math.IsInf(b.Lo, 1) || math.IsInf(b.Hi, -1):
		v.fault(path, "the band of %s has its lower limit %s above its upper limit %s: swap them", what, wording.Short(b.Lo/scale), wording.Short(b.Hi/scale))
	case math.IsInf(b.Lo, -1) && math.IsInf(b.Hi, 1):
		v.fault(path, "the band of %s has no limit on either side: leave the band out", what)
	}
}

func (v *validator) size(path, what string, s *Size) {
	if s == nil {
		return
	}
	if s.Nominal == 0 {
		v.fault(path, "a size with a band has no nominal: add the size that the band is about")
	}
	if !finite(s.Nominal) || s.Nominal <= 0 {
		v.fault(path+".nominal", "%s nominal is %v, need a finite number above zero", what, s.Nominal/v.mm)
	}
	v.band(path+".band", what, s.Band, v.mm)
}

func (v *validator) numbers(path, what string, list []float64, low, high int) {
	if list == nil {
		return
	}
	if n := len(list); n < low || n > high {
		want := strconv.Itoa(low)
		if high != low {
			want = fmt.Sprintf("%d to %d", low, high)
		}
		v.fault(path, "%s has %s, need %s", what, wording.Things(n, "number"), want)
	}
	if i := slices.IndexFunc(list, func(x float64) bool { return !finite(x) }); i >= 0 {
		v.fault(path, "%s has %v in it, need finite numbers", what, list[i])
	}
}

// zone refuses a tolerance at maximum material condition without a smallest hole.
func (v *validator) zone(path string, z Zone, size *Size) {
	v.amount(path+".diameter", "position diameter", z.Diameter, v.mm)
	v.amount(path+".within", "position within", z.Within, v.mm)
	switch {
	case z.MMC && (!size.Judged() || math.IsInf(size.Band.Lo, -1)):
		v.fault(path+".material", "material mmc needs the smallest hole that is allowed: add a band with a lower limit to the hole's diameter")
	case z.Within > 0 && z.Diameter > 0 && z.Within > z.Diameter:
		v.fault(path+".within", "position within %s is more than the position diameter %s, which it refines", wording.Short(z.Within/v.mm), wording.Short(z.Diameter/v.mm))
	case z.MMC && z.Diameter == 0 && z.Within == 0:
		v.fault(path, "position has material but no diameter: add the zone's")
	}
}

func (v *validator) circle(path string, c *Circle) {
	v.id(path, c.ID, "bolt_circles")
	at := path + ".angles"
	if a := c.Angles; len(a) < leastHoles || len(a) > mostHoles {
		v.fault(at, "angles has %s, need %d to %d", wording.Things(len(a), "number"), leastHoles, mostHoles)
	} else if a[0] != 0 {
		v.fault(at, "angles start with %s, need 0: they count from the first hole", wording.Short(a[0]))
	} else {
		for i := 1; i < len(a); i++ {
			if !(a[i] > a[i-1] && a[i] < 360) {
				v.fault(at, "angle %s after %s: angles rise counter-clockwise from 0 and stay below 360", wording.Short(a[i]), wording.Short(a[i-1]))
			}
		}
	}
	v.size(path+".pitch_diameter", "pitch_diameter", c.PitchDiameter)
	v.size(path+".hole_diameter", "hole_diameter", c.HoleDiameter)
	v.band(path+".spacing.band", "spacing", c.SpacingBand, 1)
	v.band(path+".clocking.band", "clocking", c.ClockingBand, 1)
	v.zone(path+".position", c.Position, c.HoleDiameter)
	v.numbers(path+".at", "at", c.At, 2, 2)
}

func (v *validator) hole(path string, h *Hole) {
	v.id(path, h.ID, "holes")
	switch {
	case h.At == nil && h.Diameter == nil:
		v.fault(path, "hole %s has neither at nor diameter: nothing tells it from the others", h.ID)
	case h.At == nil && h.Position.Diameter > 0:
		v.fault(path, "hole %s has a position zone but no at: add its place in the datum frame", h.ID)
	}
	v.numbers(path+".at", "at", h.At, 2, 2)
	v.size(path+".diameter", "diameter", h.Diameter)
	v.zone(path+".position", h.Position, h.Diameter)
	if h.Position.Within > 0 {
		v.fault(path+".position.within", "position within is of the holes of a bolt circle: leave it out of a single hole")
	}
}

func (v *validator) plane(path string, p *Plane) {
	v.id(path, p.ID, "planes")
	v.numbers(path+".at", "at", p.At, 3, 3)
	v.numbers(path+".normal", "normal", p.Normal, 3, 3)
	if p.Normal != nil && !slices.ContainsFunc(p.Normal, func(x float64) bool { return x != 0 }) {
		v.fault(path+".normal", "normal is zero: give the direction out of the material, as in [0, 0, 1]")
	}
	v.amount(path+".flatness", "flatness", p.Flatness, v.mm)
}

func (v *validator) cylinder(path string, c *Cylinder) {
	v.id(path, c.ID, "cylinders")
	if c.Side != "" && c.Side != report.Internal && c.Side != report.External {
		v.fault(path+".side", "side is %q, need internal (a bore) or external (a boss)", c.Side)
	}
	if c.Diameter == nil && c.At == nil {
		v.fault(path, "cylinder %s has neither diameter nor at: nothing tells it from the others", c.ID)
	}
	v.numbers(path+".at", "at", c.At, 2, 3)
	v.size(path+".diameter", "diameter", c.Diameter)
	v.amount(path+".perpendicularity", "perpendicularity", c.Perpendicularity, v.mm)
	v.amount(path+".cylindricity", "cylindricity", c.Cylindricity, v.mm)
	if to := c.PerpendicularTo; to != "" && to != v.plan.Frame.Face {
		if kind, _ := v.plan.kindOf(to); kind != "plane" {
			v.fault(path+".perpendicular_to", "perpendicular_to is %s, which is no plane of this plan: add it under planes", to)
		}
	}
}

// frame refuses ids that name nothing. The face alone may be named without being judged: it
// is that of the bolt circle, which the plan then need not list under planes.
func (v *validator) frame() {
	f := &v.plan.Frame
	if f.Axis != "" {
		if kind, _ := v.plan.kindOf(f.Axis); kind == "" || kind == "plane" {
			v.fault("frame.axis", "the frame's axis is %s, which is no cylinder, bolt circle or hole of this plan: add it, or name one of them", f.Axis)
		}
	}
	if len(v.plan.Planes) > 0 && f.Face != "" {
		if kind, _ := v.plan.kindOf(f.Face); kind != "plane" {
			v.fault("frame.face", "the frame's face is %s, which is no plane of this plan: add it, or name one of them", f.Face)
		}
	}
	if f.Clock != "" {
		if _, _, err := v.plan.ClockedBy(); err != nil {
			v.fault("frame.clock", "%s", err)
		}
	}
}

// ClockedBy says which hole the frame's clock names: the place of a bolt circle, both
// counted from 0, or with circle -1 the entry of Holes. Without a clock it is the first
// place of the circle with most holes; circle and at are -1 where there is no circle.
func (p *Plan) ClockedBy() (circle, at int, err error) {
	clock := p.Frame.Clock
	for i := range p.Holes {
		if p.Holes[i].ID == clock && clock != "" {
			return -1, i, nil
		}
	}
	circle, at = -1, -1
	for i := range p.BoltCircles {
		if circle < 0 || len(p.BoltCircles[i].Angles) > len(p.BoltCircles[circle].Angles) {
			circle, at = i, 0
		}
	}
	if clock == "" {
		return circle, at, nil
	}
	place := clock
	if id, rest, ok := strings.Cut(clock, "/"); ok {
		circle = slices.IndexFunc(p.BoltCircles, func(c Circle) bool { return c.ID == id })
		place = rest
	}
	if circle < 0 {
		return 0, 0, fmt.Errorf("the frame's clock is %s, which is no hole of this plan: name one of holes, or of a bolt circle as in B1/1", clock)
	}
	c := &p.BoltCircles[circle]
	n, err := strconv.Atoi(strings.TrimPrefix(place, "H"))
	if err != nil || n < 1 || n > len(c.Angles) {
		return 0, 0, fmt.Errorf("the frame's clock is %s, which is no hole of this plan: circle %s has H1 to H%d, counted from its first hole, and there is none of that name under holes",
			clock, c.ID, len(c.Angles))
	}
	return circle, n - 1, nil
}

func (v *validator) scanner() {
	s := &v.plan.Scanner
	const path = "scanner."
	v.amount(path+"noise", "scanner noise", s.Noise, v.mm)
	v.amount(path+"correlation_length", "scanner correlation_length", s.CorrelationLength, v.mm)
	v.amount(path+"spacing", "scanner spacing", s.Spacing, v.mm)
	v.amount(path+"length.a", "length a", s.Length.A, v.mm)
	v.amount(path+"length.b", "length b", s.Length.B, 1)
	if s.Length.B > mostLengthShare {
		v.fault(path+"length.b", "length b is %s, more than a tenth of any length: give it in mm a mm", wording.Short(s.Length.B))
	}
	v.amount(path+"coating.thickness", "coating thickness", s.Coating.Thickness, v.mm)
	v.standard(path+"coating", "coating", s.Coating.StandardU)
	if t := s.Temperature; t != nil {
		if !(t.Part >= coldest && t.Part <= hottest) {
			v.fault(path+"temperature.part", "temperature part is %s degrees C, need %d to %d: the part's own while it was scanned", wording.Short(t.Part), coldest, hottest)
		}
		if !(math.Abs(t.Expansion) <= mostExpansion) {
			v.fault(path+"temperature.expansion", "expansion is %v, need it per kelvin, as in 11.5e-6 for steel", t.Expansion)
		}
		v.standard(path+"temperature", "temperature", t.StandardU)
		v.standard(path+"temperature.expansion", "expansion", t.ExpansionU)
	}
	for i := range s.ReferenceLengths {
		v.reference(entry("scanner.reference_lengths", i), &s.ReferenceLengths[i])
	}
}

func (v *validator) standard(path, what string, u budget.Standard) {
	v.amount(path, "the standard uncertainty of "+what, u.U, 1)
	v.amount(path+".dof", "dof of "+what, u.DoF, 1)
}

// reference refuses lengths of features that the plan does not have, or that have no such
// length.
func (v *validator) reference(path string, l *ReferenceLength) {
	of := path + "." + string(l.Of)
	want := 1
	if l.Of == report.Distance {
		want = 2
	} else if l.Of != report.Diameter && l.Of != report.PitchDiameter {
		v.fault(path, "a reference length is of a %q, need diameter, pitch_diameter or distance", l.Of)
		return
	}
	if len(l.Features) != want {
		v.fault(of, "%s names %s, need %s", l.Of, wording.Things(len(l.Features), "feature"), map[int]string{1: "one, as in C1", 2: "two, as in [P1, P2]"}[want])
		return
	}
	kinds := make([]string, want)
	for i, f := range l.Features {
		kind, why := v.plan.kindOf(f)
		if why != "" {
			v.fault(of, "%s of %s: %s", l.Of, f, why)
			return
		}
		kinds[i] = kind
	}
	round := func(kind string) bool { return kind == "hole" || kind == "cylinder" }
	f := l.Features
	switch {
	case l.Of == report.Diameter && !round(kinds[0]):
		v.fault(of, "diameter of %s, which is a %s: name a hole or a cylinder", f[0], kinds[0])
	case l.Of == report.PitchDiameter && kinds[0] != "bolt circle":
		v.fault(of, "pitch_diameter of %s, which is a %s: name a bolt circle", f[0], kinds[0])
	case want == 2 && f[0] == f[1]:
		v.fault(of, "the distance of %s from itself: name two features", f[0])
	case want == 2 && !(kinds[0] == "plane" && kinds[1] == "plane" || round(kinds[0]) && round(kinds[1])):
		v.fault(of, "distance of %s, a %s, from %s, a %s: name two planes, or two of holes and cylinders", f[0], kinds[0], f[1], kinds[1])
	}
	if !finite(l.Value) || l.Value <= 0 {
		v.fault(path+".value", "a reference length is %v, need a finite length above zero", l.Value/v.mm)
	}
	v.standard(path, "a reference length", l.StandardU)
	if !(l.StandardU.U > 0) {
		v.fault(path, "a reference length has no uncertainty: no gauge reads exactly, give it as u, half_width or expanded")
	}
}

// kindOf says what the feature of an id is, or why there is none.
func (p *Plan) kindOf(id string) (kind, why string) {
	circle, place, inCircle := strings.Cut(id, "/")
	for i := range p.BoltCircles {
		c := &p.BoltCircles[i]
		switch {
		case c.ID != circle:
		case !inCircle:
			return "bolt circle", ""
		default:
			if at, err := strconv.Atoi(place); err != nil || at < 1 || at > len(c.Angles) {
				return "", fmt.Sprintf("circle %s has places 1 to %d, counted from its first hole, as in %s/1", circle, len(c.Angles), circle)
			}
			return "hole", ""
		}
	}
	switch {
	case slices.ContainsFunc(p.Holes, func(h Hole) bool { return h.ID == id }):
		return "hole", ""
	case slices.ContainsFunc(p.Cylinders, func(c Cylinder) bool { return c.ID == id }):
		return "cylinder", ""
	case slices.ContainsFunc(p.Planes, func(pl Plane) bool { return pl.ID == id }):
		return "plane", ""
	}
	return "", "no such feature in this plan; a hole of a circle is named by its place, as in B1/1"
}
