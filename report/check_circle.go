package report

import (
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/bolt"
	"spotface/fit"
)

// planned lists the characteristics that the plan judges at each hole.
func (p *PlanCircle) planned() []Characteristic {
	var what []Characteristic
	if p.ClockingBand != nil {
		what = append(what, ClockingAngle)
	}
	if p.HoleDiameter.judged() {
		what = append(what, Diameter)
	}
	if p.Position > 0 {
		what = append(what, Position)
	}
	return what
}

func (c *checker) circle(i int) {
	p, cm := &c.plan.BoltCircles[i], &c.circles[i]
	if cm.at < 0 {
		what := p.planned()
		if p.SpacingBand != nil {
			what = append(what, SpacingAngle)
		}
		if p.PitchDiameter.judged() {
			what = append(what, PitchDiameter)
		}
		c.missing(p.ID, p.missingText(), what...)
		return
	}
	k := &c.rep.BoltCircles[cm.at]
	before := len(c.results)
	if err := c.reclock(p, cm, k); err != nil {
		c.missing(p.ID, err.Error(), p.planned()...)
		return
	}
	if p.PitchDiameter.judged() {
		r := Result{Feature: p.ID, Matched: matchedID(p.ID, k.ID), Characteristic: PitchDiameter}
		c.judge(r, k.PitchDiameter, p.PitchDiameter.Nominal, c.lengthSpread(k.Uncertainty.PitchDiameter, k.PitchDiameter), *p.PitchDiameter.Band)
	}
	name := func(hole string) Result {
		return Result{Feature: p.ID + "/" + hole, Matched: matchedID(p.ID+"/"+hole, k.ID+"/"+hole)}
	}
	for j := range k.Clocking {
		g := &k.Clocking[j]
		if p.ClockingBand != nil {
			r := name(g.Hole)
			r.Characteristic, r.Unit = ClockingAngle, "deg"
			g.Verdict = c.judge(r, *g.NominalDeg+*g.DeviationDeg, *g.NominalDeg, spread{scan: g.UncertaintyDeg}, *p.ClockingBand)
		}
	}
	for j := range k.Spacing {
		g := &k.Spacing[j]
		if p.SpacingBand != nil {
			r := name(g.From + "-" + g.To)
			r.Characteristic, r.Unit = SpacingAngle, "deg"
			g.Verdict = c.judge(r, *g.NominalDeg+*g.DeviationDeg, *g.NominalDeg, spread{scan: g.UncertaintyDeg}, *p.SpacingBand)
		}
	}
	for _, g := range k.Clocking {
		h := c.rep.hole(g.Hole)
		side := Internal
		if slices.ContainsFunc(c.rep.Studs, func(s Hole) bool { return s.ID == h.ID }) {
			side = External
		}
		c.diameter(name(g.Hole), h.Diameter, h.Uncertainty.Diameter, side, p.HoleDiameter)
	}
	if p.Position > 0 {
		c.circlePositions(p, k, name)
	}
	for at, j := range cm.place {
		if j < 0 {
			c.missing(fmt.Sprintf("%s/%d", p.ID, at+1), fmt.Sprintf("no hole at %s degrees, place %d of the pattern",
				short(p.Angles[at]), at+1), p.planned()...)
		}
	}
	if len(c.results) == before {
		c.present(Result{Feature: p.ID, Matched: matchedID(p.ID, k.ID)})
	}
}

func (p *PlanCircle) missingText() string {
	s := fmt.Sprintf("no circle of %d holes", len(p.Angles))
	if p.PitchDiameter != nil {
		s += fmt.Sprintf(" on about %s mm", short(p.PitchDiameter.Nominal))
	}
	if p.HoleDiameter != nil {
		s += fmt.Sprintf(" with holes of about %s mm", short(p.HoleDiameter.Nominal))
	}
	return s + " in this scan"
}

// reclock measures the circle anew from the plan's first hole and against the
// plan's angles, over the holes that have a place in the plan.
func (c *checker) reclock(p *PlanCircle, cm *circleMatch, k *BoltCircle) error {
	var holes []bolt.Hole
	var nom bolt.Nominal
	first := math.NaN()
	used := make(map[string]bool)
	for at, j := range cm.place {
		if j < 0 {
			continue
		}
		if len(holes) == 0 {
			first = p.Angles[at]
		}
		h := c.rep.hole(k.Clocking[j].Hole)
		holes = append(holes, h.asBolt())
		used[h.ID] = true
		nom.Angles = append(nom.Angles, s1.Angle(p.Angles[at]-first)*s1.Degree)
	}
	for at, j := range cm.place {
		if j < 0 {
			nom.Missing = append(nom.Missing, bolt.Wrap(s1.Angle(p.Angles[at]-first)*s1.Degree))
		}
	}
	for _, g := range k.Clocking {
		if !used[g.Hole] {
			c.note("Hole %s of circle %s has no place in the plan.", g.Hole, k.ID)
		}
	}
	nom.Positions, nom.Spacing, nom.FullRing = p.grid()
	for at := range nom.Positions {
		a := float64(at) * nom.Spacing.Degrees()
		planned := func(b float64) bool { return math.Abs(wrap180(a-b)) < 1e-3 }
		if !slices.ContainsFunc(p.Angles, planned) {
			nom.Missing = append(nom.Missing, bolt.Wrap(s1.Angle(a-first)*s1.Degree))
		}
	}
	slices.Sort(nom.Missing)
	got, err := bolt.Clock(holes, nom)
	if err != nil {
		return err
	}
	got.ID, got.Face = k.ID, k.Face
	before := k.before
	if before == nil {
		measured := *k
		before = &measured
	}
	*k = (&builder{}).circle(got)
	k.before = before
	k.exactNominals(p, first)
	k.Standouts = FindStandouts(c.rep, k)
	return nil
}

// exactNominals puts the plan's own digits for the nominal angles: 60 and not
// 60.00000000000001.
func (k *BoltCircle) exactNominals(p *PlanCircle, first float64) {
	exact := func(v float64) float64 {
		for _, a := range p.Angles {
			for _, b := range p.Angles {
				if w := math.Mod(a-b+360, 360); math.Abs(w-v) < 1e-9 {
					return w
				}
			}
		}
		return v
	}
	if k.Nominal != nil {
		for i := range k.Nominal.Missing {
			k.Nominal.Missing[i] = exact(k.Nominal.Missing[i])
		}
	}
	for i := range k.Clocking {
		*k.Clocking[i].NominalDeg = exact(*k.Clocking[i].NominalDeg)
	}
	for i := range k.Spacing {
		*k.Spacing[i].NominalDeg = exact(*k.Spacing[i].NominalDeg)
	}
}

// grid returns the regular pattern that the planned angles belong to: how many
// places, how far apart, and whether they go all the way round. Angles on no grid
// of at most four times their number have no places; whether they close on
// themselves is then a matter of the largest gap, half a turn.
func (p *PlanCircle) grid() (places int, spacing s1.Angle, full bool) {
	n := len(p.Angles)
	on := func(step float64) bool {
		for _, a := range p.Angles {
			if math.Abs(a-step*math.Round(a/step)) > 1e-3 {
				return false
			}
		}
		return true
	}
	step := p.Angles[1]
	if even := on(step) && math.Abs(p.Angles[n-1]-float64(n-1)*step) < 1e-3; even {
		return n, s1.Angle(step) * s1.Degree, math.Abs(float64(n)*step-360) < 1e-2
	}
	for k := n + 1; k <= 4*n; k++ {
		if on(360 / float64(k)) {
			return k, s1.Angle(360/float64(k)) * s1.Degree, true
		}
	}
	return 0, 0, p.Angles[n-1] > 180
}

// circlePositions judges the true position of each hole: twice its distance
// from the place that the plan gives it about the frame's axis (the circle's own
// centre where the frame has no bore), on the planned pitch circle, the whole
// pattern turned to its best fit.
func (c *checker) circlePositions(p *PlanCircle, k *BoltCircle, name func(string) Result) {
	centre := k.Centre.R3()
	datum := 0.0 // variance of the centre, mm²
	if f := c.frame; f != nil && f.Face == k.Face {
		centre, datum = f.Origin.R3(), c.originVariance()
	}
	radius := k.PitchDiameter / 2
	if p.PitchDiameter != nil {
		radius = p.PitchDiameter.Nominal / 2
	}
	e1, e2 := fit.Frame(k.Axis.R3())
	angle := make([]float64, len(k.Clocking))
	turn := 0.0
	for i, g := range k.Clocking {
		d := c.rep.hole(g.Hole).Centre.R3().Sub(centre)
		angle[i] = wrap180(degrees(math.Atan2(d.Dot(e2), d.Dot(e1))) - *g.NominalDeg)
		turn += wrap180(angle[i]-angle[0]) / float64(len(angle))
	}
	turn += angle[0]
	for i, g := range k.Clocking {
		sin, cos := math.Sincos((*g.NominalDeg + turn) * math.Pi / 180)
		place := centre.Add(e1.Mul(radius * cos)).Add(e2.Mul(radius * sin))
		c.zone(name(k.Clocking[i].Hole), c.rep.hole(g.Hole), place, datum, radius, p.Position)
	}
}

// position judges a hole's true position about a place in the datum frame.
func (c *checker) position(r Result, h *Hole, at [2]float64, zone float64) {
	f := c.frame
	place := f.Origin.R3().Add(f.X.R3().Mul(at[0])).Add(f.Y.R3().Mul(at[1]))
	c.zone(r, h, place, c.originVariance(), math.Hypot(at[0], at[1]), zone)
}

// originVariance is the variance, mm², each way, of where the bore's axis meets
// the face; zero where the origin is no bore's.
func (c *checker) originVariance() float64 {
	k := c.rep.cylinder(c.frame.Axis)
	if k == nil {
		return 0
	}
	lever := k.Point.R3().Distance(c.frame.Origin.R3())
	return math.Pow(k.Uncertainty.Point/coverageCentre, 2) + math.Pow(k.Uncertainty.AxisDeg/coverageCentre*math.Pi/180*lever, 2)
}

// zone judges 2 sqrt(dx² + dy²), the diameter of the smallest zone about place
// that holds the hole's axis (ASME Y14.5), with the centre's uncertainty along
// the deviation; where the deviation is not well above it, with the larger one.
func (c *checker) zone(r Result, h *Hole, place r3.Vector, datum, distance, allowed float64) {
	r.Characteristic = Position
	e1, e2 := fit.Frame(h.Axis.R3())
	d := h.Centre.R3().Sub(place)
	x, y := d.Dot(e1), d.Dot(e2)
	cov := h.asBolt().CentreCov
	off := math.Hypot(x, y)
	half, diff := (cov[0][0]+cov[1][1])/2, (cov[0][0]-cov[1][1])/2
	v := half + math.Hypot(diff, cov[0][1]) // the larger variance
	if off > 3*math.Sqrt(v) {
		v = (x*x*cov[0][0] + 2*x*y*cov[0][1] + y*y*cov[1][1]) / (off * off)
	}
	c.judge(r, 2*off, 0, c.lengthSpread(2*coverage*math.Sqrt(v+datum), 2*distance), upTo(allowed))
}

// perpendicular judges the zone, a cylinder square to the datum plane, that holds
// the cylinder's axis over the length scanned: length times the sine of the tilt.
func (c *checker) perpendicular(r Result, k *Cylinder, p *PlanCylinder) {
	r.Characteristic = Perpendicularity
	datum := c.datumPlane(p.PerpendicularTo)
	if datum == nil {
		c.missing(p.ID, "its datum plane is not in this scan", Perpendicularity)
		return
	}
	tilt := k.Axis.R3().Cross(datum.Normal.R3()).Norm()
	u := math.Hypot(k.Uncertainty.AxisDeg, datum.Uncertainty.NormalDeg) / coverageCentre * math.Pi / 180
	c.judge(r, k.Length*tilt, 0, spread{scan: coverage * k.Length * u}, upTo(p.Perpendicularity))
}

// datumPlane is the plane of the scan that a plan's cylinder is held square to;
// without a name the frame's face.
func (c *checker) datumPlane(name string) *Plane {
	for i, p := range c.plan.Planes {
		if p.ID == name {
			if c.planes[i] < 0 {
				return nil
			}
			return &c.rep.Planes[c.planes[i]]
		}
	}
	if c.frame == nil {
		return nil
	}
	return c.rep.plane(c.frame.Face)
}
