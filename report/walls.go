package report

import "spotface/bolt"

// wallsAsHoles gives each cylinder that is the wall of a hole, a stud or the bore the
// diameter of that, so that one wall has one diameter. The noise model of holes knows more
// of what neighbouring points share than the residuals of one cylinder do: its place and
// how it leans are no surer than that says.
func (rep *Report) wallsAsHoles() {
	for i := range rep.Cylinders {
		c := &rep.Cylinders[i]
		h := rep.wallOf(c.ID)
		if h == nil {
			continue
		}
		c.Diameter = h.Diameter
		c.Uncertainty.Diameter, c.Uncertainty.DiameterUnseen = h.Uncertainty.Diameter, h.Uncertainty.DiameterUnseen
		c.Uncertainty.Point = max(c.Uncertainty.Point, h.Uncertainty.Centre)
		b := h.asBolt()
		c.Uncertainty.AxisDeg = max(c.Uncertainty.AxisDeg, degrees(studentRadius95(b.LeanCov, b.CentreDOF)))
	}
}

// wallOf returns the round hole, stud or bore whose wall is the cylinder called id, or nil.
func (rep *Report) wallOf(id string) *Hole {
	lists := [][]Hole{rep.Holes, rep.Studs}
	if rep.Bore != nil {
		lists = append(lists, []Hole{*rep.Bore})
	}
	for _, list := range lists {
		for i := range list {
			if h := &list[i]; h.Wall == id && h.Kind == string(bolt.Round) {
				return h
			}
		}
	}
	return nil
}
