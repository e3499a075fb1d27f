package report

import "slices"

// Judgement is how a measured part compares with a plan, as report/check finds it.
type Judgement struct {
	Part         string // the plan's
	Revision     string // the plan's
	PlanChecksum string // the plan's
	// Results are the judged characteristics, in the plan's order; Verdict is that of
	// the whole, by the rule of Decision.
	Results  []Result
	Verdict  Verdict
	Decision Rule
	// Notes are complete sentences about how the plan was matched to the scan.
	Notes []string
	// Warnings are complete sentences about plan and scan that may make the verdicts wrong.
	Warnings []string
	// Scale compares the scan with lengths taken by hand; nil: there are none.
	Scale *Scale
	// Frame is the datum frame where the plan wants it, and BoltCircles are the
	// report's, those that the plan names counted and clocked as it has them.
	Frame       *Frame
	BoltCircles []BoltCircle
	// Corrected holds by id the sizes of holes, studs, cylinders and bolt circles as the plan
	// corrects them, or makes them less sure.
	Corrected map[string]*Corrected
}

// Judged returns a copy of rep that shows the judgement j of it: what text, JSON and the
// other outputs are made from. rep is not changed.
func (rep *Report) Judged(j *Judgement) *Report {
	out := *rep
	out.Part, out.Results, out.Verdict, out.Decision = j.Part, j.Results, j.Verdict, j.Decision
	if len(j.Warnings) > 0 {
		out.Scan.Warnings = slices.Concat(j.Warnings, rep.Scan.Warnings)
	}
	if rep.Record != nil || j.Revision != "" {
		out.Record = &Record{}
		if rep.Record != nil {
			*out.Record = *rep.Record
		}
		out.Record.Revision = j.Revision
	}
	out.PlanChecksum = j.PlanChecksum
	out.Notes, out.Scale, out.Frame = j.Notes, j.Scale, j.Frame
	hole := func(h *Hole) { h.Corrected = j.Corrected[h.ID] }
	out.Holes, out.Studs = changed(rep.Holes, hole), changed(rep.Studs, hole)
	out.place()
	if rep.Bore != nil {
		out.Bore = &changed([]Hole{*rep.Bore}, hole)[0]
	}
	out.Cylinders = changed(rep.Cylinders, func(c *Cylinder) { c.Corrected = j.Corrected[c.ID] })
	out.BoltCircles = changed(j.BoltCircles, func(c *BoltCircle) { c.Corrected = j.Corrected[c.ID] })
	return &out
}
