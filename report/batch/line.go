package batch

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"spotface/mesh/parallel"
	"spotface/report"
	"spotface/report/plan"
)

// Line is a line of a batch's results: the report of one scan, or why there is none. Its
// names stand beside those of the report, so that a line can be read as a report, too.
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

// record is what a summary needs of a line or of a report.
type record struct {
	Schema       string                `json:"schema"`
	PlanChecksum string                `json:"plan_checksum"`
	Part         string                `json:"part"`
	Number       int                   `json:"number"`
	Path         string                `json:"path"`
	Error        string                `json:"error"`
	Scan         struct{ File string } `json:"scan"`
	Verdict      report.Verdict        `json:"verdict"`
	Results      []result              `json:"results"`
	ended        bool                  // its line has its end
}

// result is a report.Result without what a summary does not use.
type result struct {
	Feature        string                `json:"feature"`
	Characteristic report.Characteristic `json:"characteristic"`
	Nominal        *float64              `json:"nominal"`
	Deviation      *float64              `json:"deviation"`
	Lower          *float64              `json:"lower"`
	Upper          *float64              `json:"upper"`
	Unit           string                `json:"unit"`
	Uncertainty    float64               `json:"uncertainty"`
	Budget         []report.BudgetLine   `json:"budget"`
	Verdict        report.Verdict        `json:"verdict"`
}

// name is what the record is called: its scan's path in the list, else its scan's file.
func (r *record) name() string {
	if r.Path != "" {
		return r.Path
	}
	return r.Scan.File
}

// reader takes records from the results of one plan.
type reader struct {
	plan *plan.Plan
	sum  string
}

func newReader(p *plan.Plan) (*reader, error) {
	sum, err := p.Checksum()
	return &reader{plan: p, sum: sum}, err
}

// refuse says why a record is not of this plan and version.
func (r *reader) refuse(rec *record) error {
	switch {
	case rec.Schema != report.Schema:
		return fmt.Errorf("the schema is %q, not %q: check the scan again with this version",
			rec.Schema, report.Schema)
	case rec.PlanChecksum == "":
		return errors.New("it was measured, not judged: check it by the plan first")
	case rec.PlanChecksum != r.sum:
		return fmt.Errorf("%s was judged by another plan (%q) than %s, or by an earlier state "+
			"of it: check the scan again", rec.name(), rec.Part, r.plan.File)
	}
	return nil
}

// each calls add for every record of JSON lines, of a report, or of a list of reports, in
// their order. It returns how many bytes the whole lines take, and whether a cut one
// follows them. The name is for errors, which say the line.
func (r *reader) each(ctx context.Context, name string, in io.Reader,
	add func(*record)) (whole int64, cut bool, err error) {
	b := bufio.NewReaderSize(in, 1<<16)
	// The first bytes tell lines from reports, which are indented.
	start, _ := b.Peek(2)
	if bytes.HasPrefix(start, []byte("[")) || bytes.HasPrefix(start, []byte("{\n")) {
		return 0, false, r.reports(name, b, start[0] == '[', add)
	}
	for line := 1; ; {
		var lines [][]byte
		size := 0
		for size < blockBytes && err == nil {
			var l []byte
			if l, err = readLine(b); len(l) > 0 {
				lines = append(lines, l)
				size += len(l)
			}
		}
		if err != nil && err != io.EOF {
			return whole, false, fmt.Errorf("%s: line %d: %w", name, line+len(lines), err)
		}
		if n := len(lines); n > 0 && !bytes.HasSuffix(lines[n-1], []byte("\n")) {
			cut = !json.Valid(lines[n-1])
			if cut {
				lines = lines[:n-1]
			}
		}
		recs := make([]record, len(lines))
		bad := make([]error, len(lines))
		perr := parallel.Chunks(ctx, 0, len(lines), 1, func(i, _ int) {
			if len(bytes.TrimSpace(lines[i])) == 0 {
				return
			}
			if bad[i] = json.Unmarshal(lines[i], &recs[i]); bad[i] == nil {
				bad[i] = r.refuse(&recs[i])
			}
		})
		if perr != nil {
			return whole, false, perr
		}
		for i, l := range lines {
			if bad[i] != nil {
				return whole, false, fmt.Errorf("%s: line %d: %w", name, line, bad[i])
			}
			if recs[i].ended = bytes.HasSuffix(l, []byte("\n")); recs[i].ended {
				whole += int64(len(l))
			}
			if recs[i].Schema != "" {
				add(&recs[i])
			}
			line++
		}
		if err == io.EOF {
			return whole, cut, nil
		}
	}
}

// readLine reads a line with its end. One that is longer than any report is an error.
func readLine(b *bufio.Reader) ([]byte, error) {
	var line []byte
	for {
		part, err := b.ReadSlice('\n')
		if line = append(line, part...); len(line) > maxLine {
			return nil, errors.New("it is longer than any report: these are no results")
		}
		if err != bufio.ErrBufferFull {
			return line, err
		}
	}
}

// reports reads one report over many lines, or a list of them.
func (r *reader) reports(name string, in io.Reader, list bool, add func(*record)) error {
	dec := json.NewDecoder(in)
	if list {
		dec.Token()
	}
	for n := 1; dec.More(); n++ {
		var rec record
		err := dec.Decode(&rec)
		if err == nil {
			err = r.refuse(&rec)
		}
		if err != nil {
			return fmt.Errorf("%s: report %d: %w", name, n, err)
		}
		add(&rec)
	}
	return nil
}

// Progress is how far a batch has come, read from the lines that it has written.
type Progress struct {
	// Verdicts are those of the scans that are done, by their path; empty for one that
	// could not be used.
	Verdicts map[string]report.Verdict
	// Size is that of the whole lines, bytes; what follows is a line that was cut.
	Size int64
}

// ReadProgress reads the lines that check wrote by the plan. A cut last line does not
// count. Lines of another plan or version are an error.
func ReadProgress(ctx context.Context, p *plan.Plan, name string, in io.Reader) (*Progress, error) {
	r, err := newReader(p)
	if err != nil {
		return nil, err
	}
	out := &Progress{Verdicts: make(map[string]report.Verdict)}
	out.Size, _, err = r.each(ctx, name, in, func(rec *record) {
		if rec.ended {
			out.Verdicts[rec.Path] = rec.Verdict
		}
	})
	return out, err
}
