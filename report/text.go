package report

import (
	"io"
	"strings"

	"spotface/report/wording"
)

// WriteText writes the report for a person: first what they want to know, then
// the numbers, then what would settle an open point, then what was scanned and
// what to do next. Lengths are millimetres, angles degrees.
func WriteText(w io.Writer, rep *Report) error {
	if err := checkFinite(rep); err != nil {
		return err
	}
	t := &text{rep: rep}
	t.headline()
	t.scaleWarning()
	for i := range rep.BoltCircles {
		t.circle(&rep.BoltCircles[i])
	}
	t.looseHoles()
	t.surfaces()
	t.budgets()
	t.openPoints()
	t.notes()
	t.scan()
	t.next()
	_, err := io.WriteString(w, t.b.String())
	return err
}

// text gathers the report. Each section starts with a blank line but the first.
type text struct {
	rep *Report
	b   strings.Builder
}

func (t *text) line(parts ...string) {
	for _, p := range parts {
		t.b.WriteString(p)
	}
	t.b.WriteByte('\n')
}

// section starts a new section.
func (t *text) section() {
	if t.b.Len() > 0 {
		t.b.WriteByte('\n')
	}
}

// paragraph writes s wrapped at spaces, further lines indented by indent.
func (t *text) paragraph(s, indent string) { t.b.WriteString(wording.Wrap(s, indent)) }

// result returns the judged characteristic of a feature of the scan, or nil.
func (t *text) result(scanID string, what Characteristic) *Result {
	for i := range t.rep.Results {
		r := &t.rep.Results[i]
		if r.Characteristic == what && r.Verdict != Missing && r.scanID() == scanID {
			return r
		}
	}
	return nil
}

// scanID is the feature's id in the scan.
func (r *Result) scanID() string {
	if r.Matched != "" {
		return r.Matched
	}
	return r.Feature
}

// mainCircle returns the circle the frame is clocked by, else the one with most
// holes, or nil.
func (rep *Report) mainCircle() *BoltCircle {
	var best *BoltCircle
	for i := range rep.BoltCircles {
		c := &rep.BoltCircles[i]
		if rep.Frame != nil {
			for _, h := range c.Holes {
				if h == rep.Frame.Clock {
					return c
				}
			}
		}
		if best == nil || len(c.Holes) > len(best.Holes) {
			best = c
		}
	}
	return best
}
