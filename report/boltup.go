package report

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"spotface/bolt"
	"spotface/bolt/pattern"
	"spotface/bolt/sizes"
	"spotface/mesh/geom"
	"spotface/report/wording"
)

// unitTolerance is the largest difference from one of a direction's length in a report:
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
	// Fastener is the diameter, mm, of the fasteners that a plan names; 0: none.
	Fastener float64
	// Thread is the major diameter, mm, of holes that are tapped.
	Thread float64
	// Bore is the part's main bore, about the pattern's centre; nil: none is known.
	Bore *AdapterBore
	part pattern.Part
}

// PatternOf takes the holes of the bolt circle with most holes or, without a bolt circle,
// the round holes of the mounting face but for the bore.
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
			bore := rep.Bore != nil && h.ID == rep.Bore.ID
			if h.Face == rep.Frame.Face && h.Kind == string(bolt.Round) && !bore {
				ids = append(ids, h.ID)
			}
		}
	}
	if len(ids) < 2 {
		return nil, fmt.Errorf("%s: fewer than two round holes on one face: "+
			"there is no pattern to bolt up", name)
	}
	p := &Pattern{Name: name, IDs: ids}
	for _, id := range ids {
		k := rep.Hole(id)
		var d, u float64
		if k != nil {
			d, u = k.across()
		}
		if !(d > 0) || math.Abs(k.Axis.R3().Norm()-1) > unitTolerance ||
			math.Abs(axis.R3().Norm()-1) > unitTolerance {
			return nil, fmt.Errorf("%s: hole %s of the pattern has no place, axis or diameter: "+
				"measure the scan again", name, id)
		}
		p.Diameter = append(p.Diameter, d)
		p.part.ClearanceU = append(p.part.ClearanceU, u/Coverage/2)
		if k.Thread != nil {
			p.Thread = max(p.Thread, k.Thread.Major)
		}
	}
	p.part.Places = bolt.PlacesOf(rep.BoltHoles(ids...), centre.R3(), axis.R3())
	if rep.Bore != nil {
		bore := bolt.PlacesOf([]bolt.Hole{{Centre: rep.Bore.Centre.R3(), Axis: axis.R3()}},
			centre.R3(), axis.R3())
		p.Bore = &AdapterBore{bore.XY[0], rep.Bore.Diameter}
	}
	return p, nil
}

// NewPattern is a pattern of exact places, mm, in a plane, seen from outside.
func NewPattern(name string, ids []string, places [][2]float64, diameter []float64) *Pattern {
	p := &Pattern{Name: name, IDs: ids, Diameter: diameter}
	p.part.XY, p.part.Cov = places, &mat.SymDense{}
	if len(ids) > 0 {
		p.part.Cov = mat.NewSymDense(2*len(ids), nil)
	}
	p.part.ClearanceU = make([]float64, len(ids))
	return p
}

// check refuses what is no pattern, as one that was made in Go may be.
func (p *Pattern) check() error {
	n := len(p.IDs)
	good := n > 1 && len(p.part.XY) == n && len(p.Diameter) == n
	for i := 0; good && i < n; i++ {
		xy := p.part.XY[i]
		good = geom.Finite(r3.Vector{X: xy[0], Y: xy[1], Z: p.Diameter[i]}) && p.Diameter[i] > 0
	}
	if !good {
		return fmt.Errorf("%s: a pattern to bolt up needs two holes or more, each with an id, a "+
			"finite place and a diameter above zero", p.Name)
	}
	return nil
}

// turnedOver is the pattern seen from its other side.
func (p *Pattern) turnedOver() *Pattern {
	q := *p
	n := len(p.IDs)
	q.part.XY, q.part.Cov = slices.Clone(p.part.XY), mat.NewSymDense(2*n, nil)
	for i := range n {
		q.part.XY[i][0] *= -1
	}
	for i := range 2 * n {
		for j := i; j < 2*n; j++ {
			q.part.Cov.SetSym(i, j, float64(1-2*((i+j)%2))*p.part.Cov.At(i, j))
		}
	}
	if k := p.Bore; k != nil {
		q.Bore = &AdapterBore{[2]float64{-k.XY[0], k.XY[1]}, k.Diameter}
	}
	return &q
}

// BoltUpOptions of NewBoltUp. The zero value means parts that were both looked at on
// their mating faces, and the largest standard fastener that enters all holes.
type BoltUpOptions struct {
	Fastener             float64 // diameter, mm
	AFromBack, BFromBack bool    // the part was seen from the side away from the joint
	Seed                 uint64  // of the draws of the probability
}

// seen returns both patterns as they are seen from A's face, B's through the joint.
func (o BoltUpOptions) seen(a, b *Pattern) [2]*Pattern {
	if o.AFromBack {
		a = a.turnedOver()
	}
	if !o.BFromBack {
		b = b.turnedOver()
	}
	return [2]*Pattern{a, b}
}

// BoltUp says whether two parts go together.
type BoltUp struct {
	Schema       string      `json:"schema"`
	A            string      `json:"a"`
	B            string      `json:"b"`
	Fastener     float64     `json:"fastener"`                // diameter, mm
	FastenerName string      `json:"fastener_name,omitempty"` // of a standard one
	Ways         []BoltUpWay `json:"ways"`                    // most float first; none: no match
	Largest      float64     `json:"largest_fastener,omitempty"`
	// Open lists the holes of b to open, and to which drill, for fasteners that enter
	// the holes but do not go through both parts: of diameter OpenFor, mm.
	Open        []Opening `json:"open,omitempty"`
	OpenFor     float64   `json:"open_for,omitempty"`
	OpenForName string    `json:"open_for_name,omitempty"`
	Verdict     Verdict   `json:"verdict"`
	Adapter     *Adapter  `json:"adapter,omitempty"`
}

// Opening is a hole that is to be opened.
type Opening struct {
	Hole      string  `json:"hole"`
	Diameter  float64 `json:"diameter"` // mm, at least
	Drill     float64 `json:"drill"`    // mm, the next standard one
	DrillName string  `json:"drill_name"`
}

// BoltUpWay is one clocking of part B on part A.
type BoltUpWay struct {
	Pairs       []BoltUpPair `json:"pairs"`
	Spare       float64      `json:"spare"` // least float, mm; negative: so much is lacking
	Worst       int          `json:"worst"` // index into Pairs
	Probability float64      `json:"probability"`
	// TurnDeg and Shift, mm, lay B's places, about its centre and mirrored as mating faces
	// are, on A's.
	TurnDeg float64    `json:"turn_deg"`
	Shift   [2]float64 `json:"shift"`
}

// BoltUpPair is two holes that share a fastener, and the radial float that is left, mm.
type BoltUpPair struct {
	A     string  `json:"a"`
	B     string  `json:"b"`
	Float float64 `json:"float"`
}

// NewBoltUp lays b on a in every way that brings all holes of the smaller pattern onto
// holes of the other, and judges the best: conforming where the parts go together with a
// probability of 97.7 % (a guard of k = 2, JCGM 106:2012, 8.3.2), nonconforming where they
// fail with that, else indeterminate. Patterns of other shapes are nonconforming. Without
// a fastener it takes the largest standard one that goes through all holes together, or
// where none with a head wider than the holes does, the largest that enters them; metric or
// inch as the smallest hole is. A fastener that the plan of a, or else of b, names is as
// one that is given.
func NewBoltUp(ctx context.Context, a, b *Pattern, opt BoltUpOptions) (*BoltUp, error) {
	for _, p := range []*Pattern{a, b} {
		if err := p.check(); err != nil {
			return nil, err
		}
	}
	opt.Fastener = cmp.Or(opt.Fastener, a.Fastener, b.Fastener)
	out := &BoltUp{Schema: BoltUpSchema, A: a.Name, B: b.Name, Fastener: opt.Fastener,
		Verdict: Nonconforming}
	u := joining{ctx: ctx, a: a, b: b, opt: opt}
	smallest, inches := u.smallestHole()
	enters, ok := sizes.LargestFastener(smallest, inches)
	if out.Fastener == 0 && !ok {
		return nil, fmt.Errorf("no standard fastener enters a hole of %.2f mm: give its "+
			"diameter", smallest)
	}
	if out.Fastener == 0 {
		out.Fastener, out.FastenerName = enters.Diameter, enters.Name
	}
	joints, err := u.lay(out.Fastener, -1, 0)
	if err != nil || len(joints) == 0 || out.Fastener+joints[0].Spare <= 0 { // holes side by side
		return out, err
	}
	if joints[0].Spare < 0 && out.Fastener < smallest {
		out.OpenFor, out.OpenForName = out.Fastener, out.FastenerName
		if out.Open, err = u.openings(out.Fastener, joints[0], inches); err != nil {
			return nil, err
		}
	}
	for f := enters; opt.Fastener == 0 && ok && joints[0].Probability(opt.Seed) < OneSide; {
		f, ok = sizes.LargestFastener(f.Diameter, inches)
		if !ok || f.Diameter*headOverDiameter < max(slices.Max(a.Diameter), slices.Max(b.Diameter)) {
			break // its head does not cover the holes: keep the largest that enters
		}
		smaller, err := u.lay(f.Diameter, -1, 0)
		if err != nil {
			return nil, err
		}
		if smaller[0].Probability(opt.Seed) >= OneSide {
			out.Fastener, out.FastenerName, joints = f.Diameter, f.Name, smaller
		}
	}
	for _, j := range joints {
		w := BoltUpWay{Spare: j.Spare, Probability: j.Probability(opt.Seed), TurnDeg: j.Turn.Degrees(),
			Shift: j.Shift}
		byHole := func(p, q [2]int) int { return p[0] - q[0] }
		pairs := slices.SortedFunc(slices.Values(j.Pairs), byHole)
		for _, p := range pairs {
			k := slices.Index(j.Pairs, p)
			w.Pairs = append(w.Pairs, BoltUpPair{A: a.IDs[p[0]], B: b.IDs[p[1]], Float: j.Float[k]})
		}
		w.Worst = slices.Index(pairs, j.Pairs[j.Worst])
		out.Ways = append(out.Ways, w)
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

// joining is two patterns that are laid on one another.
type joining struct {
	ctx  context.Context
	a, b *Pattern
	opt  BoltUpOptions
}

// smallestHole returns the smallest diameter, mm, and whether it is of an inch size.
func (u joining) smallestHole() (d float64, inches bool) {
	all := slices.Concat(u.a.Diameter, u.b.Diameter)
	d = slices.Min(all)
	i := slices.Index(all, d)
	return d, sizes.Inch(d, 2*slices.Concat(u.a.part.ClearanceU, u.b.part.ClearanceU)[i])
}

// lay assembles the parts with fasteners of this diameter, mm, one hole of b opened.
func (u joining) lay(fastener float64, hole int, larger float64) ([]pattern.Joint, error) {
	seen := u.opt.seen(u.a, u.b)
	pa, pb := seen[0].part, seen[1].part
	for _, d := range u.a.Diameter {
		pa.Clearance = append(pa.Clearance, (d-fastener)/2)
	}
	for i, d := range u.b.Diameter {
		if i == hole {
			d += larger
		}
		pb.Clearance = append(pb.Clearance, (d-fastener)/2)
	}
	return pattern.Assemble(u.ctx, pa, pb)
}

// openings says which hole of b to open so that the fasteners go through: of those that
// lack most the one for which least is enough, and then the drill with the probability of
// conforming. Where no single hole is enough, all that lack clearance where the parts lie
// best.
func (u joining) openings(fastener float64, best pattern.Joint, inches bool) ([]Opening, error) {
	hole, larger := -1, math.Inf(1)
	for k, p := range best.Pairs {
		if best.Float[k] > best.Spare+leastOpened {
			continue // opening it leaves the worst as it is
		}
		d, err := u.opened(fastener, best.Spare, p[1])
		if err != nil {
			return nil, err
		}
		if d < larger {
			hole, larger = p[1], d
		}
	}
	open := func(hole int, larger float64) Opening {
		o := Opening{Hole: u.b.IDs[hole], Diameter: u.b.Diameter[hole] + larger}
		o.Drill, o.DrillName = sizes.Drill(o.Diameter, inches)
		return o
	}
	for hole >= 0 {
		o := open(hole, larger)
		joints, err := u.lay(fastener, hole, o.Drill-u.b.Diameter[hole])
		if err != nil || joints[0].Probability(u.opt.Seed) >= OneSide {
			return []Opening{o}, err
		}
		larger = o.Drill + leastOpened - u.b.Diameter[hole]
		if o.Drill > mostOpened*u.b.Diameter[hole] {
			break
		}
	}
	var all []Opening
	for k, p := range best.Pairs {
		if best.Float[k] < 0 {
			all = append(all, open(p[1], -2*best.Float[k]))
		}
	}
	return all, nil
}

// opened returns how much larger a hole of b must be for the worst pair to lack nothing,
// or infinity. Spare is concave in that, so that chords find it from above.
func (u joining) opened(fastener, spare float64, hole int) (float64, error) {
	lo, hi, above := 0.0, u.b.Diameter[hole]*(mostOpened-1), 0.0
	at := hi
	for range 30 { // a few are enough
		joints, err := u.lay(fastener, hole, at)
		if err != nil {
			return 0, err
		}
		s := joints[0].Spare
		switch {
		case s < 0 && at == hi:
			return math.Inf(1), nil
		case s < 0:
			lo, spare = at, s
		default:
			hi, above = at, s
		}
		if math.Abs(s) < leastOpened {
			break
		}
		at = lo + (hi-lo)*spare/(spare-above)
	}
	return hi, nil
}

// WriteBoltUp writes it for a person.
func WriteBoltUp(w io.Writer, b *BoltUp, opt ViewOptions) error {
	unit := opt.unit()
	length := func(mm float64, decimals int) string {
		return wording.Fixed(mm/unit.mm, decimals+unit.most-millimetre.most) + " " + unit.name
	}
	var t strings.Builder
	say := func(s string, v ...any) { t.WriteString(wording.Wrap(fmt.Sprintf(s, v...), "")) }
	if len(b.Ways) == 0 {
		say("%s and %s do NOT bolt up: at no clocking do all holes of the one lie on holes of the "+
			"other. A part that was scanned from its back shows its pattern mirrored: say so with "+
			"--a-from-back or --b-from-back.", b.A, b.B)
		_, err := io.WriteString(w, t.String())
		return err
	}
	best := b.Ways[0]
	worst := best.Pairs[best.Worst]
	say(map[Verdict]string{
		Conforming:    "%s and %s bolt up with %s of %s.",
		Indeterminate: "%s and %s: these scans cannot tell whether they bolt up with %s of %s.",
		Nonconforming: "%s and %s do NOT bolt up with %s of %s.",
	}[b.Verdict], b.A, b.B, wording.Things(len(best.Pairs), "fastener"),
		fastenerWords(unit, b.Fastener, b.FastenerName))
	if best.Spare >= 0 {
		say("At the best clocking the fastener with least float, %s on %s, can still move %s to "+
			"any side.", worst.A, worst.B, length(best.Spare, 3))
	} else {
		say("At the best clocking %s on %s lacks most: %s of radial clearance.",
			worst.A, worst.B, length(-best.Spare, 3))
		say("Fasteners up to %s would go through all, or these with all holes of one part "+
			"%s larger.", length(b.Largest, 2), length(-2*best.Spare, 2))
	}
	if len(b.Open) > 0 {
		parts := each(b.Open, func(o Opening) string {
			return fmt.Sprintf("%s to %s at least, the next drill is %s",
				o.Hole, length(o.Diameter, 2), o.DrillName)
		})
		say("For fasteners of %s, open in %s: %s.", fastenerWords(unit, b.OpenFor, b.OpenForName), b.B,
			strings.Join(parts, "; "))
	}
	say("Probability of assembly, by the uncertainty of the holes: %s.", chance(best.Probability))
	t.WriteString("\n")
	table := wording.Table{Head: []string{"<hole of A", "<hole of B", "float, " + unit.name}}
	for _, p := range best.Pairs {
		table.Add(p.A, p.B, raw(p.Float/unit.mm, 0).rounded(unit.most).Signed())
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
		say("They also go together at %s.", wording.Things(others, "other clocking"))
	case b.Verdict == Conforming:
		say("They go together at this clocking alone.")
	}
	say("A scan approves nothing. " + practice)
	_, err := io.WriteString(w, t.String())
	return err
}

// practice is what no scan decides.
const practice = "Where the joint holds pressure, heat or hot liquid, local codes and licensed " +
	"practice decide."

// fastenerWords is a diameter with its name: "6 mm (M6)".
func fastenerWords(unit lengthUnit, d float64, name string) string {
	s := unit.short(d) + " " + unit.name
	if name != "" {
		s += " (" + name + ")"
	}
	return s
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
