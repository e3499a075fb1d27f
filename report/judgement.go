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
	out.Holes, out.Studs = slices.Clone(rep.Holes), slices.Clone(rep.Studs)
	out.place()
	out.Cylinders = slices.Clone(rep.Cylinders)
	for _, list := range [][]Hole{out.Holes, out.Studs} {
		for i := range list {
			list[i].Corrected = j.Corrected[list[i].ID]
		}
	}
	for i := range out.Cylinders {
		out.Cylinders[i].Corrected = j.Corrected[out.Cylinders[i].ID]
	}
	if rep.Bore != nil {
		bore := *rep.Bore
		bore.Corrected = j.Corrected[bore.ID]
		out.Bore = &bore
	}
	out.BoltCircles = slices.Clone(j.BoltCircles)
	for i := range out.BoltCircles {
		out.BoltCircles[i].Corrected = j.Corrected[out.BoltCircles[i].ID]
	}
	return &out
}
