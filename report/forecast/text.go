package forecast

import (
	"fmt"
	"io"
	"math"
	"strings"

	"spotface/report"
	"spotface/report/wording"
)

// WriteText writes f for a person: first what can be judged, then the figures,
// then how the clocking falls with points, then what was assumed.
func WriteText(w io.Writer, f *Forecast) error {
	t := &text{f: f}
	t.headline()
	for i := range f.Cases {
		t.table(&f.Cases[i])
	}
	t.meaning()
	t.steps()
	t.assumed()
	_, err := io.WriteString(w, t.b.String())
	return err
}

type text struct {
	f *Forecast
	b strings.Builder
}

func (t *text) say(format string, args ...any) {
	t.b.WriteString(wording.Wrap(fmt.Sprintf(format, args...), ""))
}

func (t *text) gap() { t.b.WriteByte('\n') }

// headline says which bands such a scan can judge; with two cases the worse one
// counts.
func (t *text) headline() {
	f := t.f
	name := f.Plan
	if name == "" {
		name = "plan"
	}
	c := &f.Cases[len(f.Cases)-1]
	var not []string
	for i := range c.Expected {
		if e := &c.Expected[i]; e.Answer != Yes && e.Answer != Open {
			not = append(not, e.name())
		}
	}
	what := fmt.Sprintf("a %s with %s mm of noise at a spacing of %s mm", f.Scan.kind(), wording.Short(f.Scan.Noise), wording.Short(f.Scan.Spacing))
	switch {
	case len(not) == 0:
		t.say("%s: %s can judge all that this plan asks%s.", name, what, t.even())
	case len(not) == len(c.Expected):
		t.say("%s: %s can judge nothing of this plan for sure.", name, what)
	default:
		t.say("%s: %s can judge %d of %d characteristics for sure, but not %s%s.", name, what,
			len(c.Expected)-len(not), len(c.Expected), wording.List(not), t.even())
	}
	t.say("Nothing was scanned for this: it is a simulation of parts that are exactly as planned.")
}

func (s Scan) kind() string {
	if s.Kind == Cloud {
		return "point cloud"
	}
	return "mesh"
}

// even says for which case the headline is.
func (t *text) even() string {
	if len(t.f.Cases) < 2 {
		return ""
	}
	return fmt.Sprintf(", if neighbouring points share their noise over %s mm", digits(t.f.Cases[1].CorrelationLength))
}

func (e *Expected) name() string {
	return e.Feature + " " + strings.ReplaceAll(string(e.Characteristic), "_", " ")
}

func (c *Case) title() string {
	if c.CorrelationLength == 0 {
		return "Noise independent from point to point"
	}
	return fmt.Sprintf("Noise shared by neighbours over %s mm", digits(c.CorrelationLength))
}

// short is the title as a heading.
func (c *Case) short() string {
	if c.CorrelationLength == 0 {
		return "independent noise"
	}
	return fmt.Sprintf("shared over %s mm", digits(c.CorrelationLength))
}

// table writes what is expected of each characteristic.
func (t *text) table(c *Case) {
	t.gap()
	t.say("%s (%s points a scan, %d scans)", c.title(), digitCount(c.Points), c.Trials)
	tab := wording.Table{Head: []string{"<characteristic", "band", "stated", "actual", "covered", "ratio", "passes", "caught", "<judged", "seen"}}
	for i := range c.Expected {
		tab.Add(c.Expected[i].cells()...)
	}
	tab.Write(&t.b)
	if !c.Stable {
		t.say("These figures are not stable yet: the least sure of the stated ones is good to %s %% after %d scans (one standard error).",
			digits(100*c.Worst), c.Trials)
	}
}

func digitCount(n int) string {
	if n < 1000 {
		return wording.Count(n)
	}
	unit := math.Pow(10, math.Floor(math.Log10(float64(n)))-1)
	return wording.Count(int(math.Round(float64(n)/unit) * unit))
}

func (e *Expected) cells() []string {
	name := e.name()
	if e.Count > 1 {
		name += fmt.Sprintf(" (%d)", e.Count)
	}
	cells := []string{name, wording.Band(e.Lower, e.Upper) + " " + e.Unit, "", "", "", "", "", "", string(e.Answer), ""}
	if e.Uncertainty > 0 {
		cells[2] = "+-" + digits(e.Uncertainty)
		cells[3] = "+-" + digits(math.Hypot(e.Actual, e.FromPlan))
		cells[4] = percent(e.Covered)
	}
	if e.Ratio != nil {
		cells[5] = digits(*e.Ratio)
	}
	if e.GoodConforming != nil {
		cells[6] = percent(*e.GoodConforming)
		cells[7] = percent(*e.BadNonconforming)
	}
	if e.Seen < 1 {
		cells[9] = percent(e.Seen)
	}
	return cells
}

// meaning explains the columns.
func (t *text) meaning() {
	t.gap()
	for _, s := range []string{
		"stated: the +- that a check would print, the mean over as many as the brackets say. actual: what 95 % of the errors in the simulated scans stayed within; where that is no more than stated, the tool's word is good. covered: how often the stated one held the truth; 95 % is meant.",
		"ratio: half the band, or all that is allowed of a form error or zone, over the stated uncertainty. Below 1 no part can pass.",
		"passes: how often a good part, in the middle of its band (or of perfect form), is told conforming. caught: how often a bad one, half a band's width outside (or with 1.5 times the allowed form error), is told nonconforming. judged: yes where both are 95 % or more.",
	} {
		t.say("%s", s)
	}
	if t.f.Scan.Kind == Mesh && t.unsure(report.Diameter) {
		t.say("Fusing images to a mesh rounds edges and moves curved walls toward their axis, whatever the noise. The edges show by about how much, and a check takes it off; but a real part's edges may be round of their own accord, and that makes diameters unsure here. A closer spacing, or a point cloud, tells them better.")
	}
	plan := false
	for _, e := range t.f.Cases[0].Expected {
		plan = plan || e.FromPlan > 0
	}
	if plan {
		t.say("What the plan says of the scanner's own error is in both figures; the simulated scans had none of it.")
	}
}

// unsure reports whether such a band cannot be judged for sure.
func (t *text) unsure(what report.Characteristic) bool {
	for _, c := range t.f.Cases {
		for _, e := range c.Expected {
			if e.Characteristic == what && (e.Answer == Partly || e.Answer == No) {
				return true
			}
		}
	}
	return false
}

// steps writes how the clocking uncertainty falls with points.
func (t *text) steps() {
	first := t.f.Cases[0].Clocking
	if len(first) < 2 {
		return
	}
	t.gap()
	t.say("Clocking of a hole, degrees, by how densely the part is scanned (stated, and actual in brackets)")
	tab := wording.Table{Head: []string{"spacing, mm", "points", "on a hole's wall"}}
	for i := range t.f.Cases {
		tab.Head = append(tab.Head, t.f.Cases[i].short())
	}
	for k, s := range first {
		row := []string{digits(s.Spacing), digitCount(s.Points), ""}
		if s.OnHole >= 12 { // fewer make no wall: there it was measured by its rim
			row[2] = digitCount(s.OnHole)
		}
		for i := range t.f.Cases {
			row = append(row, t.f.Cases[i].Clocking[k].cell())
		}
		tab.Add(row...)
	}
	tab.Write(&t.b)
	for i := range t.f.Cases {
		t.gain(&t.f.Cases[i])
	}
}

func (s *Step) cell() string {
	if s.Uncertainty == 0 {
		return "circle not found"
	}
	c := fmt.Sprintf("+-%s (%s)", digits(s.Uncertainty), digits(s.Actual))
	if s.Seen < 1 {
		c += fmt.Sprintf(", found in %s", percent(s.Seen))
	}
	return c
}

// gain says what four times the points bring.
func (t *text) gain(c *Case) {
	var seen []Step
	for _, s := range c.Clocking {
		if s.Uncertainty > 0 && s.Seen >= enough {
			seen = append(seen, s)
		}
	}
	if len(seen) < 2 {
		return
	}
	a, b := seen[0], seen[len(seen)-1]
	// U falls as n^-p; independent points have p = 1/2.
	p := math.Log(a.Uncertainty/b.Uncertainty) / (2 * math.Log(a.Spacing/b.Spacing))
	s := fmt.Sprintf("%s: four times the points make it %s times smaller", c.title(), digits(math.Pow(4, p)))
	switch {
	case p < 0.05:
		s = fmt.Sprintf("%s: more points hardly help", c.title())
	case p > 0.65:
		s += ", more than the 2 times that points alone would, as the widest spacing shows less of each wall"
	case p > 0.35:
	default:
		s += ", where independent points would make it 2 times"
	}
	t.say("%s.", s)
}

// assumed says what the plan leaves open, and how figures were told stable.
func (t *text) assumed() {
	f := t.f
	t.gap()
	if len(f.Cases) > 1 {
		t.say("The plan does not say over which length neighbouring points share their noise, so it is forecast twice: as if they shared nothing, which flatters most scanners, and as if they shared all of it over a quarter of the smallest hole's radius. A report of any scan by this scanner states the length; put it into the plan.")
	}
	for _, s := range f.LeftOut {
		t.b.WriteString(wording.Wrap("Not forecast: "+s, "  "))
	}
	t.say("Simulated part: %s", strings.Join(f.Assumed, " "))
	t.say("Scanned all round from above, 25 to 70 degrees up; walls that this does not reach are missing. Every scan was measured and checked as a real one would be. Trials stopped when the standard error of each mean stated uncertainty was within %s %% of it.", wording.Short(100*f.Precision))
	t.say("A real scan has gaps, coats, dirt and a scale error of its own, which this has not. A forecast approves nothing: local codes and licensed practice decide.")
}
