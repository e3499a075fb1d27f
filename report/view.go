package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"spotface/mesh"
	"spotface/report/wording"
)

// View is what a report says to a person, as values: chosen, ordered and rounded once, for
// the text, the CSV and whatever else shows it. Lengths are in Unit, angles in degrees.
type View struct {
	File     string   // name of the scan
	Unit     string   // of every length here: "mm" or "in"
	About    string   // the scan's own unit, loud where it is assumed
	Alarms   []string // what may make every length wrong
	Part     string   // the plan's
	Verdict  Verdict
	Headline []Statement    // the verdict, then each pattern
	Drill    []Drill        // of each pattern, then of the other holes and the studs
	Sizes    []string       // bore, outside diameter, ... mounting face, in a few words each
	Surfaces []Item         // faces and round surfaces that are no hole's wall, bore first
	Results  []Result       // what a plan judges, lengths in Unit
	Judged   *wording.Table // Results in words
	Details  []Section      // what a first screen leaves out
	Warnings []string       // heaviest first
	Caution  []string       // the first belongs on any screen
	Next     string
}

// Statement is a sentence and what it lists.
type Statement struct {
	Text   string
	Points []string
}

// Drill is a table of holes with their places in the datum frame.
type Drill struct {
	Title   string
	Pattern string // id, empty for holes of none
	Items   []Item
}

// Item is a hole, stud or surface. A number without decimals is absent.
type Item struct {
	ID       string
	Like     []Item // others that are alike, listed by this one
	What     string // "hole", "slot", "stud", "bore", "outside diameter", "chamfer", ...
	Of       string // the pattern it belongs to, or the hole that it is a countersink of
	Face     string
	SeenBy   string // how much of it the scan shows, and by what
	X, Y     Number
	Angle    Number // from the clocking hole
	Off      Number // degrees that it is turned from the ring of the holes on pattern
	Out      Number // how far it lies out of that ring
	Turned   bool   // Off is more than the scan's uncertainty
	Shifted  bool   // Out is
	Diameter Number // of a slot its width
	Length   Number // of a slot over all
	Form     Number // flatness or cylindricity
	FormKind string
	HalfDeg  Number // half-angle of a cone
}

// Items are all holes, studs and surfaces, each of those that are alike by itself.
func (v *View) Items() (all []Item) {
	for _, d := range v.Drill {
		all = append(all, d.Items...)
	}
	for _, it := range v.Surfaces {
		all = append(append(all, it), it.Like...)
	}
	return all
}

// Section is a part of the details.
type Section struct {
	Title string
	Text  []string
	Table *wording.Table
	ToDo  bool // says what would settle something
}

// ViewOptions of NewView; the zero value works.
type ViewOptions struct {
	Inches bool   // say lengths in inches
	Path   string // of the scan's file, for the next command; empty: its name alone
}

// Lengths says what lengths are in: the unit, how many mm it is, and how many decimals its
// readers use.
func (o ViewOptions) Lengths() (unit string, mm float64, decimals int) {
	u := o.unit()
	return u.name, u.mm, u.most
}

func (o ViewOptions) unit() lengthUnit {
	if o.Inches {
		return inch
	}
	return millimetre
}

// NewView chooses what rep says. The error is a *NotFiniteError.
func NewView(rep *Report, opt ViewOptions) (*View, error) {
	if err := rep.Finite(); err != nil {
		return nil, err
	}
	b := &viewer{rep: rep, unit: opt.unit(), path: opt.Path,
		v: &View{File: rep.Scan.File, Part: rep.Part, Verdict: rep.Verdict}}
	if b.v.File == "" {
		b.v.File = "scan"
	}
	b.v.Unit, b.results = b.unit.name, b.unit.results(rep)
	b.v.Results = b.results
	b.surfaces()
	b.about()
	b.verdict()
	b.printed()
	b.patterns()
	b.looseHoles()
	b.sizes()
	b.meant()
	b.made()
	b.judged()
	b.openPoints()
	b.tables()
	b.scan()
	b.record()
	b.warnings()
	b.next()
	return b.v, nil
}

// viewer builds a View.
type viewer struct {
	rep     *Report
	unit    lengthUnit
	path    string
	results []Result // lengths in unit
	v       *View
}

// detail adds a section to the details.
func (b *viewer) detail(title string, table *wording.Table, text ...string) {
	if len(text) > 0 || table != nil && len(table.Rows) > 0 {
		b.v.Details = append(b.v.Details, Section{Title: title, Table: table, Text: text})
	}
}

// orDiameter is the diameter as the plan corrects it, where it does, with its uncertainty.
func (c *Corrected) orDiameter(mm, u float64) (float64, float64) {
	if c == nil {
		return mm, u
	}
	return c.Diameter, c.Uncertainty.Diameter
}

// about says in which unit the scan is.
func (b *viewer) about() {
	s := &b.rep.Scan
	switch {
	case s.Unit == "":
		return
	case s.UnitSource != "assumed":
		b.v.About = fmt.Sprintf("unit: %s (%s)", s.Unit, s.UnitSource)
	default:
		across, size := 0.0, ""
		for _, c := range b.rep.BoltCircles {
			if c.PitchDiameter > across {
				across, size = c.PitchDiameter, "; the bolt circle is"
			}
		}
		for _, c := range b.rep.Cylinders {
			if c.Diameter > across && c.ArcDeg > fewDegrees && c.Side == External {
				across, size = c.Diameter, "; the part is about"
			}
		}
		if across >= 10 {
			size += fmt.Sprintf(" %.0f mm across", across)
		} else if across > 0 { // in another unit, it may be
			size += fmt.Sprintf(" %.2g mm across", across)
		}
		b.v.About = "unit: " + s.Unit + ", ASSUMED (the file states none" + size + ")"
	}
	if s.Unit != b.unit.name {
		b.v.About += ", lengths below in " +
			map[string]string{"mm": "mm", "in": "inches"}[b.unit.name]
	}
}

// verdict says how the part compares with the plan, and what is wrong in it.
func (b *viewer) verdict() {
	n := len(b.results)
	if b.rep.Verdict == "" || n == 0 {
		return
	}
	verdict := strings.ToUpper(string(b.rep.Verdict))
	if b.rep.Part != "" {
		verdict += " (plan: " + b.rep.Part + ")"
	}
	say := func(text string, points ...string) {
		start := verdict + ": "
		if len(b.v.Headline) > 0 {
			start = "Also "
		}
		b.v.Headline = append(b.v.Headline, Statement{start + text, points})
	}
	if b.rep.Verdict == Conforming {
		say(plural(n, "the one characteristic judged lies in its band",
			"all %d characteristics judged lie in their bands") + ".")
		return
	}
	for _, v := range []Verdict{Missing, Nonconforming, Indeterminate} {
		k, points := sentences(b.results, v)
		text := fmt.Sprintf("%d of %d judged %s %s:", k, n, plural(k, "is", "are"),
			map[Verdict]string{Nonconforming: "out of band",
				Indeterminate: "not to be decided from this scan"}[v])
		if v == Missing {
			text = "not in this scan:"
		}
		if k > 0 {
			say(text, points...)
		}
	}
}

// patterns says of each bolt circle what it is and which of its holes are off.
func (b *viewer) patterns() {
	rep := b.rep
	say := func(s ...Statement) { b.v.Headline = append(b.v.Headline, s...) }
	var also []*BoltCircle // other readings of patterns
	for i := range rep.BoltCircles {
		c := &rep.BoltCircles[i]
		if c.OtherReadingOf != "" {
			also = append(also, c)
			continue
		}
		say(b.circle(c, len(rep.BoltCircles) > 1)...)
		b.drill(c)
		b.spacing(c)
	}
	for i := range rep.Patterns {
		p := &rep.Patterns[i]
		whole := (len(p.Deviations) > 0 || len(p.Holes) == 2) && len(p.Pitch) == min(2, p.Rows) && len(p.PitchU) == len(p.Pitch)
		if whole && len(p.Pitch) > 0 { // as it is but in a damaged report
			say(b.grid(p))
		}
	}
	for _, c := range also {
		pitch := b.unit.number(c.PitchDiameter, c.Uncertainty.PitchDiameter).WithU()
		say(Statement{Text: fmt.Sprintf("%s of %s lie on a bolt circle of %s %s as well (%s).",
			wording.List(c.Holes), c.OtherReadingOf, pitch, b.unit.name, c.ID)})
		b.spacing(c)
	}
	if len(rep.BoltCircles) > 0 || len(rep.Patterns) > 0 {
		if len(also) == len(rep.BoltCircles) {
			return
		}
		if n := rep.MainCircle().Nominal; n != nil && n.Turns > 1 {
			b.detail("Clocking", nil, fmt.Sprintf("%s looks the same at %d turns: what counts "+
				"as its first hole is a choice. A chosen hole (--clock), a keyway or notch, a "+
				"pin hole or a flat settles it.", rep.MainCircle().ID, n.Turns))
		}
		say(Statement{Text: "Angles run counter-clockwise, looking at the face; " +
			"the mating part sees them clockwise."})
		return
	}
	var all, found []string
	for _, h := range slices.Concat(rep.Holes, rep.Studs) {
		all = append(all, h.what())
	}
	three := false
	for _, g := range gather(all, func(g []string, what string) bool { return g[0] == what }) {
		found = append(found, wording.Things(len(g), g[0]))
		three = three || len(g) >= 3 && (g[0] == "hole" || g[0] == "stud")
	}
	text := wording.List(found) + ", no three alike on a circle."
	switch {
	case len(rep.Only) > 0:
		text = "Only " + wording.List(rep.Only) + " asked for; the rest of the scan is not shown."
	case len(found) == 0:
		text = "No holes found."
	case !three:
		text = wording.List(found) + " found."
	}
	say(Statement{Text: text})
}

// unitHint starts the warnings of the reader and of checkUnit that the assumed unit is
// unlikely: see TestTheWrongUnitIsSaidFirst of the command.
const unitHint = "The file states no unit and millimetres are assumed"

// warnings sets apart what may make every length wrong.
func (b *viewer) warnings() {
	if s := b.rep.Scale; s != nil && !s.Agrees {
		b.v.Alarms = s.sentences(b.unit)
	}
	for _, w := range b.rep.Scan.Warnings {
		if strings.HasPrefix(w, unitHint) {
			b.v.Alarms = append(b.v.Alarms, w)
		} else {
			b.v.Warnings = append(b.v.Warnings, w)
		}
	}
}

// next says what to do, and what a scan cannot do.
func (b *viewer) next() {
	var check []string
	for _, c := range b.rep.BoltCircles {
		if c.Standouts != nil {
			for _, h := range c.Standouts.Holes {
				check = append(check, h.Hole)
			}
		}
	}
	caution := "A scan approves nothing."
	switch {
	case len(check) > 0:
		caution = fmt.Sprintf("Check %s with a pin and a caliper before you cut. %s",
			wording.List(check), caution)
	case b.rep.Verdict == Nonconforming:
		caution = "Check what is named above with a pin and a caliper before you cut. " + caution
	}
	b.v.Caution = []string{caution, practice}
	switch {
	case len(b.rep.Holes) == 0 && len(b.rep.Studs) == 0 && len(b.rep.Only) == 0:
		b.v.Next = "look at the scan. A hole needs a piece of its wall or of its rim on a flat " +
			"face; holes that the scanner's software closed are gone, and a wrong unit makes " +
			"every hole too large or too small."
	case b.rep.Verdict == "":
		scan, plan := "SCAN", "PLAN"
		path := cmp.Or(b.path, b.v.File)
		if i := strings.LastIndexByte(b.v.File, '.'); i > 0 && !strings.ContainsAny(path, " '\"$\\") {
			scan, plan = path, b.v.File[:i]+".yaml"
		}
		if s := b.rep.Scan; s.UnitSource == string(mesh.UnitGiven) {
			scan += " --unit " + s.Unit
		}
		b.v.Next = "spotface measure " + scan + " --write-plan " + plan
		if b.rep.UnitInDoubt() != nil {
			b.v.Next = "spotface measure " + scan + " --unit " + b.rep.Scan.UnitCheck.proposed() +
				", or --unit mm if that is right"
		}
	case b.rep.Verdict == Nonconforming:
		b.v.Next = "if the plan is wrong, mend it and check again."
	case b.rep.Verdict == Indeterminate:
		b.v.Next = "settle the open points (--full says what would), then check again."
	default:
		b.v.Next = "check the new part, or a trial print of it, against the same plan."
	}
}

// scan says how the plan was matched, what was scanned, and what was left out of it.
func (b *viewer) scan() {
	notes := b.rep.Notes
	if s := b.rep.Scale; s != nil && s.Agrees {
		notes = append(s.sentences(b.unit), notes...)
	}
	b.detail("How the plan was laid on the scan", nil, notes...)
	s := &b.rep.Scan
	line := ""
	if s.Triangles > 0 {
		line = wording.Things(s.Triangles, "triangle") + ", "
	}
	line += wording.Things(s.Points, "point")
	if s.Noise > 0 {
		noise, less, _ := strings.Cut(wording.AtLeast(s.Noise/b.unit.mm, b.unit.most), " ")
		line += strings.TrimSuffix(fmt.Sprintf(", surface noise %s %s %s", noise, b.unit.name,
			less), " ")
		if s.CorrelationLength > 0 {
			line += fmt.Sprintf(" that neighbours share over %s %s",
				b.unit.number(s.CorrelationLength, 0), b.unit.name)
		}
	}
	if s.Spacing > 0 {
		line += fmt.Sprintf(", %s %s from point to point", b.unit.number(s.Spacing, 0), b.unit.name)
	}
	if u := b.rep.Surface; u != nil && u.Unassigned != nil {
		line += fmt.Sprintf("; %s %% not used", wording.Fixed(100**u.Unassigned, 1))
	}
	if u := b.rep.Surface; u != nil && u.WithinBand != nil && u.Lower != nil && u.Upper != nil {
		limit := func(v float64) string { return wording.Signed(v/b.unit.mm, b.unit.most) }
		line += fmt.Sprintf("; of the points used %s %% within the plan's band, %s to %s %s",
			wording.Fixed(100**u.WithinBand, 1), limit(*u.Lower), limit(*u.Upper), b.unit.name)
	}
	if gone := s.Removed.text(s.FileTriangles > 0); gone != "" {
		line += "; left out: " + gone
	}
	if n := s.Removed.Rewound; n > 0 {
		line += "; wound the other way: " + wording.Things(n, "triangle")
	}
	text := []string{line + "."}
	if b.rep.Verdict != "" {
		text = append(text, b.rep.Decision.sentence(b.rep.Results))
	}
	b.detail("The scan", nil, text...)
}

func (r Removed) text(mesh bool) string {
	one := "point"
	if mesh {
		one = "triangle"
	}
	var parts []string
	for k, n := range []int{r.Broken, r.ZeroArea, r.Duplicate} {
		if n > 0 {
			what := []string{"broken ", "zero-area ", "duplicate "}[k]
			parts = append(parts, wording.Things(n, what+one))
		}
	}
	return wording.List(parts)
}

// Record says by what and by whom a report was made. It has no date, so that one scan gives
// one report, byte by byte; Scan.SHA256 says of which file.
type Record struct {
	Tool     string `json:"tool,omitempty"`      // program and version that measured the scan
	JudgedBy string `json:"judged_by,omitempty"` // that judged it, where it is another
	Operator string `json:"operator,omitempty"`
	Revision string `json:"revision,omitempty"` // of the plan
}

// record lists what an inspection record needs beside the numbers.
func (b *viewer) record() {
	r := b.rep.Record
	if r == nil {
		return
	}
	var text []string
	for _, f := range [][2]string{{"SHA-256 of the scan's file", b.rep.Scan.SHA256},
		{"Plan", b.rep.Part}, {"Revision of the plan", r.Revision}, {"Measured by", r.Tool},
		{"Judged by", r.JudgedBy}, {"Operator", r.Operator}} {
		if f[1] != "" {
			text = append(text, f[0]+": "+f[1])
		}
	}
	b.detail("Inspection record", nil, text...)
}
