package report

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"spotface/bolt"
	"spotface/bolt/pattern"
	"spotface/report/wording"
)

// unitTolerance is by how much the length of a direction in a report may differ from one:
// more than its digits make it, so that the report was damaged.
const unitTolerance = 1e-6

// BoltUpSchema names the layout of BoltUp's JSON.
const BoltUpSchema = "spotface-boltup/1"

// Pattern is the holes of a part that fasteners go through, as a drawing has them: in a
// plane, counter-clockwise seen from outside.
type Pattern struct {
	Name     string    // of the file
	IDs      []string  // of the holes
	Diameter []float64 // mm
	part     pattern.Part
}

// PatternOf takes the holes of the bolt circle with most holes or, without a bolt circle,
// the round holes of the mounting face.
func PatternOf(name string, rep *Report) (*Pattern, error) {
	var ids []string
	var centre, axis Vec
	for _, c := range rep.BoltCircles {
		if len(c.Holes) > len(ids) {
			ids, centre, axis = c.Holes, c.Centre, c.Axis
		}
	}
	if ids == nil && rep.Frame != nil {
		centre, axis = rep.Frame.Origin, rep.Frame.Z
		for _, h := range rep.Holes {
			if h.Face == rep.Frame.Face && h.Kind == string(bolt.Round) {
				ids = append(ids, h.ID)
			}
		}
	}
	if len(ids) < 2 {
		return nil, fmt.Errorf("%s: fewer than two round holes on one face: there is no pattern to bolt up", name)
	}
	p := &Pattern{Name: name, IDs: ids}
	for _, id := range ids {
		k := rep.Hole(id)
		if k == nil || !(k.Diameter > 0) || math.Abs(k.Axis.R3().Norm()-1) > unitTolerance || math.Abs(axis.R3().Norm()-1) > unitTolerance {
			return nil, fmt.Errorf("%s: hole %s of the pattern has no place, axis or diameter: measure the scan again", name, id)
		}
		p.Diameter = append(p.Diameter, k.Diameter)
		p.part.ClearanceU = append(p.part.ClearanceU, k.Uncertainty.Diameter/Coverage/2)
	}
	p.part.Places = bolt.PlacesOf(rep.BoltHoles(ids...), centre.R3(), axis.R3())
	return p, nil
}

// NewPattern is a pattern of exact places, mm, in a plane, seen from outside.
func NewPattern(name string, ids []string, places [][2]float64, diameter []float64) *Pattern {
	p := &Pattern{Name: name, IDs: ids, Diameter: diameter}
	p.part.XY, p.part.Cov = places, mat.NewSymDense(2*len(ids), nil)
	p.part.ClearanceU = make([]float64, len(ids))
	return p
}

// turnedOver is the pattern seen from its other side.
func (p *Pattern) turnedOver() pattern.Part {
	q := p.part
	q.XY = slices.Clone(q.XY)
	n := len(q.XY)
	q.Cov = mat.NewSymDense(2*n, nil)
	for i := range q.XY {
		q.XY[i][0] = -q.XY[i][0]
	}
	for i := range 2 * n {
		for j := i; j < 2*n; j++ {
			sign := float64(1 - 2*((i+j)%2))
			q.Cov.SetSym(i, j, sign*p.part.Cov.At(i, j))
		}
	}
	return q
}

// BoltUpOptions of NewBoltUp. The zero value means parts that were both looked at on
// their mating faces, and the largest standard fastener that enters all holes.
type BoltUpOptions struct {
	Fastener             float64 // diameter, mm
	AFromBack, BFromBack bool    // the part was seen from the side away from the joint
	Seed                 uint64  // of the draws of the probability
}

// BoltUp says whether two parts go together.
type BoltUp struct {
	Schema   string      `json:"schema"`
	A        string      `json:"a"`
	B        string      `json:"b"`
	Fastener float64     `json:"fastener"` // diameter, mm
	Ways     []BoltUpWay `json:"ways"`     // most float first; none: the patterns differ
	Largest  float64     `json:"largest_fastener,omitempty"`
	Verdict  Verdict     `json:"verdict"`
}

// BoltUpWay is one clocking of part B on part A.
type BoltUpWay struct {
	Pairs       []BoltUpPair `json:"pairs"`
	Spare       float64      `json:"spare"` // least float, mm; negative: so much is lacking
	Worst       int          `json:"worst"` // index into Pairs
	Probability float64      `json:"probability"`
}

// BoltUpPair is two holes that share a fastener, and the radial float that is left, mm.
type BoltUpPair struct {
	A     string  `json:"a"`
	B     string  `json:"b"`
	Float float64 `json:"float"`
}

// standardFasteners are the diameters of ISO 261, first choice, mm (from memory; those to
// 24 mm are in the table of ISO 273:1979, TestStandardFasteners).
var standardFasteners = [...]float64{1.6, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 30, 36, 42, 48, 56, 64}

// NewBoltUp lays b on a in every way that brings all holes of the smaller pattern onto
// holes of the other, and judges the best: conforming where the parts go together with a
// probability of 97.7 % (a guard of k = 2, JCGM 106:2012, 8.3.2), nonconforming where they
// fail with that, else indeterminate. Patterns of other shapes are nonconforming.
func NewBoltUp(ctx context.Context, a, b *Pattern, opt BoltUpOptions) (*BoltUp, error) {
	out := &BoltUp{Schema: BoltUpSchema, A: a.Name, B: b.Name, Fastener: opt.Fastener, Verdict: Nonconforming}
	smallest := min(slices.Min(a.Diameter), slices.Min(b.Diameter))
	if out.Fastener == 0 {
		for _, d := range standardFasteners {
			if d < smallest {
				out.Fastener = d
			}
		}
	}
	if out.Fastener == 0 {
		return nil, fmt.Errorf("no standard fastener enters a hole of %.2f mm: give its diameter", smallest)
	}
	pa, pb := a.part, b.turnedOver()
	if opt.AFromBack {
		pa = a.turnedOver()
	}
	if opt.BFromBack {
		pb = b.part
	}
	for _, side := range []struct {
		part *pattern.Part
		of   *Pattern
	}{{&pa, a}, {&pb, b}} {
		for _, d := range side.of.Diameter {
			side.part.Clearance = append(side.part.Clearance, (d-out.Fastener)/2)
		}
	}
	joints, err := pattern.Assemble(ctx, pa, pb, opt.Seed)
	if err != nil {
		return nil, err
	}
	for _, j := range joints {
		w := BoltUpWay{Spare: j.Spare, Probability: j.Probability}
		order := make([]int, len(j.Pairs))
		for k := range order {
			order[k] = k
		}
		slices.SortFunc(order, func(k, l int) int { return j.Pairs[k][0] - j.Pairs[l][0] })
		for _, k := range order {
			if k == j.Worst {
				w.Worst = len(w.Pairs)
			}
			p := j.Pairs[k]
			w.Pairs = append(w.Pairs, BoltUpPair{A: a.IDs[p[0]], B: b.IDs[p[1]], Float: j.Float[k]})
		}
		out.Ways = append(out.Ways, w)
	}
	if len(out.Ways) == 0 {
		return out, nil
	}
	best := out.Ways[0]
	out.Largest = max(0, min(smallest, out.Fastener+best.Spare))
	switch {
	case out.Fastener >= smallest: // it does not enter
	case best.Probability >= OneSide:
		out.Verdict = Conforming
	case best.Probability > 1-OneSide:
		out.Verdict = Indeterminate
	}
	return out, nil
}

// WriteBoltUpJSON writes it as indented JSON.
func WriteBoltUpJSON(w io.Writer, b *BoltUp) error {
	data, err := json.MarshalIndent(b, "", "  ")
	if err != nil {
		return fmt.Errorf("report: %w", err)
	}
	_, err = w.Write(append(data, '\n'))
	return err
}

// WriteBoltUp writes it for a person.
func WriteBoltUp(w io.Writer, b *BoltUp) error {
	var t strings.Builder
	say := func(s string, v ...any) { t.WriteString(wording.Wrap(fmt.Sprintf(s, v...), "")) }
	if len(b.Ways) == 0 {
		say("%s and %s do NOT bolt up: at no clocking do the holes of the one come near those of the other. A part that was scanned from its back shows its pattern mirrored: say so.", b.A, b.B)
		_, err := io.WriteString(w, t.String())
		return err
	}
	best := b.Ways[0]
	worst := best.Pairs[best.Worst]
	n := len(best.Pairs)
	switch b.Verdict {
	case Conforming:
		say("%s and %s bolt up with %s of %s mm.", b.A, b.B, things(n, "fastener"), wording.Short(b.Fastener))
	case Indeterminate:
		say("%s and %s: these scans cannot tell whether they bolt up with %s of %s mm.", b.A, b.B, things(n, "fastener"), wording.Short(b.Fastener))
	default:
		say("%s and %s do NOT bolt up with %s of %s mm.", b.A, b.B, things(n, "fastener"), wording.Short(b.Fastener))
	}
	if best.Spare >= 0 {
		say("At the best clocking the fastener with least float, %s on %s, can still move %.3f mm to any side.", worst.A, worst.B, best.Spare)
	} else {
		say("At the best clocking %s on %s lacks most: %.3f mm of radial clearance.", worst.A, worst.B, -best.Spare)
		say("Fasteners up to %.2f mm would go through all, or these with all holes of one part %.2f mm larger.", b.Largest, -2*best.Spare)
	}
	say("Probability of assembly, by the uncertainty of the holes: %s.", chance(best.Probability))
	t.WriteString("\n")
	table := wording.Table{Head: []string{"<hole of A", "<hole of B", "float, mm"}}
	for _, p := range best.Pairs {
		table.Add(p.A, p.B, fmt.Sprintf("%+.3f", p.Float))
	}
	table.Write(&t)
	others := 0
	for _, o := range b.Ways[1:] {
		if o.Probability >= OneSide {
			others++
		}
	}
	t.WriteString("\n")
	switch {
	case others > 0:
		say("They also go together at %s.", things(others, "other clocking"))
	case b.Verdict == Conforming:
		say("They go together at this clocking alone.")
	}
	say("A scan approves nothing. Where the joint holds pressure, heat or hot liquid, local codes and licensed practice decide.")
	_, err := io.WriteString(w, t.String())
	return err
}

// chance prints a probability, percent.
func chance(p float64) string {
	switch {
	case p > 0.999:
		return "more than 99.9 %"
	case p < 0.001:
		return "less than 0.1 %"
	}
	return fmt.Sprintf("%.1f %%", 100*p)
}
