package batch

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"spotface/report"
	"spotface/report/wording"
)

// Schema is the name and version of a summary's JSON form.
const Schema = "spotface-summary/1"

// Summary is what many parts show together. What does not apply is absent.
type Summary struct {
	Schema string `json:"schema"`
	Part   string `json:"part"`
	Plan   string `json:"plan"`  // its file
	Scans  int    `json:"scans"` // each counted once
	Parts  int    `json:"parts"` // that have a report
	// Conforming and so on count parts by their verdict.
	Conforming    int `json:"conforming"`
	Nonconforming int `json:"nonconforming"`
	Indeterminate int `json:"indeterminate"`

	Characteristics []Characteristic `json:"characteristics"`
	Drifts          []Drift          `json:"drifts"`
	// LookFirst are the parts that lack something, are farthest out of a band or nearest to
	// a limit.
	LookFirst  []Look     `json:"look_first"`
	Unusable   []Unusable `json:"unusable,omitempty"`
	Duplicates []string   `json:"duplicates,omitempty"` // scans that were there before
	Notes      []string   `json:"notes,omitempty"`      // complete sentences
}

// Unusable is a scan that could not be measured.
type Unusable struct {
	Path  string `json:"path"`
	Error string `json:"error"`
}

// Look is a part to look at, and why.
type Look struct {
	Part string `json:"part"`
	Why  string `json:"why"`
	// BandUsed is 1 where a value lies on a limit, more outside; absent where something is
	// missing.
	BandUsed float64 `json:"band_used,omitempty"`
}

// Characteristic is one characteristic over all parts. Mean, Spread, Smallest and Largest
// are of deviations, measured less nominal.
type Characteristic struct {
	Feature        string                `json:"feature"`
	Characteristic report.Characteristic `json:"characteristic"`
	Unit           string                `json:"unit,omitempty"`
	Nominal        *float64              `json:"nominal,omitempty"`
	Lower          *float64              `json:"lower,omitempty"`
	Upper          *float64              `json:"upper,omitempty"`
	// BandVaries says that parts have bands of their own; Lower and Upper are absent.
	BandVaries bool     `json:"band_varies,omitempty"`
	Shown      int      `json:"shown"`    // parts that show it
	Missing    int      `json:"missing"`  // parts that do not
	Measured   int      `json:"measured"` // parts that have a number for it
	Mean       *float64 `json:"mean,omitempty"`
	MeanU      float64  `json:"mean_uncertainty,omitempty"`
	Spread     *float64 `json:"spread,omitempty"` // standard deviation
	Smallest   *Extreme `json:"smallest,omitempty"`
	Largest    *Extreme `json:"largest,omitempty"`
	// Trend is the change over the whole batch, by a straight line.
	Trend      *Trend      `json:"trend,omitempty"`
	Split      *Split      `json:"split,omitempty"`
	Normality  *Normality  `json:"normality,omitempty"`
	Capability *Capability `json:"capability,omitempty"`
	Inside     *Share      `json:"inside,omitempty"`
	Chart      *Chart      `json:"chart,omitempty"`
	used       float64     // of the band, most of all parts
}

// Extreme is the smallest or largest deviation and whose it is.
type Extreme struct {
	Deviation float64 `json:"deviation"`
	Part      string  `json:"part"`
}

// Trend is the change from the first part to the last.
type Trend struct {
	Change      float64 `json:"change"`
	Uncertainty float64 `json:"uncertainty"`
}

// Summary sums up what was read; it is the last that is asked of a batch. One without any
// scan is an error.
func (b *Batch) Summary() (*Summary, error) {
	order := b.order()
	s := &Summary{Schema: Schema, Part: b.plan.Part, Plan: b.plan.File, Parts: len(b.parts),
		Unusable:   slices.DeleteFunc(b.unusable, func(u Unusable) bool { return b.seen[u.Path] }),
		Duplicates: b.duplicates, Notes: b.notes, LookFirst: b.lookFirst(order)}
	if s.Scans = s.Parts + len(s.Unusable); s.Scans == 0 {
		return nil, errors.New("there is no result: check some scans first")
	}
	if b.lists && len(b.numbers) > 1 {
		s.Notes = append(s.Notes, "The results are of several lists of scans: their order is that "+
			"in which they were given.")
	}
	if b.ambiguous > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("In %s a ring fits the plan at several turns: which of "+
			"its holes is which may change from part to part. A feature beside the axis, with its "+
			"place (at) in the plan, would tell them apart.", wording.Things(b.ambiguous, "part")))
	}
	names := make([]string, len(order))
	for to, from := range order {
		names[to] = b.parts[from].name
		switch b.parts[from].verdict {
		case report.Conforming:
			s.Conforming++
		case report.Indeterminate:
			s.Indeterminate++
		default:
			s.Nonconforming++
		}
	}
	rows := b.table(order)
	for _, w := range rows {
		w.sumUp(names)
		s.Characteristics = append(s.Characteristics, w.Characteristic)
	}
	s.Drifts = drifts(rows, len(names))
	return s, nil
}

// numbers returns the parts that have a number, and their numbers.
func numbers(v []float64) (at, y []float64) {
	for i, x := range v {
		if !math.IsNaN(x) {
			at, y = append(at, float64(i)), append(y, x)
		}
	}
	return at, y
}

// sumUp fills the row's figures in.
func (w *row) sumUp(names []string) {
	at, y := numbers(w.dev)
	n := len(y)
	w.Missing, w.Measured = len(names)-w.Shown, n
	if n == 0 {
		return
	}
	mean, sd := stat.MeanStdDev(y, nil)
	extreme := func(sign float64) *Extreme {
		most := 0
		for i := range y {
			if sign*y[i] > sign*y[most] {
				most = i
			}
		}
		return &Extreme{y[most], names[int(at[most])]}
	}
	w.Mean, w.Smallest, w.Largest = &mean, extreme(-1), extreme(1)
	banded := w.Lower != nil || w.Upper != nil || w.BandVaries
	if banded {
		w.Inside = shareOf(w.inside, n, confidence)
	}
	if w.BandVaries {
		w.Lower, w.Upper = nil, nil
	}
	if n < 2 {
		return
	}
	w.Spread, w.MeanU = &sd, meanU(sd, n)
	if !(sd > 0) {
		return // measured all alike: there is nothing more to say
	}
	if n > 2 {
		w.Trend = fitLine(at, y).over(len(names))
	}
	if _, noise := numbers(w.noise); len(noise) == n { // else some do not say how sure they are
		w.Split = split(sd, n, stat.Mean(noise, nil))
	}
	if n >= leastNormal {
		w.Normality = normality(y, mean, sd)
	}
	if n >= leastCapability && w.Normality.Passes && banded && !w.BandVaries {
		w.Capability = capability(mean, sd, n, w.Lower, w.Upper)
	}
	if n >= leastChart {
		w.Chart = newChart(y)
		for i := range w.Chart.Signals {
			w.Chart.Signals[i].Part = names[int(at[w.Chart.Signals[i].At])]
		}
	}
}

// lookFirst lists the parts by their worst characteristic.
func (b *Batch) lookFirst(order []int) []Look {
	order = slices.Clone(order)
	slices.SortStableFunc(order, func(i, j int) int {
		return cmp.Compare(b.parts[j].worst, b.parts[i].worst)
	})
	var out []Look
	for _, i := range order[:min(mostParts, len(order))] {
		p := &b.parts[i]
		l := Look{Part: p.name, Why: p.why}
		if !math.IsInf(p.worst, 0) {
			l.BandUsed = p.worst
		}
		out = append(out, l)
	}
	return out
}
