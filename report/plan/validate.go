package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/golang/geo/r1"
	"gonum.org/v1/gonum/floats"

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
	features := p.Features()
	for i := range features {
		v.feature(&features[i])
	}
	for i := range p.BoltCircles {
		v.circle(entry("bolt_circles", i), &p.BoltCircles[i])
	}
	v.band("surface.band", "surface", p.Surface.Band, v.mm)
	if b := p.Surface.Band; b != nil {
		v.fault(!finite(b.Lo) || !finite(b.Hi) || b.Lo > 0 || b.Hi < 0 || b.Lo == b.Hi, "surface.band",
			"the band of surface needs a limit on each side of zero, as in [-0.2, 0.2]: they are deviations")
	}
	v.frame()
	v.scanner()
	v.fault(len(features) == 0, "",
		"names no feature to judge: add bolt_circles, holes, planes or cylinders")
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

// fault says where something is broken what is wrong with it, and how to mend it.
func (v *validator) fault(broken bool, path, format string, args ...any) {
	if broken && v.err == nil {
		v.err = &Error{Path: path, Message: fmt.Sprintf(format, args...)}
	}
}

func (v *validator) units() {
	p := v.plan
	if p.Unit != "" {
		why := unitFault("unit", p.Unit)
		if v.fault(why != "", "unit", "%s", why); why != "" {
			return
		}
		v.mm, _ = p.Unit.Millimetres()
	}
	why := unitFault("scan_unit", p.ScanUnit)
	v.fault(p.ScanUnit != "" && why != "", "scan_unit", "%s", why)
	rules := []string{string(report.Guarded), string(report.SimpleAcceptance),
		string(report.GuardedRejection)}
	v.fault(p.Decision != "" && !slices.Contains(rules, string(p.Decision)), "decision",
		"decision is %q, need one of %s", p.Decision, strings.Join(rules, ", "))
}

// feature refuses names that are missing or given twice, sizes, places and tolerances that are
// none, and what nothing would tell from the others.
func (v *validator) feature(f *Feature) {
	list, _, _ := strings.Cut(f.Path, "[")
	id, to, key := f.Path+".id", f.PerpendicularTo, string(f.FormKey)
	v.fault(f.ID == "", f.Path, "an entry of %s has no id: add one, as in \"id: X1\"", list)
	v.fault(strings.ContainsAny(f.ID, "/ \t\n"), id,
		"the id is %q, need a short name without spaces or slashes, as in B1", f.ID)
	v.fault(v.ids[f.ID], id, "the id %s is given twice: give each feature its own", f.ID)
	v.ids[f.ID] = true
	v.size(f.Path+".pitch_diameter", "pitch_diameter", f.Pitch)
	v.size(f.Path+"."+f.SizeKey, f.SizeKey, f.Size)
	least := map[string]int{"plane": 3}[f.Kind]
	most := map[string]int{"plane": 3, "cylinder": 3}[f.Kind]
	v.numbers(f.Path+".at", "at", f.At, max(least, 2), max(most, 2))
	v.numbers(f.Path+".normal", "normal", f.Normal, 3, 3)
	v.fault(f.Normal != nil && floats.Norm(f.Normal, 2) == 0, f.Path+".normal",
		"normal is zero: give the direction out of the material, as in [0, 0, 1]")
	v.fault(!slices.Contains([]report.Side{"", report.Internal, report.External}, f.Side),
		f.Path+".side", "side is %q, need internal (a bore) or external (a boss)", f.Side)
	v.fault(slices.Contains([]string{"hole", "cylinder"}, f.Kind) && f.At == nil && f.Size == nil,
		f.Path, "%s %s has neither at nor diameter: nothing tells it from the others", f.Kind, f.ID)
	v.fault(f.Kind == "hole" && f.At == nil && f.Position.Diameter > 0, f.Path,
		"hole %s has a position zone but no at: add its place in the datum frame", f.ID)
	v.fault(f.Kind == "hole" && f.Position.Within > 0, f.Path+".position.within",
		"position within is of the holes of a bolt circle: leave it out of a single hole")
	v.zone(f.Path+".position", f.Position, f.Size)
	v.fault(to != "" && to != v.plan.Frame.Face && v.kind(to) != "plane",
		f.Path+".perpendicular_to",
		"perpendicular_to is %s, which is no plane of this plan: add it under planes", to)
	v.amount(f.Path+".perpendicularity", "perpendicularity", f.Perpendicularity, v.mm)
	v.amount(f.Path+"."+key, key, f.Form, v.mm)
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// amount refuses what is not finite or below zero; what is the key's name.
func (v *validator) amount(path, what string, x, scale float64) {
	v.fault(!finite(x), path, "%s is %v, need a finite number", what, x)
	v.fault(x < 0, path, "%s is %s, need zero or more", what, wording.Short(x/scale))
}

func (v *validator) band(path, what string, b *r1.Interval, scale float64) {
	if b == nil {
		return
	}
	v.fault(math.IsNaN(b.Lo) || math.IsNaN(b.Hi), path,
		"the band of %s has a limit that is no number", what)
	v.fault(b.Lo > b.Hi || math.IsInf(b.Lo, 1) || math.IsInf(b.Hi, -1), path,
		"the band of %s has its lower limit %s above its upper limit %s: swap them", what,
		wording.Short(b.Lo/scale), wording.Short(b.Hi/scale))
	v.fault(math.IsInf(b.Lo, -1) && math.IsInf(b.Hi, 1), path,
		"the band of %s has no limit on either side: leave the band out", what)
}

func (v *validator) size(path, what string, s *Size) {
	if s == nil {
		return
	}
	v.fault(s.Nominal == 0, path,
		"a size with a band has no nominal: add the size that the band is about")
	v.fault(!finite(s.Nominal) || s.Nominal < 0, path+".nominal",
		"%s nominal is %v, need a finite number above zero", what, s.Nominal/v.mm)
	v.band(path+".band", what, s.Band, v.mm)
	if b := s.Band; b != nil {
		v.fault(b.Lo > 0 && b.Contains(s.Nominal), path+".band", "the band of %s holds the "+
			"nominal itself: give what is allowed above and below it, [%s, %s]", what,
			wording.Signed((b.Lo-s.Nominal)/v.mm, 3), wording.Signed((b.Hi-s.Nominal)/v.mm, 3))
	}
}

func (v *validator) numbers(path, what string, list []float64, low, high int) {
	if list == nil {
		return
	}
	want := strconv.Itoa(low)
	if high != low {
		want += fmt.Sprintf(" to %d", high)
	}
	n := len(list)
	v.fault(n < low || n > high, path, "%s has %s, need %s", what, wording.Things(n, "number"), want)
	for _, x := range list {
		v.fault(!finite(x), path, "%s has %v in it, need finite numbers", what, x)
	}
}

// zone refuses a tolerance at maximum material condition without a smallest hole.
func (v *validator) zone(path string, z Zone, size *Size) {
	v.amount(path+".diameter", "position diameter", z.Diameter, v.mm)
	v.amount(path+".within", "position within", z.Within, v.mm)
	v.fault(z.MMC && (!size.Judged() || math.IsInf(size.Band.Lo, -1)), path+".material",
		"material mmc needs the smallest hole that is allowed: add a band with a lower limit to "+
			"the hole's diameter")
	v.fault(z.Within > 0 && z.Diameter > 0 && z.Within > z.Diameter, path+".within",
		"position within %s is more than the position diameter %s, which it refines",
		wording.Short(z.Within/v.mm), wording.Short(z.Diameter/v.mm))
	v.fault(z.MMC && z.Diameter == 0 && z.Within == 0, path,
		"position has material but no diameter: add the zone's")
}

func (v *validator) circle(path string, c *Circle) {
	at := path + ".angles"
	n := len(c.Angles)
	v.fault(n < leastHoles || n > mostHoles, at, "angles has %s, need %d to %d",
		wording.Things(n, "number"), leastHoles, mostHoles)
	for i, a := range c.Angles {
		v.fault(i == 0 && a != 0, at, "angles start with %s, need 0: they count from the first "+
			"hole", wording.Short(a))
		before := c.Angles[max(i-1, 0)]
		v.fault(i > 0 && !(a > before && a < 360), at, "angle %s after %s: angles rise "+
			"counter-clockwise from 0 and stay below 360", wording.Short(a), wording.Short(before))
	}
	v.band(path+".spacing.band", "spacing", c.SpacingBand, 1)
	v.band(path+".clocking.band", "clocking", c.ClockingBand, 1)
}

// frame refuses ids that name nothing. The face alone may be named without being judged: it
// is that of the bolt circle, which the plan then need not list under planes.
func (v *validator) frame() {
	f := &v.plan.Frame
	axis := v.kind(f.Axis)
	v.fault(f.Axis != "" && (axis == "" || axis == "plane"), "frame.axis", "the frame's axis is "+
		"%s, which is no cylinder, bolt circle or hole of this plan: add it, or name one of them",
		f.Axis)
	v.fault(len(v.plan.Planes) > 0 && f.Face != "" && v.kind(f.Face) != "plane", "frame.face",
		"the frame's face is %s, which is no plane of this plan: add it, or name one of them",
		f.Face)
	_, _, err := v.plan.ClockedBy()
	v.fault(err != nil && f.Clock != "", "frame.clock", "%v", err)
}

// kind says what the feature of an id is, empty for none.
func (v *validator) kind(id string) string {
	kind, _ := v.plan.kindOf(id)
	return kind
}

// place finds the hole of a bolt circle that "B1/2" names, both counted from 0; circle is -1
// where there is no such circle, at where it has no such place.
func (p *Plan) place(name string) (circle, at int) {
	id, place, _ := strings.Cut(name, "/")
	circle = slices.IndexFunc(p.BoltCircles, func(c Circle) bool { return c.ID == id })
	if n, err := strconv.Atoi(place); circle >= 0 && err == nil && n >= 1 &&
		n <= len(p.BoltCircles[circle].Angles) {
		return circle, n - 1
	}
	return circle, -1
}

// MainCircle is the number of the bolt circle with most holes, the first of equals, of those
// that are in, nil for all; -1 where there is none.
func (p *Plan) MainCircle(in func(i int) bool) int {
	best := -1
	for i, c := range p.BoltCircles {
		if (in == nil || in(i)) && (best < 0 || len(c.Angles) > len(p.BoltCircles[best].Angles)) {
			best = i
		}
	}
	return best
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
	circle = p.MainCircle(nil)
	if clock == "" {
		return circle, min(circle, 0), nil
	}
	name := strings.Replace(clock, "/H", "/", 1)
	if !strings.Contains(clock, "/") && circle >= 0 {
		name = p.BoltCircles[circle].ID + "/" + strings.TrimPrefix(clock, "H")
	}
	if circle, at = p.place(name); circle < 0 {
		return 0, 0, fmt.Errorf("the frame's clock is %s, which is no hole of this plan: name one "+
			"of holes, or of a bolt circle as in B1/1", clock)
	} else if at < 0 {
		c := &p.BoltCircles[circle]
		return 0, 0, fmt.Errorf("the frame's clock is %s, which is no hole of this plan: circle "+
			"%s has H1 to H%d, counted from its first hole, and there is none of that name under "+
			"holes", clock, c.ID, len(c.Angles))
	}
	return circle, at, nil
}

func (v *validator) scanner() {
	s := &v.plan.Scanner
	const path = "scanner."
	v.amount(path+"noise", "scanner noise", s.Noise, v.mm)
	v.amount(path+"correlation_length", "scanner correlation_length", s.CorrelationLength, v.mm)
	v.amount(path+"spacing", "scanner spacing", s.Spacing, v.mm)
	v.amount(path+"length.a", "length a", s.Length.A, v.mm)
	v.amount(path+"length.b", "length b", s.Length.B, 1)
	v.fault(s.Length.B > mostLengthShare, path+"length.b", "length b is %s, more than a tenth of "+
		"any length: give it in mm a mm", wording.Short(s.Length.B))
	v.amount(path+"coating.thickness", "coating thickness", s.Coating.Thickness, v.mm)
	v.standard(path+"coating", "coating", s.Coating.StandardU)
	if t := s.Temperature; t != nil {
		v.fault(!(t.Part >= coldest && t.Part <= hottest), path+"temperature.part",
			"temperature part is %s degrees C, need %d to %d: the part's own while it was scanned",
			wording.Short(t.Part), coldest, hottest)
		v.fault(!(math.Abs(t.Expansion) <= mostExpansion), path+"temperature.expansion",
			"expansion is %v, need it per kelvin, as in 11.5e-6 for steel", t.Expansion)
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
	of, f := path+"."+string(l.Of), l.Features
	want := map[report.Characteristic]int{report.Diameter: 1, report.PitchDiameter: 1,
		report.Distance: 2}[l.Of]
	v.fault(want == 0, path, "a reference length is of a %q, need diameter, pitch_diameter or "+
		"distance", l.Of)
	v.fault(len(f) != want, of, "%s names %s, need %s", l.Of, wording.Things(len(f), "feature"),
		[]string{"", "one, as in C1", "two, as in [P1, P2]"}[want])
	what := string(l.Of) + " of "
	round, flat, circles := true, true, true
	for i, id := range f {
		kind, why := v.plan.kindOf(id)
		v.fault(why != "", of, "%s of %s: %s", l.Of, id, why)
		what += []string{"", ", from "}[min(i, 1)] + id + ", which is a " + kind
		round = round && (kind == "hole" || kind == "cylinder")
		flat, circles = flat && kind == "plane", circles && kind == "bolt circle"
	}
	v.fault(l.Of == report.Diameter && !round, of, "%s: name a hole or a cylinder", what)
	v.fault(l.Of == report.PitchDiameter && !circles, of, "%s: name a bolt circle", what)
	v.fault(l.Of == report.Distance && slices.Equal(f[:len(f)/2], f[len(f)/2:]), of,
		"the distance of %s from itself: name two features", strings.Join(f[:len(f)/2], " "))
	v.fault(l.Of == report.Distance && !round && !flat, of,
		"%s: name two planes, or two of holes and cylinders", what)
	v.fault(!finite(l.Value) || l.Value <= 0, path+".value",
		"a reference length is %v, need a finite length above zero", l.Value/v.mm)
	v.standard(path, "a reference length", l.StandardU)
	v.fault(!(l.StandardU.U > 0), path, "a reference length has no uncertainty: no gauge reads "+
		"exactly, give it as u, half_width or expanded")
}

// kindOf says what the feature of an id is, or why there is none.
func (p *Plan) kindOf(id string) (kind, why string) {
	circle, at := p.place(id)
	switch {
	case circle >= 0 && !strings.Contains(id, "/"):
		return "bolt circle", ""
	case circle >= 0 && at < 0:
		name := p.BoltCircles[circle].ID
		return "", fmt.Sprintf("circle %s has places 1 to %d, counted from its first hole, as in "+
			"%s/1",
			name, len(p.BoltCircles[circle].Angles), name)
	case circle >= 0:
		return "hole", ""
	}
	for _, f := range p.Features() {
		if f.ID == id {
			return f.Kind, ""
		}
	}
	return "", "no such feature in this plan; a hole of a circle is named by its place, as in B1/1"
}
