package forecast

import (
	"cmp"
	_ "embed"
	"fmt"
	"io"
	"math"
	"strings"
	"text/template"

	"spotface/report"
	"spotface/report/wording"
)

//go:embed text.tmpl
var prose string

// WriteText writes f for a person: first what can be judged, then the figures, then what was
// assumed.
func WriteText(w io.Writer, f *Forecast) error {
	// With two cases the worse one counts.
	c := &f.Cases[len(f.Cases)-1]
	t := text{Forecast: f, Name: cmp.Or(f.Plan, "plan"), Of: len(c.Expected), Kind: "mesh",
		Percent: 100 * f.Precision}
	if f.Scan.Kind == Cloud {
		t.Kind = "point cloud"
	}
	if len(f.Cases) > 1 {
		t.Even = ", if neighbouring points share their noise over " +
			wording.Digits(c.CorrelationLength) + " mm"
	}
	for i := range c.Expected {
		if e := &c.Expected[i]; e.Answer != Yes && e.Answer != Open {
			t.Not = append(t.Not, e.name())
		}
	}
	t.Sure = t.Of - len(t.Not)
	for _, c := range f.Cases {
		for _, e := range c.Expected {
			t.Unsure = t.Unsure || f.Scan.Kind == Mesh && e.Characteristic == report.Diameter &&
				(e.Answer == Partly || e.Answer == No)
			t.FromPlan = t.FromPlan || e.FromPlan > 0
		}
	}
	var b strings.Builder
	if err := t.say(&b, "head"); err != nil {
		return err
	}
	for i := range f.Cases {
		f.Cases[i].table(&b)
	}
	if err := t.say(&b, "notes"); err != nil {
		return err
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// text is what the template fills in.
type text struct {
	*Forecast
	Name, Kind string
	Even       string   // what the worse of two cases assumes
	Not        []string // characteristics that cannot be judged for sure
	Of, Sure   int
	Unsure     bool // diameters are, since a mesh rounds edges
	FromPlan   bool // the plan's scanner has errors of its own
	Percent    float64
}

// say writes a part of the template, each line of it a paragraph.
func (t *text) say(b *strings.Builder, part string) error {
	parsed, err := template.New("").Funcs(template.FuncMap{"short": wording.Short,
		"list": wording.List, "join": func(s []string) string { return strings.Join(s, " ") },
	}).Parse(prose)
	if err != nil {
		return err
	}
	var paragraphs strings.Builder
	if err := parsed.ExecuteTemplate(&paragraphs, part, t); err != nil {
		return err
	}
	for line := range strings.Lines(paragraphs.String()) {
		indent := ""
		if strings.HasPrefix(line, "Not forecast: ") {
			indent = "  "
		}
		b.WriteString(wording.Wrap(line, indent))
	}
	return nil
}

func (e *Expected) name() string {
	return e.Feature + " " + strings.ReplaceAll(string(e.Characteristic), "_", " ")
}

// table writes what is expected of each characteristic.
func (c *Case) table(b *strings.Builder) {
	noise := "Noise independent from point to point"
	if c.CorrelationLength != 0 {
		noise = "Noise shared by neighbours over " + wording.Digits(c.CorrelationLength) + " mm"
	}
	b.WriteString("\n" + wording.Wrap(fmt.Sprintf("%s (%s points a scan, %d scans)", noise,
		wording.Digits(float64(c.Points)), c.Trials), ""))
	tab := wording.Table{Head: []string{"<characteristic", "band", "stated", "actual", "covered",
		"ratio", "passes", "caught", "<judged", "seen"}}
	for i := range c.Expected {
		tab.Add(c.Expected[i].cells()...)
	}
	tab.Write(b)
	if !c.Stable {
		b.WriteString(wording.Wrap(fmt.Sprintf("These figures are not stable yet: the least sure of "+
			"the stated ones is good to %s %% after %d scans (one standard error).",
			wording.Digits(100*c.Worst), c.Trials), ""))
	}
}

func (e *Expected) cells() []string {
	name := e.name()
	if e.Count > 1 {
		name += fmt.Sprintf(" (%d)", e.Count)
	}
	cells := make([]string, 10)
	cells[0], cells[1], cells[8] = name, wording.Band(e.Lower, e.Upper)+" "+e.Unit, string(e.Answer)
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
