package report

import "math"

// Change is how a characteristic differs from what another scan shows of it.
type Change struct {
	By float64 `json:"by"` // this scan's measured value less the other's, in the result's unit
	// Uncertainty is that of By, expanded: both results' together, as if they were independent.
	// What scans share (a coat, the scanner's scale) makes it too large, so that a change that
	// is Beyond it is one.
	Uncertainty float64 `json:"uncertainty"`
	Beyond      bool    `json:"beyond"` // By is more than Uncertainty
}

// Since returns a copy of a judged report whose results say how they differ from those of
// another scan, judged by the same plan: of the same part before, say. rep is not changed.
func (rep *Report) Since(before *Report) *Report {
	type of struct {
		feature string
		what    Characteristic
	}
	was := make(map[of]*Result)
	for i := range before.Results {
		r := &before.Results[i]
		was[of{r.Feature, r.Characteristic}] = r
	}
	out := *rep
	out.Results = make([]Result, len(rep.Results))
	for i, r := range rep.Results {
		r.Change = nil
		if w := was[of{r.Feature, r.Characteristic}]; w != nil && w.Measured != nil &&
			r.Measured != nil &&
			w.Uncertainty > 0 && r.Uncertainty > 0 {
			c := Change{By: *r.Measured - *w.Measured, Uncertainty: math.Hypot(r.Uncertainty, w.Uncertainty)}
			c.Beyond = math.Abs(c.By) > c.Uncertainty
			r.Change = &c
		}
		out.Results[i] = r
	}
	return &out
}
