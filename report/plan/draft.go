package plan

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"spotface/bolt/sizes"
	"spotface/report"
	"spotface/report/wording"
)

// ErrNothing says that a report shows no face, hole or cylinder that a
// plan could be drafted from.
var ErrNothing = errors.New("plan: the scan shows nothing that a plan could hold: no bolt circle, hole, bore or face")

// WriteDraft writes a plan drafted from a measured report: YAML for a person to
// edit. Nominal sizes are what was probably meant, with the measured ones beside
// them; every band is a placeholder (lengths: ISO 2768-1, medium) and
// says so. Features beside the pattern carry their place in the datum frame. What
// need not be judged stands there as a comment.
func WriteDraft(w io.Writer, rep *report.Report) error {
	if err := rep.Finite(); err != nil {
		return err
	}
	if err := rep.UnitInDoubt(); err != nil {
		return fmt.Errorf("plan: %w", err)
	}
	d := &draft{rep: rep, used: make(map[string]bool), live: make(map[string]bool)}
	d.circles()
	d.holes()
	d.cylinders()
	d.planes()
	if len(d.live) == 0 {
		return ErrNothing
	}
	body := d.b.String()
	d.b.Reset()
	d.head() // names what stands below
	_, err := io.WriteString(w, d.b.String()+body)
	return err
}

// mostLines is how many lines a block of the draft has at most.
const mostLines = 24

type draft struct {
	rep  *report.Report
	b    strings.Builder
	used map[string]bool // scan ids that the plan holds already, as holes or their walls
	live map[string]bool // ids that the plan has
}

func (d *draft) line(format string, args ...any) { fmt.Fprintf(&d.b, format+"\n", args...) }

func (d *draft) head() {
	name := d.rep.Scan.File
	if name == "" {
		name = "a scan"
	}
	d.line("# Plan drafted from %s. Edit it before you judge by it:", strconv.Quote(name))
	d.line("# - nominal sizes are guesses of what the maker meant, the measured ones stand beside them;")
	d.line("# - bands are placeholders (lengths: general tolerances, ISO 2768-1 medium; angles: 0.25 degrees):")
	d.line("#   put in what your joint needs. A band is [lower, upper] deviation, measured less nominal.")
	d.line("# - delete what need not be judged; what stands here and is not in a scan is missing there.")
	d.line("# A scan approves nothing: local codes and licensed practice decide.")
	d.line("part: %s", strconv.Quote(strings.TrimSuffix(name, ext(name))))
	d.line("unit: mm                  # of the lengths in this plan; angles are degrees")
	switch u := d.rep.Scan; u.UnitSource {
	case "given":
		d.line("scan_unit: %-14s # of the numbers in the scan's file", u.Unit)
	case "assumed":
		d.line("# scan_unit: %-12s # ASSUMED, since the scan's file states none: take the # away once you know", u.Unit)
	}
	if f := d.rep.Frame; f != nil {
		var parts []string
		if f.Face != "" {
			parts = append(parts, "face: "+f.Face)
		}
		// A bore with a draft is a cone, which a plan does not judge.
		if d.live[f.Axis] {
			parts = append(parts, "axis: "+f.Axis)
		}
		if clock := d.clock(f.Clock); clock != "" {
			parts = append(parts, "clock: "+clock)
		}
		d.line("frame: {%s}  # Z out of the face, origin on the axis, X through the clocking hole", strings.Join(parts, ", "))
	}
	d.line("# scanner: {length: {a: 0.02, b: 0.00004}, coating: {thickness: 0.008, u: 0.004}}")
	d.line("#   what the scan cannot show of itself: standard uncertainty a + b L of a length L; a coat")
	d.line("#   also, in it: temperature: {part: 24, u: 1, expansion: 11.5e-6, expansion_u: 1e-6}")
	d.line("#   and lengths taken by hand: reference_lengths: [{diameter: C1, value: 40.02, half_width: 0.02, distribution: rectangular, set_scale: false}]")
}

// clock names the frame's clocking hole as a plan does: by its place in a circle, or by its
// id among the single holes; empty where the draft has neither.
func (d *draft) clock(id string) string {
	if d.live[id] {
		return id
	}
	main := d.rep.MainCircle()
	if main == nil {
		return ""
	}
	at := slices.IndexFunc(main.Clocking, func(k report.Clocking) bool { return k.Hole == id })
	if at < 0 {
		return ""
	}
	largest := !slices.ContainsFunc(d.rep.BoltCircles, func(c report.BoltCircle) bool { return len(c.Clocking) > len(main.Clocking) })
	if place := fmt.Sprintf("H%d", at+1); largest && !d.live[place] {
		return place
	}
	return fmt.Sprintf("%s/%d", main.ID, at+1)
}

func ext(name string) string {
	if i := strings.LastIndexByte(name, '.'); i > 0 {
		return name[i:]
	}
	return ""
}

// size is "{nominal: 84, band: [-0.3, 0.3]}" with the measured size behind it.
func (d *draft) size(kind sizes.Kind, measured, expanded float64) (text, comment string) {
	n, meant := probableSize(kind, measured, expanded)
	t := wording.Short(decidable(generalTolerance(n), expanded))
	k := wording.Decimals(expanded)
	return fmt.Sprintf("{nominal: %s, band: [-%s, %s]}", wording.Short(n), t, t),
		"measured " + wording.Fixed(measured, k) + wording.PlusMinus(expanded, k) + meant
}

func (d *draft) circles() {
	if len(d.rep.BoltCircles) == 0 {
		return
	}
	d.line("bolt_circles:")
	// The circle that clocks the frame first: a plan takes the first.
	circles := slices.Clone(d.rep.BoltCircles)
	main := d.rep.MainCircle().ID
	slices.SortStableFunc(circles, func(a, b report.BoltCircle) int {
		switch {
		case a.ID == main && b.ID != main:
			return -1
		case b.ID == main && a.ID != main:
			return 1
		}
		return 0
	})
	for i := range circles {
		d.circle(&circles[i], circles[i].ID == main)
	}
}

func (d *draft) circle(c *report.BoltCircle, main bool) {
	d.live[c.ID] = true
	d.line("  - id: %s", c.ID)
	u := 0.0
	for _, k := range c.Clocking {
		u = max(u, k.UncertaintyDeg)
	}
	for _, k := range c.Spacing {
		u = max(u, k.UncertaintyDeg)
	}
	angle := wording.Short(decidable(angleBand, u))
	n := c.Nominal
	switch {
	case n != nil && len(n.Missing) == 0:
		d.line("    count: %d", len(c.Clocking))
		d.line("    spacing: {nominal: %s, band: [-%s, %s]}  # degrees, hole to hole", exactAngle(n.SpacingDeg), angle, angle)
	default:
		var angles []string
		for _, k := range c.Clocking {
			if k.NominalDeg != nil {
				angles = append(angles, exactAngle(*k.NominalDeg))
			} else {
				angles = append(angles, wording.Fixed(k.AngleDeg, 2))
			}
		}
		why := "a regular pattern with places empty"
		if n == nil {
			why = "no regular pattern: these are the measured angles"
		}
		d.line("    angles: [%s]  # degrees from the clocking hole; %s", strings.Join(angles, ", "), why)
		d.line("    spacing: {band: [-%s, %s]}  # degrees, hole to hole", angle, angle)
	}
	size, was := d.size(sizes.PitchDiameter, c.PitchDiameter, c.Uncertainty.PitchDiameter)
	d.line("    pitch_diameter: %s  # %s", size, was)
	d.holeDiameter(c)
	d.line("    clocking: {band: [-%s, %s]}  # degrees, each hole from the pattern turned to its best fit", angle, angle)
	d.line("    # position: {diameter: 0.3}  # true position of each hole about the axis")
	if f := d.rep.Frame; f != nil && !main {
		d.line("    at: %s  # its centre in the datum frame", d.place(c.Centre, 2))
	}
	for _, k := range c.Clocking {
		d.use(k.Hole)
	}
}

// angleBand is the placeholder band of an angle, degrees: an assumption, no source.
const angleBand = 0.25

// decidable is a placeholder band, wide enough that a scan of this uncertainty can decide
// it: twice the expanded uncertainty, rounded up to a twentieth.
func decidable(band, expanded float64) float64 {
	return max(band, math.Ceil(2*expanded*20-1e-9)/20)
}

// use marks a hole, and its wall, as held by the plan.
func (d *draft) use(id string) {
	d.used[id] = true
	if h := d.rep.Hole(id); h != nil && h.Wall != "" {
		d.used[h.Wall] = true
	}
}

func (d *draft) holeDiameter(c *report.BoltCircle) {
	sum, u, n := 0.0, 0.0, 0
	least, most := math.Inf(1), 0.0
	for _, k := range c.Clocking {
		if h := d.rep.Hole(k.Hole); h != nil && h.Diameter > 0 {
			sum, u, n = sum+h.Diameter, max(u, h.Uncertainty.Diameter), n+1
			least, most = min(least, h.Diameter), max(most, h.Diameter)
		}
	}
	if n == 0 {
		return
	}
	if most > 1.04*least+u {
		d.line("    # holes of unlike diameters: list them under holes, to judge each")
		return
	}
	size, was := d.size(sizes.Hole, sum/float64(n), u)
	d.line("    hole_diameter: %s  # %s, mean of %d", size, was, n)
}

// exactAngle prints a nominal angle: a whole fraction of the turn in full, so
// that 51.428571 comes back as a seventh.
func exactAngle(deg float64) string {
	return strconv.FormatFloat(math.Round(deg*1e6)/1e6, 'f', -1, 64)
}

// place is a point in the datum frame as a YAML list of n numbers.
func (d *draft) place(p report.Vec, n int) string {
	q := p
	if !d.rep.InFrame {
		q = d.rep.Frame.Point(p)
	}
	return list3(q[:n], 2)
}

func (d *draft) direction(v report.Vec) string {
	q := v
	if !d.rep.InFrame {
		q = d.rep.Frame.Direction(v)
	}
	return list3(q[:], 4)
}

func list3(v []float64, decimals int) string {
	parts := make([]string, len(v))
	for i, f := range v {
		parts[i] = wording.Fixed(f, decimals)
	}
	return "[" + strings.Join(parts, ", ") + "]"
}

func (d *draft) holes() {
	open := false
	for _, h := range d.rep.Holes {
		if d.used[h.ID] {
			continue
		}
		d.use(h.ID)
		if !open {
			d.line("holes:  # beside the circles; at: x, y in the datum frame")
			open = true
		}
		if h.Diameter <= 0 {
			for _, id := range h.EndWalls {
				d.used[id] = true
			}
			d.line("  # %s is a slot of %s x %s: a plan judges round holes only", h.ID, wording.Fixed(h.Width, 2), wording.Fixed(h.Length, 2))
			continue
		}
		size, was := d.size(sizes.Hole, h.Diameter, h.Uncertainty.Diameter)
		at := ""
		if d.rep.Frame != nil {
			at = "at: " + d.place(h.Centre, 2) + ", "
		}
		if f := d.rep.Frame; f != nil && h.Face != f.Face {
			d.line("  # - {id: %s, %sdiameter: %s}  # on face %s; %s", h.ID, at, size, h.Face, was)
			continue
		}
		d.line("  - {id: %s, %sdiameter: %s}  # %s", h.ID, at, size, was)
		d.live[h.ID] = true
	}
}

func (d *draft) cylinders() {
	var lines []string
	for _, c := range d.rep.Cylinders {
		if d.used[c.ID] || d.rep.Minor(c.Support) {
			continue
		}
		size, was := d.size(sizes.Bore, c.Diameter, c.Uncertainty.Diameter)
		f := d.rep.Frame
		if f != nil && f.Axis == c.ID {
			lines = append(lines, fmt.Sprintf("  - {id: %s, side: %s, diameter: %s, perpendicular_to: %s}  # main bore; %s; add perpendicularity: 0.1 to judge it",
				c.ID, c.Side, size, f.Face, was))
			d.live[c.ID] = true
			continue
		}
		at := ""
		if f != nil {
			at = "at: " + d.axisPlace(&c) + ", "
		}
		mark := "# "
		if f == nil { // no frame: nothing else to judge by
			mark = ""
			d.live[c.ID] = true
		}
		lines = append(lines, fmt.Sprintf("  %s- {id: %s, side: %s, %sdiameter: %s}  # %s", mark, c.ID, c.Side, at, size, was))
	}
	d.block("cylinders:  # take the # away to judge one, too", lines)
}

// axisPlace is where a cylinder's axis meets the face, or a point of it where it
// runs along the face.
func (d *draft) axisPlace(c *report.Cylinder) string {
	p, a := c.Point, c.Axis
	if !d.rep.InFrame {
		p, a = d.rep.Frame.Point(p), d.rep.Frame.Direction(a)
	}
	if math.Abs(a[2]) > math.Cos(5*math.Pi/180) {
		t := -p[2] / a[2]
		return list3([]float64{p[0] + t*a[0], p[1] + t*a[1]}, 2)
	}
	return list3(p[:], 2)
}

func (d *draft) planes() {
	var lines []string
	for _, p := range d.rep.Planes {
		f := d.rep.Frame
		if d.rep.Minor(p.Support) && (f == nil || f.Face != p.ID) {
			continue
		}
		flatness, was := "", "its flatness is left out: the scan does not show enough of it"
		if p.Flatness != nil {
			k := wording.Decimals(p.Uncertainty.Flatness)
			was = "flatness measured " + wording.Fixed(*p.Flatness, k) + wording.PlusMinus(p.Uncertainty.Flatness, k)
			flatness = ", flatness: " + wording.Short(max(0.3, math.Ceil((1.5**p.Flatness+p.Uncertainty.Flatness)*10)/10))
		}
		switch {
		case f != nil && f.Face == p.ID:
			lines = append(lines, fmt.Sprintf("  - {id: %s%s}  # mounting face; %s", p.ID, flatness, was))
			d.live[p.ID] = true
		case f != nil:
			lines = append(lines, fmt.Sprintf("  # - {id: %s, at: %s, normal: %s%s}  # %s",
				p.ID, d.place(p.Point, 3), d.direction(p.Normal), flatness, was))
		default:
			lines = append(lines, fmt.Sprintf("  - {id: %s%s}  # %s", p.ID, flatness, was))
			d.live[p.ID] = true
		}
	}
	d.block("planes:  # take the # away to judge one, too", lines)
}

// block writes a heading and its lines, the live ones first; a block without a
// live line is all comment.
func (d *draft) block(head string, lines []string) {
	if len(lines) == 0 {
		return
	}
	live := func(s string) int {
		if strings.HasPrefix(s, "  - ") {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(lines, func(a, b string) int { return live(a) - live(b) })
	if live(lines[0]) == 1 {
		head = "# " + head
	}
	d.line("%s", head)
	for i, l := range lines {
		if i == mostLines {
			d.line("  # and %d smaller ones", len(lines)-i)
			break
		}
		d.line("%s", l)
	}
}
