package batch

import (
	"bufio"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"spotface/report"
	"spotface/report/plan"
)

// Line is a line of a batch's results: the report of one scan, or why there is none. Its
// names are beside those of the report, so that a line can be read as a report, too.
type Line struct {
	Schema       string `json:"schema"`
	PlanChecksum string `json:"plan_checksum"`
	// Number is the scan's place in the list of the whole batch, from 1, whoever checks it
	// and when; Path is its name in that list.
	Number         int    `json:"number"`
	Path           string `json:"path"`
	Error          string `json:"error,omitempty"`
	*report.Report        // nil where there is an error
}

// Write writes the line, in one piece. It refuses a report that holds a number which is
// not finite.
func (l *Line) Write(w io.Writer) error {
	l.Schema = report.Schema
	if l.Report != nil {
		if err := l.Report.Finite(); err != nil {
			return err
		}
	}
	b, err := json.Marshal(l)
	if err != nil {
		return fmt.Errorf("batch: %w", err)
	}
	_, err = w.Write(append(b, '\n'))
	return err
}

// lineStart is how a line begins.
const lineStart = `{"schema":"spotface-report/`

// record is what a summary needs of a line or of a report.
type record struct {
	Schema       string `json:"schema"`
	PlanChecksum string `json:"plan_checksum"`
	Part         string `json:"part"`
	Number       int    `json:"number"`
	Path         string `json:"path"`
	Error        string `json:"error"`
	Scan         struct {
		File   string `json:"file"`
		SHA256 string `json:"sha256"`
	} `json:"scan"`
	Verdict report.Verdict  `json:"verdict"`
	Notes   []string        `json:"notes"`
	Results []report.Result `json:"results"`
}

// name is what the record is called: its scan's path in the list, else its scan's file.
func (r *record) name() string { return cmp.Or(r.Path, r.Scan.File, "it") }

// refuse says why a record is not of a plan, by its checksum, and of this version.
func (r *record) refuse(p *plan.Plan, sum string) error {
	switch {
	case r.Schema != report.Schema:
		return fmt.Errorf("%s has the schema %q, not %q: check the scan again with this version",
			r.name(), r.Schema, report.Schema)
	case r.PlanChecksum == "":
		return fmt.Errorf("%s was measured, not judged: check it by the plan first", r.name())
	case r.PlanChecksum != sum:
		return fmt.Errorf("%s was judged by another plan (%q) than %s, or by an earlier state of "+
			"it: check the scan again", r.name(), r.Part, p.File)
	}
	return nil
}

// records calls add for every result in a file: JSON lines, a report, or a list of reports.
// It returns where the last whole one ends, and whether a cut one follows. An error says
// which result of the file it is about.
func records(ctx context.Context, p *plan.Plan, name string, in io.Reader,
	add func(*record)) (end int64, cut bool, err error) {
	sum, err := p.Checksum()
	if err != nil {
		return 0, false, err
	}
	b := bufio.NewReader(in)
	dec := json.NewDecoder(b)
	start, _ := b.Peek(len(lineStart))
	if strings.HasPrefix(string(start), "[") {
		dec.Token()
	}
	for n := 1; dec.More(); n++ {
		var r record
		err := dec.Decode(&r)
		if errors.Is(err, io.ErrUnexpectedEOF) && (n > 1 || strings.HasPrefix(lineStart, string(start))) {
			return end, true, nil
		}
		if err == nil {
			err = r.refuse(p, sum)
		} else {
			err = fmt.Errorf("%w: give the reports or lines that check wrote as JSON", err)
		}
		if err = cmp.Or(err, ctx.Err()); err != nil {
			return end, false, fmt.Errorf("%s: result %d: %w", name, n, err)
		}
		add(&r)
		end = dec.InputOffset()
	}
	return end, false, nil
}

// Progress is how far a batch has come, read from the lines that it has written.
type Progress struct {
	// Verdicts are those of the scans that are done, by their path; empty for one that
	// could not be used.
	Verdicts map[string]report.Verdict
	// Size, bytes, is where the last whole result ends; what follows is to be written
	// anew, first the end of that line.
	Size int64
}

// ReadProgress reads the lines that check wrote by the plan. A cut last one does not count.
// Lines of another plan or version are an error.
func ReadProgress(ctx context.Context, p *plan.Plan, name string, in io.Reader) (*Progress, error) {
	out := &Progress{Verdicts: make(map[string]report.Verdict)}
	var err error
	out.Size, _, err = records(ctx, p, name, in, func(r *record) { out.Verdicts[r.Path] = r.Verdict })
	return out, err
}
