package check

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spotface/bolt"
	"spotface/bolt/pattern"
	"spotface/report"
	"spotface/report/plan"
	"spotface/report/wording"
)

// Adopt returns the report in its datum frame with the plan's nominal sizes and places in
// place of the measured ones, and a sentence about each feature that says how far the
// nominal is from what was measured. What the plan does not name stays as measured. It is
// for drawing the part that is meant; uncertainties are those of the measurement.
//
// The holes of a bolt circle take their planned angles about the frame's axis: counted from
// the hole that clocks the frame, or turned to their best fit if that is not one of them.
func Adopt(p *plan.Plan, rep *report.Report) (*report.Report, []string, error) {
	c, err := newChecker(p, rep)
	if err != nil {
		return nil, nil, err
	}
	p = c.plan
	measured := *rep
	measured.Frame, measured.BoltCircles = c.frame, c.circled
	out, err := report.InDatumFrame(&measured)
	if err != nil {
		return nil, nil, err
	}
	a := &adopter{out: out}
	for i := range p.BoltCircles {
		if c.circles[i].err != nil {
			a.say("%s was not found in the scan.", p.BoltCircles[i].ID)
			continue
		}
		if err := a.circle(&p.BoltCircles[i], &out.BoltCircles[c.circles[i].at]); err != nil {
			return nil, nil, err
		}
	}
	for _, k := range c.kinds[:planes] {
		for _, w := range k.wanted {
			a.single(&w)
		}
	}
	return out, a.said, nil
}

type adopter struct {
	out  *report.Report // in its datum frame
	said []string
}

func (a *adopter) say(s string, v ...any) { a.said = append(a.said, fmt.Sprintf(s, v...)) }

// single adopts the size of a hole or a cylinder, and the place of a hole.
func (a *adopter) single(w *wanted) {
	switch seen := w.shown; {
	case seen == nil:
		a.say("%s was not found in the scan.", w.ID)
	case seen.hole != nil:
		h, moved := a.out.Hole(seen.id), ""
		if w.At != nil {
			if d := a.move(h, [2]float64{w.At[0], w.At[1]}); d > 0 {
				moved = fmt.Sprintf(", %.3f mm from where it was measured", d)
			}
		}
		a.say("%s: %s%s.", w.ID, a.sized(w.Size, &h.Diameter), moved)
	case w.Size != nil:
		to := a.out.Cylinder(seen.id)
		a.say("%s: %s.", w.ID, a.sized(w.Size, &to.Diameter))
		if stud := a.out.Hole(seen.id); stud != nil {
			stud.Diameter = to.Diameter
		}
	}
}

// sized adopts a diameter, mm, and says so.
func (a *adopter) sized(s *plan.Size, d *float64) string {
	if s == nil {
		return fmt.Sprintf("diameter %.3f mm as measured", *d)
	}
	text := fmt.Sprintf("diameter %s mm (measured %.3f)", wording.Short(s.Nominal), *d)
	*d = s.Nominal
	return text
}

// move puts a hole at a place in the frame, mm, and returns how far that is.
func (a *adopter) move(h *report.Hole, xy [2]float64) float64 {
	d := math.Hypot(h.Centre[0]-xy[0], h.Centre[1]-xy[1])
	h.Centre[0], h.Centre[1] = xy[0], xy[1]
	return d
}

func (a *adopter) circle(p *plan.Circle, k *report.BoltCircle) error {
	ids, nominal, radius := nominalPlaces(p, k)
	var centre [2]float64
	copy(centre[:], p.At)
	turn := 0.0
	if first := slices.Index(ids, a.out.Frame.Clock); first >= 0 {
		turn = -*k.Clocking[first].NominalDeg
	} else {
		places := pattern.Places{Cov: mat.NewSymDense(2*len(ids), nil)}
		for _, id := range ids {
			h := a.out.Hole(id)
			places.XY = append(places.XY, [2]float64{h.Centre[0], h.Centre[1]})
		}
		laid, err := pattern.To(nominal, places, pattern.Options{Centre: &centre})
		if err != nil {
			return fmt.Errorf("%s: %w", p.ID, err)
		}
		turn = laid.Turn.Degrees()
	}
	worst, hole := -1.0, ""
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, g := range k.Clocking {
		h := a.out.Hole(g.Hole)
		to := polar(radius, *g.NominalDeg+turn)
		if d := a.move(h, [2]float64{centre[0] + to[0], centre[1] + to[1]}); d > worst {
			worst, hole = d, g.Hole
		}
		if h.Kind == string(bolt.Round) {
			lo, hi = min(lo, h.Diameter), max(hi, h.Diameter)
			if p.HoleDiameter != nil {
				h.Diameter = p.HoleDiameter.Nominal
			}
		}
	}
	text := fmt.Sprintf("%s: pitch diameter %s mm (measured %.3f)", p.ID, wording.Short(2*radius),
		k.PitchDiameter)
	if p.HoleDiameter != nil && lo <= hi {
		text += fmt.Sprintf(", holes %s mm (measured %.3f to %.3f)",
			wording.Short(p.HoleDiameter.Nominal), lo, hi)
	}
	a.say("%s; %s is farthest from its planned place: %.3f mm.", text, hole, worst)
	return nil
}
