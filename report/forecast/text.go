package forecast

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"strings"

	"spotface/report"
	"spotface/report/wording"
)

// WriteText writes f for a person: first what can be judged, then the figures, then what was
// assumed.
func WriteText(w io.Writer, f *Forecast) error {
	t := &text{f: f}
	t.headline()
	for i := range f.Cases {
		t.table(&f.Cases[i])
	}
	t.meaning()
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

// next is say after an empty line.
func (t *text) next(format string, args ...any) {
	t.b.WriteByte('\n')
	t.say(format, args...)
}

// headline says which bands such a scan can judge; with two cases the worse one
// counts.
func (t *text) headline() {
	f := t.f
	name, c := cmp.Or(f.Plan, "plan"), &f.Cases[len(f.Cases)-1]
	var not []string
	for i := range c.Expected {
		if e := &c.Expected[i]; e.Answer != Yes && e.Answer != Open {
			not = append(not, e.name())
		}
	}
	kind, even := "mesh", ""
	if f.Scan.Kind == Cloud {
		kind = "point cloud"
	}
	if len(f.Cases) > 1 {
		even = ", if neighbouring points share their noise over " + wording.Digits(c.CorrelationLength) + " mm"
	}
	what := fmt.Sprintf("a %s with %s mm of noise at a spacing of %s mm", kind,
		wording.Short(f.Scan.Noise), wording.Short(f.Scan.Spacing))
	switch {
	case len(not) == 0:
		t.say("%s: %s can judge all that this plan asks%s.", name, what, even)
	case len(not) == len(c.Expected):
		t.say("%s: %s can judge nothing of this plan for sure.", name, what)
	default:
		t.say("%s: %s can judge %d of %d characteristics for sure, but not %s%s.", name, what,
			len(c.Expected)-len(not), len(c.Expected), wording.List(not), even)
	}
	t.say("Nothing was scanned for this: it is a simulation of parts that are exactly as planned.")
}

func (e *Expected) name() string {
	return e.Feature + " " + strings.ReplaceAll(string(e.Characteristic), "_", " ")
}

// title says what noise the case is of: given is for noise that is independent, shared
// for the other.
func (c *Case) title(given, shared string) string {
	if c.CorrelationLength == 0 {
		return given
	}
	return shared + " over " + wording.Digits(c.CorrelationLength) + " mm"
}

func (c *Case) sentence() string {
	return c.title("Noise independent from point to point", "Noise shared by neighbours")
}

// table writes what is expected of each characteristic.
func (t *text) table(c *Case) {
	t.next("%s (%s points a scan, %d scans)", c.sentence(), wording.Digits(float64(c.Points)), c.Trials)
	tab := wording.Table{Head: []string{"<characteristic", "band", "stated", "actual", "covered", "ratio", "passes", "caught", "<judged", "seen"}}
	for i := range c.Expected {
		tab.Add(c.Expected[i].cells()...)
	}
	tab.Write(&t.b)
	if !c.Stable {
		t.say("These figures are not stable yet: the least sure of the stated ones is good to %s %% after %d scans (one standard error).",
			wording.Digits(100*c.Worst), c.Trials)
	}
}

func (e *Expected) cells() []string {
	name := e.name()
	if e.Count > 1 {
		name += fmt.Sprintf(" (%d)", e.Count)
	}
	cells := []string{name, wording.Band(e.Lower, e.Upper) + " " + e.Unit, "", "", "", "", "", "", string(e.Answer), ""}
	if e.Uncertainty > 0 {
		cells[2] = "+-" + wording.Digits(e.Uncertainty)
		cells[3] = "+-" + wording.Digits(math.Hypot(e.Actual, e.FromPlan))
		cells[4] = wording.Percent(e.Covered)
	}
	if e.Ratio != nil {
		cells[5] = wording.Digits(*e.Ratio)
	}
	if e.GoodConforming != nil {
		cells[6] = wording.Percent(*e.GoodConforming)
		cells[7] = wording.Percent(*e.BadNonconforming)
	}
	if e.Seen < 1 {
		cells[9] = wording.Percent(e.Seen)
	}
	return cells
}

// meaning explains the columns.
func (t *text) meaning() {
	t.next("stated: the +- that a check would print, the mean over as many as the brackets say. actual: what 95 %% of the errors in the simulated scans stayed within; where that is no more than stated, the tool's word is good. covered: how often the stated one held the truth; 95 %% is meant.")
	t.say("ratio: half the band, or all that is allowed of a form error or zone, over the stated uncertainty. Below 1 no part can pass.")
	t.say("passes: how often a good part, in the middle of its band (or of perfect form), is called conforming. caught: how often a bad one, half a band's width outside (or with 1.5 times the allowed form error), is called nonconforming. judged: yes where both are 95 %% or more.")
	unsure, plan := false, false
	for _, c := range t.f.Cases {
		for _, e := range c.Expected {
			unsure = unsure || e.Characteristic == report.Diameter && (e.Answer == Partly || e.Answer == No)
			plan = plan || e.FromPlan > 0
		}
	}
	if t.f.Scan.Kind == Mesh && unsure {
		t.say("Fusing images to a mesh rounds edges and moves curved walls toward their axis, whatever the noise. The edges show by about how much, and a check takes it off; but a real part's edges may be round of their own accord, and that makes diameters unsure here. A closer spacing, or a point cloud, tells them better.")
	}
	if plan {
		t.say("What the plan says of the scanner's own error is in both figures; the simulated scans had none of it.")
	}
}

// assumed says what the plan leaves open, and when figures are stable.
func (t *text) assumed() {
	f := t.f
	t.b.WriteByte('\n')
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
