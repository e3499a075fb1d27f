package check

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spotface/report"
	"spotface/report/budget"
	"spotface/report/plan"
	"spotface/report/wording"
)

// What a print may be off by: the unknowns of a fit, and the kinds of lengths that it is made to.
const (
	inPlane = iota // scale of distances between axes
	along          // scale of distances between faces along the build direction
	inside         // offset of hole diameters; they share inPlane
	outside        // offset of outside diameters; they share inPlane
	printErrors
)

// NextPrint says by a scan of a printed trial how the printer's sizes differ from the nominals
// of the plan, from which it was printed, and returns the plan with the nominals to print next,
// so that the part comes out as planned. What is within its own uncertainty is not corrected.
// Distances are between features whose places the plan has; no axis or face is in two of them.
// Neither p nor rep is changed; rep is not judged yet, as for Check.
//
// The printer's scale includes the scanner's, whose uncertainty is included as far as the plan
// states it (scanner.length.b, reference_lengths).
func NextPrint(p *plan.Plan, rep *report.Report) (*report.Printed, *plan.Plan, error) {
	c, err := newChecker(p, rep)
	if err != nil {
		return nil, nil, err
	}
	c.scale()
	lengths := slices.Concat(c.printedDistances(), c.printedDiameters())
	out, err := fitPrint(lengths)
	if err != nil {
		return nil, nil, err
	}
	out.Cautions = c.printCautions()
	return out, c.nextPlan(p, out), nil
}

// printLength is a length of a print with its planned one, mm.
type printLength struct {
	kind           int // inPlane, along, inside or outside
	nominal, found float64
	unseen         float64 // part of its expanded uncertainty that no residual shows
	depends        *sources
}

// row is how a length depends on the unknowns: scale × nominal + offset.
func (l *printLength) row() (row [printErrors]float64) {
	scale := inPlane
	if l.kind == along {
		scale = along
	}
	row[scale] = l.nominal
	if l.kind >= inside {
		row[l.kind] = 1
	}
	return row
}

// fitPrint fits scales and offsets to lengths by generalised least squares, with the covariance
// V of what they share:
//
//	x = (Aᵀ V⁻¹ A)⁻¹ Aᵀ V⁻¹ y = W y
//
// What lengths of one kind scatter by beyond V, τ², is found from the residuals M y, M = 1 - A W,
// by their mean squares (DerSimonian and Laird, Controlled Clinical Trials 7 (1986) 177-188, for
// weighted means), added to V, and the fit made again:
//
//	Σ r_i² = Σ (M V Mᵀ)_ii + τ² Σ M_ij²      over i, j of the kind
func fitPrint(lengths []printLength) (*report.Printed, error) {
	n := len(lengths)
	var count [printErrors]int
	for _, l := range lengths {
		count[l.kind]++
	}
	var unknown []int // columns
	for k := range count {
		if count[k] > 0 || k == inPlane && count[inside]+count[outside] > 0 {
			unknown = append(unknown, k)
		}
	}
	if len(unknown) == 0 {
		return nil, errors.New("check: no two features of the plan with places, and no diameter, " +
			"were measured: nothing says how the print differs from it")
	}
	a, y := mat.NewDense(n, len(unknown), nil), mat.NewVecDense(n, nil)
	depends := make([]*sources, n)
	for i, l := range lengths {
		depends[i] = l.depends
		y.SetVec(i, l.found)
		row := l.row()
		for j, k := range unknown {
			a.Set(i, j, row[k])
		}
	}
	v := covarianceOf(depends)
	w, _, err := weights(a, v)
	if err != nil {
		return nil, err
	}
	scatter, dof := scatterOf(lengths, count, a, v, w, y)
	for i, l := range lengths {
		v.SetSym(i, i, v.At(i, i)+scatter[l.kind]*scatter[l.kind])
	}
	if w, _, err = weights(a, v); err != nil {
		return nil, err
	}
	found := make([]*report.PrintError, printErrors)
	for j, k := range unknown {
		e := &report.PrintError{Lengths: count[k]}
		terms := &sources{}
		var own [printErrors]float64
		for i, l := range lengths {
			e.Value += w.At(j, i) * l.found
			terms.addAll(l.depends, w.At(j, i))
			own[l.kind] += sq2(w.At(j, i) * scatter[l.kind])
		}
		for kind, u2 := range own {
			if u2 > 0 {
				terms.add("scatter of the print", fmt.Sprint(kind), 0, "",
					budget.Standard{U: math.Sqrt(u2), DoF: dof[kind]}, 1)
			}
		}
		u := terms.combined()
		e.Uncertainty, e.CoverageFactor = u.Expanded(), u.CoverageFactor()
		none := 0.0
		if k <= along {
			none = 1
		}
		e.Corrected = math.Abs(e.Value-none) > e.Uncertainty
		found[k] = e
	}
	if e := found[inPlane]; e != nil && count[inPlane] == 0 {
		e.Lengths = count[inside] + count[outside]
	}
	return &report.Printed{InPlane: found[inPlane], Along: found[along], Holes: found[inside],
		Outside: found[outside]}, nil
}

// weights is W = (Aᵀ V⁻¹ A)⁻¹ Aᵀ V⁻¹, and V factorised.
func weights(a *mat.Dense, v *mat.SymDense) (*mat.Dense, *mat.Cholesky, error) {
	var chol mat.Cholesky
	var va, normal, w mat.Dense
	if !chol.Factorize(v) || chol.SolveTo(&va, a) != nil {
		return nil, nil, errors.New("check: what the lengths of the print share is too much to " +
			"separate them")
	}
	normal.Mul(va.T(), a)
	if err := w.Solve(&normal, va.T()); err != nil {
		return nil, nil, errors.New("check: the print has holes of one size and no distances with " +
			"planned places: a scale and an offset of its holes cannot be separated; give the " +
			"plan the places (at) of more features")
	}
	return &w, &chol, nil
}

// scatterOf is τ of each kind of length, mm, and its degrees of freedom.
func scatterOf(lengths []printLength, count [printErrors]int, a *mat.Dense, v *mat.SymDense,
	w *mat.Dense, y *mat.VecDense) (tau, dof [printErrors]float64) {
	n := len(lengths)
	var m, mv, mvm mat.Dense
	m.Mul(a, w)
	m.Scale(-1, &m)
	for i := range n {
		m.Set(i, i, 1+m.At(i, i))
	}
	mv.Mul(&m, v)
	mvm.Mul(&mv, m.T())
	var r mat.VecDense
	r.MulVec(&m, y)
	for kind := range count {
		square := 0.0
		for i, l := range lengths {
			if l.kind != kind {
				continue
			}
			square += sq2(r.AtVec(i)) - mvm.At(i, i)
			for j, o := range lengths {
				if o.kind == kind {
					dof[kind] += sq2(m.At(i, j))
				}
			}
		}
		if dof[kind] = math.Round(dof[kind]*1e6) / 1e6; dof[kind] >= 1 {
			tau[kind] = math.Sqrt(max(square/dof[kind], 0))
		}
	}
	return tau, dof
}

// spot is an axis or a face with its planned place.
type spot struct {
	of *seen
	at []float64
}

// printedDistances are distances between planned places in the plane, of the holes of each
// circle and of the single features, and along the build direction: the longest first, and each
// feature in one of them alone, so that they share no error.
func (c *checker) printedDistances() (out []printLength) {
	var single, faces []spot
	for i, p := range c.plan.BoltCircles {
		var ring []spot
		for at, id := range c.circles[i].there {
			if h := c.rep.Hole(id); h != nil && p.PitchDiameter != nil {
				xy := polar(p.PitchDiameter.Nominal/2, p.Angles[at])
				ring = append(ring, spot{ofHole(h, 2), xy[:]})
			}
		}
		out = append(out, c.pairs(inPlane, ring)...)
	}
	for k, kind := range c.kinds {
		for _, w := range kind.wanted {
			at := w.At
			if at == nil && (w.ID == c.plan.Frame.Axis || w.ID == c.plan.Frame.Face) {
				at = []float64{0, 0, 0}
			}
			s := spot{w.shown, at}
			switch flat := w.Normal == nil || math.Abs(w.Normal[2]) > math.Cos(mostTilt*math.Pi/180); {
			case s.of == nil || at == nil:
			case k != planes:
				single = append(single, s)
			case flat:
				faces = append(faces, spot{s.of, []float64{0, 0, at[2]}})
			}
		}
	}
	return slices.Concat(out, c.pairs(inPlane, single), c.pairs(along, faces))
}

// pairs are the distances of a list of features, each of them once.
func (c *checker) pairs(kind int, spots []spot) (out []printLength) {
	far := func(s, o spot) float64 {
		if kind == along {
			return math.Abs(s.at[2] - o.at[2])
		}
		return math.Hypot(s.at[0]-o.at[0], s.at[1]-o.at[1])
	}
	var all [][2]spot
	for i, s := range spots {
		for _, o := range spots[:i] {
			all = append(all, [2]spot{s, o})
		}
	}
	slices.SortStableFunc(all, func(a, b [2]spot) int {
		return cmp.Compare(far(b[0], b[1]), far(a[0], a[1]))
	})
	used := make(map[*seen]bool)
	for _, p := range all {
		d := far(p[0], p[1])
		if used[p[0].of] || used[p[1].of] || !(d > 0) {
			continue
		}
		m, _ := distance(p[0].of, p[1].of)
		m.feature = fmt.Sprint("distance ", kind, " ", len(out), " ", len(spots))
		if l, ok := c.printed(kind, d, m); ok {
			out = append(out, l)
			used[p[0].of], used[p[1].of] = true, true
		}
	}
	return out
}

// printed is a length of the print as the plan corrects it; ok is false where the scan does not
// show how sure it is. The scanner's error of scale is one for all lengths.
func (c *checker) printed(kind int, nominal float64, m scanned) (l printLength, ok bool) {
	own := *c.lengths
	own.set = true // a alone, of a + b L
	found, src := own.correct(m)
	if src == nil || !(m.value > 0) {
		return l, false
	}
	if !c.lengths.set {
		own.scaleError(src, found)
	}
	return printLength{kind, nominal, found, m.unseen, src}, true
}

// printedDiameters are the diameters of holes, bores and outsides that have a planned size,
// without those of tapped holes. What no residual shows of them may be alike in all of one
// kind: it counts once for each and once for all together.
func (c *checker) printedDiameters() (out []printLength) {
	add := func(of *seen, s *plan.Size) {
		if s == nil || of == nil || of.hole != nil && of.hole.Thread != nil {
			return
		}
		kind := inside
		if of.side == report.External {
			kind = outside
		}
		if l, ok := c.printed(kind, s.Nominal, of.size); ok {
			out = append(out, l)
		}
	}
	for i, p := range c.plan.BoltCircles {
		for _, id := range c.circles[i].there {
			if h := c.rep.Hole(id); h != nil {
				add(ofHole(h, 2), p.HoleDiameter)
			}
		}
	}
	for _, k := range c.kinds[:planes] {
		for _, w := range k.wanted {
			add(w.shown, w.Size)
		}
	}
	// Sorted by it, each level is one source of all that have as much: any two share the less
	// of theirs.
	slices.SortStableFunc(out, func(a, b printLength) int { return cmp.Compare(a.unseen, b.unseen) })
	for _, kind := range []int{inside, outside} {
		below := 0.0
		for i, l := range out {
			if l.kind != kind || !(l.unseen > below) {
				continue
			}
			u := math.Sqrt(sq2(l.unseen)-sq2(below)) / report.Coverage
			for _, o := range out[i:] {
				if o.kind == kind {
					o.depends.add(report.SourceSmoothing, fmt.Sprint("all ", kind, i), 0, "mm",
						budget.Standard{U: u}, c.lengths.factor)
				}
			}
			below = l.unseen
		}
	}
	return out
}

// printCautions are what a corrected plan does not know.
func (c *checker) printCautions() (out []string) {
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if c.plan.Scanner.Length.B == 0 && !c.lengths.set {
		say("The scanner's own scale is in the printer's: the plan states neither its length error " +
			"(scanner.length) nor a length taken by hand. Check one long distance with a caliper.")
	}
	var tapped []string
	for _, h := range c.rep.Holes {
		if h.Thread != nil {
			tapped = append(tapped, h.ID)
		}
	}
	if len(tapped) > 0 {
		say("%s of the scan has a thread, and was left out of the fit.", wording.List(tapped))
	}
	say("Tapped holes, and those that a screw cuts its own thread in, hold by their size before " +
		"the thread: take it from the tap's or the screw's own table, and try it on a scrap of " +
		"the same print.")
	say("The next material may shrink otherwise than this trial's. A scan approves nothing.")
	return out
}

// nextPlan is the plan p with the nominals that a printer with these errors makes into those
// of p: n = (wanted - offset) / scale.
func (c *checker) nextPlan(p *plan.Plan, e *report.Printed) *plan.Plan {
	value := func(e *report.PrintError, none float64) float64 {
		if e == nil || !e.Corrected {
			return none
		}
		return e.Value
	}
	scale, height := value(e.InPlane, 1), value(e.Along, 1)
	hole, boss := value(e.Holes, 0), value(e.Outside, 0)
	q := p.Clone()
	for _, f := range q.Features() {
		if f.Pitch != nil {
			f.Pitch.Nominal /= scale
		}
		side := f.Side
		if s := c.feature(f.ID); s != nil && f.Kind == "cylinder" {
			side = s.side
		}
		if f.Size != nil && side == report.External {
			f.Size.Nominal = (f.Size.Nominal - boss) / scale
		} else if f.Size != nil {
			f.Size.Nominal = (f.Size.Nominal - hole) / scale
		}
		for i := range f.At {
			f.At[i] /= [3]float64{scale, scale, height}[i]
		}
	}
	return q
}
