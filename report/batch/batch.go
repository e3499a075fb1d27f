// Package batch sums up many parts that were checked by one plan: for each characteristic
// mean, spread, trend, capability and control chart, which hole drifts, and which parts to
// look at first. It also defines the lines of results that such a batch is kept in.
//
// Input are the results of check, as JSON lines or as reports. Lengths are millimetres (or
// inches, where asked for), angles degrees; figures are deviations, measured less nominal.
// It measures and judges nothing, and it says nothing about parts that were not scanned.
//
// Intervals hold with 95 %. Sources:
//   - capability, its intervals, control charts and the rules by which they signal, share of
//     a count: NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.1.6, 6.3.2, 7.2.4;
//   - the rules themselves: Western Electric, Statistical Quality Control Handbook (1956);
//   - the test of normality: Anderson & Darling (1954), with the corrections and limits of
//     D'Agostino & Stephens, Goodness-of-Fit Techniques (1986), table 4.7;
//   - the share of a count: Clopper & Pearson, Biometrika 26 (1934).
package batch

import (
	"cmp"
	"context"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"spotface/report"
	"spotface/report/check"
	"spotface/report/plan"
	"spotface/report/wording"
)

// Batch collects the results of many scans, checked by one plan.
type Batch struct {
	// Inches asks for lengths in inches instead of millimetres; set it before Read.
	Inches bool

	plan       *plan.Plan
	parts      []part
	unusable   []Unusable
	duplicates []string
	notes      []string
	seen       map[string]bool // names of scans that have a report, and checksums of their files
	numbers    map[int]bool
	ambiguous  int         // parts with a ring that fits at several turns
	lists      bool        // numbers come twice or not at all: the results are of several lists
	asked      map[key]int // place in the plan, of a circle's holes one for all
	rows       map[key]*row
}

// part is one scan's.
type part struct {
	name    string
	number  int
	verdict report.Verdict
	// worst is how much of its band the worst characteristic uses, 1 at a limit, and why
	// says which it is.
	worst float64
	why   string
}

// key is a characteristic of a feature.
type key struct {
	feature string
	what    report.Characteristic
}

func (k key) name() string { return k.feature + " " + words(k.what) }

// hole divides the name of a circle's hole or spacing, B1/H2 or B1/H2-H3, into circle and
// place; of anything else the place is 0.
func (k key) hole() (of key, place int) {
	circle, hole, ok := strings.Cut(k.feature, "/H")
	if !ok {
		return k, 0
	}
	hole, _, _ = strings.Cut(hole, "-")
	place, _ = strconv.Atoi(hole)
	return key{circle, k.what}, place
}

// row is what the parts show of one characteristic: numbers by part, NaN where one has none.
type row struct {
	Characteristic
	inside     int
	dev, noise []float64 // deviation; variance that changes from scan to scan
}

// New returns a batch without parts. The plan is the one that they were checked by.
func New(p *plan.Plan) (*Batch, error) {
	// What the plan asks for is what a scan without anything is missing.
	j, err := check.Check(p, &report.Report{Schema: report.Schema})
	if err != nil {
		return nil, err
	}
	b := &Batch{plan: p, seen: make(map[string]bool), numbers: make(map[int]bool),
		asked: make(map[key]int), rows: make(map[key]*row)}
	for i, r := range j.Results {
		k := key{r.Feature, r.Characteristic}
		b.asked[k] = i
		b.row(k)
	}
	return b, nil
}

// Read adds the results in a file: JSON lines, a report, or a list of reports. Those of
// another plan or version are an error that names them. A scan that was added before is not
// counted again.
func (b *Batch) Read(ctx context.Context, name string, in io.Reader) error {
	_, cut, err := records(ctx, b.plan, name, in, b.add)
	if cut {
		b.notes = append(b.notes, "The last result in "+name+" is cut and was not counted: go on "+
			"with check --skip-done.")
	}
	return err
}

func (b *Batch) add(rec *record) {
	name := rec.name()
	if rec.Error != "" {
		if slices.ContainsFunc(b.unusable, func(u Unusable) bool { return u.Path == name }) {
			b.duplicates = append(b.duplicates, name)
		} else {
			b.unusable = append(b.unusable, Unusable{name, rec.Error})
		}
		return
	}
	id := cmp.Or(rec.Scan.SHA256, name)
	if b.seen[id] {
		b.duplicates = append(b.duplicates, name)
		return
	}
	b.seen[id], b.seen[name] = true, true
	b.lists = b.lists || rec.Number == 0 || b.numbers[rec.Number]
	b.numbers[rec.Number] = true
	if slices.ContainsFunc(rec.Notes, func(n string) bool {
		return strings.Contains(n, check.Ambiguous)
	}) {
		b.ambiguous++
	}
	p := part{name: name, number: rec.Number, verdict: rec.Verdict}
	for i := range rec.Results {
		r := &rec.Results[i]
		k := key{r.Feature, r.Characteristic}
		used, why := math.Inf(1), k.name()+" "+string(r.Verdict)
		if r.Verdict != report.Missing {
			w := b.row(k)
			w.Shown++
			if r.Deviation != nil {
				used, why = b.number(w, r)
			}
		}
		if used > p.worst && (r.Verdict != report.Conforming || r.Deviation != nil) {
			p.worst, p.why = used, why
		}
	}
	b.parts = append(b.parts, p)
}

func (b *Batch) row(k key) *row {
	w := b.rows[k]
	if w == nil {
		w = &row{Characteristic: Characteristic{Feature: k.feature, Characteristic: k.what}}
		b.rows[k] = w
	}
	return w
}

// number adds a number to its row. It returns how much of its band it uses, and says so.
func (b *Batch) number(w *row, r *report.Result) (used float64, why string) {
	if b.Inches {
		toInches(r)
	}
	dev := *r.Deviation
	if len(w.dev) == 0 {
		w.Unit, w.Lower, w.Upper, w.Nominal = r.Unit, r.Lower, r.Upper, r.Nominal
	}
	w.BandVaries = w.BandVaries || !same(w.Lower, r.Lower) || !same(w.Upper, r.Upper)
	if !same(w.Nominal, r.Nominal) {
		w.Nominal = nil
	}
	if used = use(dev, r.Lower, r.Upper); used <= 1 {
		w.inside++
	}
	w.used = max(w.used, used)
	noise := math.NaN()
	if r.Uncertainty > 0 {
		noise = 0
	}
	for _, l := range r.Budget { // what is not the same for all scans of this scanner
		if l.FromScan() && l.Source != report.SourceSmoothing {
			noise += l.Contribution * l.Contribution
		}
	}
	w.upTo(len(b.parts))
	w.dev, w.noise = append(w.dev, dev), append(w.noise, noise)
	return used, w.key().name() + " " + wording.Signed(dev, decimals(w.Unit)) + " " + inWords(w.Unit)
}

func toInches(r *report.Result) {
	if r.Unit != "mm" {
		return
	}
	r.Unit = "in"
	lengths := []*float64{r.Deviation, r.Nominal, r.Lower, r.Upper}
	for i := range r.Budget {
		lengths = append(lengths, &r.Budget[i].Contribution)
	}
	for _, v := range lengths {
		if v != nil {
			*v /= 25.4
		}
	}
}

// upTo fills up the numbers of so many parts.
func (w *row) upTo(parts int) {
	for len(w.dev) < parts {
		w.dev, w.noise = append(w.dev, math.NaN()), append(w.noise, math.NaN())
	}
}

func same(a, b *float64) bool { return a == b || a != nil && b != nil && *a == *b }

// use is how much of its band a deviation uses: 0 in the middle of two limits, 1 at a
// limit, more outside. Where the only limit is zero there is no measure of it: 0 or 2.
func use(dev float64, lower, upper *float64) float64 {
	switch {
	case lower == nil && upper == nil:
		return 0
	case upper == nil:
		dev, upper = -dev, new(-*lower)
	case lower != nil:
		return math.Abs(dev-(*lower+*upper)/2) / ((*upper - *lower) / 2)
	}
	switch {
	case *upper != 0:
		return max(0, 1+(dev-*upper)/math.Abs(*upper))
	case dev > 0:
		return 2
	}
	return 0
}

// order returns the parts in the order of the list that they were checked from, or, where
// their numbers are of several lists, as they were read.
func (b *Batch) order() []int {
	order := make([]int, len(b.parts))
	for i := range order {
		order[i] = i
	}
	if !b.lists {
		slices.SortFunc(order, func(i, j int) int {
			return cmp.Compare(b.parts[i].number, b.parts[j].number)
		})
	}
	return order
}

// table returns the rows in the plan's order, those of a circle's holes by their place, with
// their numbers in the order of the parts.
func (b *Batch) table(order []int) []*row {
	holes := make(map[key]bool) // what the holes of a circle show
	for k := range b.rows {
		if of, place := k.hole(); place > 0 {
			holes[of] = true
		}
	}
	var out []*row
	for k, w := range b.rows {
		if w.Shown == 0 && holes[k] {
			continue // the holes say it one by one
		}
		out = append(out, w)
		w.upTo(len(order))
		dev, noise := slices.Clone(w.dev), slices.Clone(w.noise)
		for to, from := range order {
			w.dev[to], w.noise[to] = dev[from], noise[from]
		}
	}
	slices.SortFunc(out, func(v, w *row) int {
		of, i := v.key().hole()
		like, j := w.key().hole()
		return cmp.Or(cmp.Compare(b.place(of), b.place(like)), cmp.Compare(i, j),
			strings.Compare(v.key().name(), w.key().name()))
	})
	return out
}

// place is where the plan asks for it; reference lengths, which no empty scan lacks, come last.
func (b *Batch) place(k key) int {
	if i, ok := b.asked[k]; ok {
		return i
	}
	return len(b.asked)
}
