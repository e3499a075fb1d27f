package plan

import (
	"cmp"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"text/template"

	"gonum.org/v1/gonum/stat"

	"spotface/bolt/sizes"
	"spotface/report"
	"spotface/report/wording"
)

// ErrNothing says that a report shows no face, hole or cylinder that a
// plan could be drafted from.
var ErrNothing = errors.New("plan: the scan shows nothing that a plan could hold: no bolt " +
	"circle, hole, bore or face")

//go:embed draft.tmpl
var draftText string

// DraftOptions of WriteDraft; the zero value drafts what the maker probably meant.
type DraftOptions struct {
	// AsFound drafts the measured angles and sizes instead of the nominal ones: to copy the
	// part, and not what its maker meant.
	AsFound bool
	Inches  bool // lengths are in inches, not in mm
}

// WriteDraft writes a plan drafted from a measured report: YAML for a person to
// edit. Nominal sizes are what was probably meant, with the measured ones beside
// them; every band is a placeholder (lengths: ISO 2768-1, medium) and
// says so. Features beside the pattern carry their place in the datum frame. What
// need not be judged is in it as a comment.
func WriteDraft(w io.Writer, rep *report.Report, opt DraftOptions) error {
	if err := rep.Finite(); err != nil {
		return err
	}
	if err := rep.UnitInDoubt(); err != nil {
		return fmt.Errorf("plan: %w", err)
	}
	if rep.Frame != nil {
		rep, _ = report.InDatumFrame(rep) // places are those in the frame
	}
	name := cmp.Or(rep.Scan.File, "a scan")
	d := &draft{rep: rep, used: make(map[string]bool), live: make(map[string]bool), Scan: &rep.Scan,
		AsFound: opt.AsFound,
		Name:    strconv.Quote(name),
		Part:    strconv.Quote(strings.TrimSuffix(name, filepath.Ext(name)))}
	var most int
	d.Unit, d.mm, most = report.ViewOptions{Inches: opt.Inches}.Lengths()
	d.more = most - 3
	d.circles()
	d.holes()
	d.cylinders()
	d.planes()
	if len(d.live) == 0 {
		return ErrNothing
	}
	d.frame()
	return template.Must(template.New("draft").Parse(draftText)).Execute(w, d)
}

type draft struct {
	rep  *report.Report
	used map[string]bool // scan ids that the plan holds already, as holes or their walls
	live map[string]bool // ids that the plan has

	mm   float64 // of the plan's unit
	more int     // decimals of lengths than in mm

	AsFound           bool
	Unit              string // of lengths
	Name, Part, Frame string
	Scan              *report.Scan
	Circles           []draftCircle
	Blocks            []draftBlock
}

type draftCircle struct {
	ID, Spacing, Angles, Why, Band, Pitch, Holes, At string
	Count                                            int      // 0: Angles say it
	Out                                              []string // holes that lie out of the circle
}

type draftBlock struct {
	Head  string
	Lines []string
	More  int // lines left out
}

// frame names the frame's features as the plan has them.
func (d *draft) frame() {
	f := d.rep.Frame
	if f == nil {
		return
	}
	var parts []string
	if f.Face != "" {
		parts = append(parts, "face: "+f.Face)
	}
	if d.live[f.Axis] { // a bore with a draft is a cone, which a plan does not judge
		parts = append(parts, "axis: "+f.Axis)
	}
	if clock := d.clock(f.Clock); clock != "" {
		parts = append(parts, "clock: "+clock)
	}
	d.Frame = strings.Join(parts, ", ")
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
	largest := !slices.ContainsFunc(d.rep.BoltCircles, func(c report.BoltCircle) bool {
		return len(c.Clocking) > len(main.Clocking)
	})
	if place := fmt.Sprintf("H%d", at+1); largest && !d.live[place] {
		return place
	}
	return fmt.Sprintf("%s/%d", main.ID, at+1)
}

// Short is a length of so many mm in the plan's unit, without trailing zeros.
func (d *draft) Short(mm float64) string { return wording.Short(mm / d.mm) }

// fixed is a length of so many mm in the plan's unit, u tells with how many decimals; limit is
// its uncertainty u.
func (d *draft) fixed(mm, u float64) string { return wording.Fixed(mm/d.mm, d.decimals(u)) }
func (d *draft) limit(u float64) string     { return wording.PlusMinus(u/d.mm, d.decimals(u)) }

func (d *draft) decimals(u float64) int {
	return wording.Decimals(u/d.mm*math.Pow10(d.more)) + d.more
}

// rounded is a length, mm, rounded to so many decimals of the plan's unit.
func (d *draft) rounded(mm float64, decimals int) float64 {
	p := math.Pow10(decimals)
	return math.Round(mm/d.mm*p) / p * d.mm
}

// upTo is a band of so many mm, in inches rounded up to a thousandth.
func (d *draft) upTo(mm float64) string {
	if d.more > 0 {
		mm = math.Ceil(mm/d.mm*1000-1e-9) / 1000 * d.mm
	}
	return d.Short(mm)
}

// size is "{nominal: 84, band: [-0.3, 0.3]}" with the measured size for a comment.
func (d *draft) size(list []sizes.Candidate, measured, expanded float64) (text, comment string) {
	n, meant := d.probableSize(list, measured)
	if d.AsFound {
		n, meant = d.rounded(measured, d.decimals(expanded)), ""
	}
	t := d.upTo(decidable(generalTolerance(n), expanded))
	return fmt.Sprintf("{nominal: %s, band: [-%s, %s]}", d.Short(n), t, t),
		"  # measured " + d.fixed(measured, expanded) + d.limit(expanded) + meant
}

// circles drafts the circle that clocks the frame first: a plan takes the first.
func (d *draft) circles() {
	main := d.rep.MainCircle()
	for _, first := range []bool{true, false} {
		for i := range d.rep.BoltCircles {
			if c := &d.rep.BoltCircles[i]; (c.ID == main.ID) == first {
				d.circle(c, first)
			}
		}
	}
}

func (d *draft) circle(c *report.BoltCircle, main bool) {
	d.live[c.ID] = true
	u := 0.0
	for _, k := range c.Spacing {
		u = max(u, k.UncertaintyDeg)
	}
	var angles []string
	for _, k := range c.Clocking {
		d.use(k.Hole)
		u = max(u, k.UncertaintyDeg)
		if k.NominalDeg != nil && !d.AsFound {
			angles = append(angles, exactAngle(*k.NominalDeg))
		} else {
			angles = append(angles, wording.Fixed(k.AngleDeg, wording.Decimals(k.UncertaintyDeg)))
		}
	}
	out := draftCircle{ID: c.ID, Band: wording.Short(decidable(angleBand, u)),
		Angles: strings.Join(angles, ", "), Holes: d.holeDiameter(c),
		Why: "no regular pattern: these are the measured angles"}
	switch n := c.Nominal; {
	case d.AsFound:
		out.Why, out.Out = "as measured", d.outOfCircle(c)
	case n != nil:
		out.Why, out.Spacing = "a regular pattern with places empty", exactAngle(n.SpacingDeg)
		if len(n.Missing) == 0 {
			out.Count = len(c.Clocking)
		}
	}
	text, was := d.size(c.Sizes, c.PitchDiameter, c.Uncertainty.PitchDiameter)
	out.Pitch = text + was
	if d.rep.Frame != nil && !main {
		out.At = d.place(c.Centre, 2)
	}
	d.Circles = append(d.Circles, out)
}

// outOfCircle says which holes lie farther out of a circle, which has one diameter for all,
// than their uncertainty.
func (d *draft) outOfCircle(c *report.BoltCircle) (lines []string) {
	for _, k := range c.Clocking {
		h := d.rep.Hole(k.Hole)
		if h == nil || d.rep.Frame == nil || !(math.Abs(k.Radial) > k.RadialUncertainty) {
			continue
		}
		lines = append(lines, fmt.Sprintf("%s lies %s%s %s out of this circle, at %s: to copy that, "+
			"take its angle out and list it under holes", k.Hole,
			wording.Signed(k.Radial/d.mm, d.decimals(k.RadialUncertainty)), d.limit(k.RadialUncertainty),
			d.Unit, d.place(h.Centre, 2)))
	}
	return lines
}

// angleBand is the placeholder band of an angle, degrees: an assumption, no source.
const angleBand = 0.25

// decidable is a placeholder band, wide enough that a scan of this uncertainty can decide
// it: twice the expanded uncertainty, rounded up to a twentieth.
func decidable(band, expanded float64) float64 {
	return max(band, math.Ceil(2*expanded*20-1e-9)/20)
}

// use marks a hole and its walls as contained in the plan.
func (d *draft) use(id string) {
	d.used[id] = true
	if h := d.rep.Hole(id); h != nil {
		for _, wall := range append([]string{h.Wall}, h.EndWalls...) {
			d.used[wall] = true
		}
	}
}

func (d *draft) holeDiameter(c *report.BoltCircle) string {
	u, all := 0.0, []float64(nil)
	var meant []sizes.Candidate // alike for all holes of a drill
	for _, k := range c.Clocking {
		if h := d.rep.Hole(k.Hole); h != nil && h.Diameter > 0 {
			all, u, meant = append(all, h.Diameter), max(u, h.Uncertainty.Diameter), h.Sizes
		}
	}
	switch {
	case all == nil:
		return ""
	case slices.Max(all) > 1.04*slices.Min(all)+u:
		return "# holes of unlike diameters: list them under holes, to judge each"
	}
	text, was := d.size(meant, stat.Mean(all, nil), u)
	return fmt.Sprintf("hole_diameter: %s%s, mean of %d", text, was, len(all))
}

// exactAngle prints a nominal angle: a whole fraction of the turn in full, so
// that 51.428571 comes back as a seventh.
func exactAngle(deg float64) string {
	return strconv.FormatFloat(math.Round(deg*1e6)/1e6, 'f', -1, 64)
}

// place is a point in the datum frame as a YAML list of n numbers.
func (d *draft) place(p report.Vec, n int) string {
	if d.AsFound {
		return d.lengths(p[:n], 3)
	}
	return d.lengths(p[:n], 2)
}

// lengths are those of a list, mm, in the plan's unit, as fine as so many decimals of mm.
func (d *draft) lengths(v []float64, decimals int) string {
	scaled := make([]float64, len(v))
	for i, mm := range v {
		scaled[i] = mm / d.mm
	}
	return listOf(scaled, decimals+2*d.more)
}

func listOf(v []float64, decimals int) string {
	parts := make([]string, len(v))
	for i, f := range v {
		parts[i] = wording.Fixed(f, decimals)
	}
	return "[" + strings.Join(parts, ", ") + "]"
}

func (d *draft) holes() {
	var lines []string
	for _, h := range d.rep.Holes {
		if d.used[h.ID] {
			continue
		}
		d.use(h.ID)
		if h.Diameter <= 0 {
			lines = append(lines, fmt.Sprintf("# %s is a slot of %s x %s: a plan judges round "+
				"holes only",
				h.ID, wording.Fixed(h.Width/d.mm, 2+d.more), wording.Fixed(h.Length/d.mm, 2+d.more)))
			continue
		}
		text, was := d.size(h.Sizes, h.Diameter, h.Uncertainty.Diameter)
		keys := "diameter: " + text
		f := d.rep.Frame
		if f != nil {
			keys = "at: " + d.place(h.Centre, 2) + ", " + keys
		}
		beside := f != nil && h.Face != f.Face
		if beside {
			was = strings.Replace(was, "# ", "# on face "+h.Face+"; ", 1)
		}
		lines = append(lines, d.entry(!beside, h.ID, keys, was))
	}
	d.block("holes:  # beside the circles; at: x, y in the datum frame", lines, len(lines))
}

// entry is a feature's line, live or as a comment.
func (d *draft) entry(live bool, id, keys, comment string) string {
	if keys != "" {
		keys = ", " + keys
	}
	if live {
		d.live[id] = true
		return fmt.Sprintf("- {id: %s%s}%s", id, keys, comment)
	}
	return fmt.Sprintf("# - {id: %s%s}%s", id, keys, comment)
}

func (d *draft) cylinders() {
	var lines []string
	f := d.rep.Frame
	for _, c := range d.rep.Cylinders {
		if d.used[c.ID] || d.rep.Minor(c.Support) {
			continue
		}
		meant := sizes.Candidates(sizes.Bore, c.Diameter, c.Uncertainty.Diameter/report.Coverage)
		text, was := d.size(meant, c.Diameter, c.Uncertainty.Diameter)
		keys := fmt.Sprintf("side: %s, diameter: %s", c.Side, text)
		main := f != nil && f.Axis == c.ID
		switch {
		case main:
			keys += ", perpendicular_to: " + f.Face
			was = strings.Replace(was, "# ", "# main bore; ", 1) +
				"; add perpendicularity: " + d.Short(0.1) + " to judge it"
		case f != nil:
			keys = fmt.Sprintf("side: %s, at: %s, diameter: %s", c.Side, d.axisPlace(&c), text)
		}
		// no frame: nothing else to judge by
		lines = append(lines, d.entry(main || f == nil, c.ID, keys, was))
	}
	d.block("cylinders:  # take the # away to judge one, too", lines, mostLines)
}

// axisPlace is where a cylinder's axis meets the face, or a point of it where it
// runs along the face.
func (d *draft) axisPlace(c *report.Cylinder) string {
	p, a := c.Point, c.Axis
	if math.Abs(a[2]) > math.Cos(5*math.Pi/180) {
		t := -p[2] / a[2]
		return d.lengths([]float64{p[0] + t*a[0], p[1] + t*a[1]}, 2)
	}
	return d.lengths(p[:], 2)
}

func (d *draft) planes() {
	var lines []string
	f := d.rep.Frame
	for _, p := range d.rep.Planes {
		main := f != nil && f.Face == p.ID
		if d.rep.Minor(p.Support) && !main {
			continue
		}
		var keys []string
		was := "its flatness is left out: the scan does not show enough of it"
		if f != nil && !main {
			keys = append(keys, "at: "+d.place(p.Point, 3), "normal: "+listOf(p.Normal[:], 4))
		}
		if p.Flatness != nil {
			u := p.Uncertainty.Flatness
			was = "flatness measured " + d.fixed(*p.Flatness, u) + d.limit(u)
			if *p.Flatness <= u {
				was = "flat within " + wording.Limit((*p.Flatness+u)/d.mm, d.decimals(u)) +
					" (the limit of the scan)"
			}
			keys = append(keys, "flatness: "+d.upTo(max(0.3,
				math.Ceil((1.5**p.Flatness+u)*10)/10)))
		}
		if main {
			was = "mounting face; " + was
		}
		lines = append(lines, d.entry(main || f == nil, p.ID, strings.Join(keys, ", "), "  # "+was))
	}
	d.block("planes:  # take the # away to judge one, too", lines, mostLines)
}

// block adds a heading and its lines, at most so many, the live ones first; a block without
// a live line is all comment.
func (d *draft) block(head string, lines []string, most int) {
	if len(lines) == 0 {
		return
	}
	comment := func(s string) int { return strings.Count(s[:1], "#") }
	slices.SortStableFunc(lines, func(a, b string) int { return comment(a) - comment(b) })
	head = strings.Repeat("# ", comment(lines[0])) + head
	most = min(most, len(lines))
	d.Blocks = append(d.Blocks, draftBlock{head, lines[:most], len(lines) - most})
}

// probableSize is the size, mm, that was probably meant of a measured length: the most
// probable standard one if it is more probable than not, else, or if there is none, the
// measured one to a hundredth. The words say what size that is, how far from the measured
// one, and how probable.
func (d *draft) probableSize(list []sizes.Candidate, measured float64) (nominal float64,
	words string) {
	best := sizes.Best(list)
	if best.Diameter == 0 || !best.Likely() {
		return d.rounded(measured, 2+d.more), ", no clear standard size"
	}
	nominal = math.Round(best.Diameter*1000) / 1000
	if off := d.rounded(measured-nominal, 3+d.more); off > 0 {
		words = fmt.Sprintf(", %s above %s", d.Short(off), d.Short(nominal))
	} else if off < 0 {
		words = fmt.Sprintf(", %s below %s", d.Short(-off), d.Short(nominal))
	}
	return nominal, fmt.Sprintf("%s: %s, %.0f %%", words, best.Uses(), 100*best.Probability)
}

// generalTolerance is the half-width, mm, that ISO 2768-1:1989, table 1, class m
// (medium) allows a length without a tolerance of its own. Below and beyond the
// table its first and last row serve.
func generalTolerance(length float64) float64 {
	for _, row := range []struct{ to, tolerance float64 }{
		{6, 0.1}, {30, 0.2}, {120, 0.3}, {400, 0.5}, {1000, 0.8}, {2000, 1.2},
	} {
		if length <= row.to {
			return row.tolerance
		}
	}
	return 2
}
