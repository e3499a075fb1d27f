package check

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/bolt"
	"spotface/bolt/pattern"
	"spotface/mesh/geom"
	"spotface/report"
	"spotface/report/budget"
	"spotface/report/plan"
)

// covariance is that of a place in a plane, mm².
type covariance [2][2]float64

// outer is v vᵀ.
func outer(v [2]float64) covariance {
	return covariance{{v[0] * v[0], v[0] * v[1]}, {v[0] * v[1], v[1] * v[1]}}
}

// plus returns c + f o.
func (c covariance) plus(f float64, o covariance) covariance {
	for i := range c {
		for j := range c {
			c[i][j] += f * o[i][j]
		}
	}
	return c
}

// round is the covariance of one standard uncertainty in both directions.
func round(u float64) covariance { return covariance{{u * u, 0}, {0, u * u}} }

// along is the variance in the direction of the unit vector w.
func (c *covariance) along(w [2]float64) float64 {
	return w[0]*w[0]*c[0][0] + w[0]*w[1]*(c[0][1]+c[1][0]) + w[1]*w[1]*c[1][1]
}

// found is a hole compared with its place, in the plane perpendicular to its axis.
type found struct {
	hole *report.Hole
	off  [2]float64 // how far off it lies, mm
	cov  covariance // what the scan's noise makes of that
	from [2]float64 // where it lies from the origin, mm, as scanned
	// datum is how the frame's own errors, independent and of one standard
	// uncertainty each, move it, mm.
	datum [][2]float64
}

// circlePositions judges the true position of each hole: twice its distance
// from the place that the plan gives it about the frame's axis, on the planned pitch
// circle, the whole pattern turned to its best fit by least squares, and shifted to it,
// too, where the frame has no bore.
func (c *checker) circlePositions(p *plan.Circle, k *report.BoltCircle,
	name func(report.Characteristic, ...string) report.Result) {
	ids, nominal, _ := nominalPlaces(p, k)
	axis, centre := k.Axis.R3(), k.Centre.R3()
	opt := pattern.Options{Scale: 1 / c.lengths.factor}
	var datum [][2]float64
	if f := c.frame; f != nil && f.Face == k.Face && f.Axis != k.ID {
		centre, opt.Centre = f.Origin.R3(), &[2]float64{}
		datum = laidOn(axis, c.originError()...)
	}
	places := bolt.PlacesOf(c.rep.BoltHoles(ids...), centre, axis)
	laid, err := pattern.To(nominal, places, opt)
	if err == nil {
		c.smallestZone(p, laid, nominal, places, opt)
	}
	if p.Position.Within > 0 {
		opt.Centre = nil
		c.composite(name(report.Position), p, k, nominal, places, opt)
	}
	for i, g := range k.Clocking {
		if p.Position.Diameter == 0 {
			break
		}
		if err != nil {
			c.lacks(name(report.Position, g.Hole), err.Error())
			continue
		}
		d := laid.Off(i)
		f := found{hole: c.rep.Hole(g.Hole), cov: d.Cov, datum: datum}
		for x := range 2 {
			f.off[x] = d.XY[x] * c.lengths.factor
			f.from[x] = places.XY[i][x] - laid.Centre[x]
		}
		c.zone(name(report.Position, g.Hole), f, p.Position, p.HoleDiameter)
	}
}

// nominalPlaces are where the plan has the holes of a circle, about its middle, from its first
// angle on; the radius is the measured one where the plan has none.
func nominalPlaces(p *plan.Circle, k *report.BoltCircle) (ids []string, places [][2]float64,
	radius float64) {
	radius = k.PitchDiameter / 2
	if p.PitchDiameter != nil {
		radius = p.PitchDiameter.Nominal / 2
	}
	for _, g := range k.Clocking {
		ids = append(ids, g.Hole)
		places = append(places, polar(radius, *g.NominalDeg))
	}
	return ids, places, radius
}

// smallestZone notes where all holes lie in their zones on a gauge, which is turned and shifted
// to suit the farthest hole, but not by least squares.
func (c *checker) smallestZone(p *plan.Circle, laid *pattern.Fit, nominal [][2]float64,
	places pattern.Places, opt pattern.Options) {
	worst := 0.0
	for i := range nominal {
		d := laid.Off(i).XY
		worst = max(worst, 2*math.Hypot(d[0], d[1])*c.lengths.factor)
	}
	z, err := pattern.ToZone(nominal, places, opt.Scale, opt.Centre, nil)
	if d := z.Diameter * c.lengths.factor; err == nil && worst > p.Position.Diameter &&
		d <= p.Position.Diameter {
		c.note("Turned%s to suit the farthest hole, as on a gauge, all holes of %s lie in zones "+
			"of %.3g mm; by least squares, as judged, in zones of %.3g mm.",
			map[bool]string{true: " and shifted"}[opt.Centre == nil], p.ID, d, worst)
	}
}

// placed judges a hole's true position about its place in the datum frame.
func (c *checker) placed(r report.Result, h *report.Hole, w *plan.Feature) {
	if c.frame == nil {
		c.lacks(r, "the scan gives no datum frame to place it in")
		return
	}
	f := c.frame
	laid := func(v r3.Vector) [2]float64 { return laidOn(h.Axis.R3(), v)[0] }
	place := f.X.R3().Mul(w.At[0]).Add(f.Y.R3().Mul(w.At[1]))
	from := h.Centre.R3().Sub(f.Origin.R3())
	p := found{hole: h, off: laid(from.Mul(c.lengths.factor).Sub(place)), cov: h.CentreCov(),
		from: laid(from), datum: laidOn(h.Axis.R3(), c.originError()...)}
	// The frame is turned by the hole that clocks it, and by that hole's error.
	if clock := c.rep.Hole(f.Clock); clock != nil && clock != h {
		arm := clock.Centre.R3().Sub(f.Origin.R3())
		cov := covariance(clock.CentreCov())
		v := cov.along(laidOn(clock.Axis.R3(), f.Z.R3().Cross(arm).Normalize())[0])
		if arm.Norm() > 0 && v > 0 {
			p.datum = append(p.datum, laid(f.Z.R3().Cross(place).Mul(math.Sqrt(v)/arm.Norm())))
		}
	}
	c.zone(r, p, w.Position, w.Size)
}

// originError is how the error of where the bore meets the face moves a place, mm, or that
// of a bolt circle's centre where there is no bore: along its two main axes in the face.
func (c *checker) originError() []r3.Vector {
	var cov covariance
	if h := c.rep.Mouth(c.frame.Axis, c.frame.Face); h != nil {
		cov = h.CentreCov()
	} else if k := c.rep.Cylinder(c.frame.Axis); k != nil {
		cov = ofCylinder(k).covAt(k.Point.R3().Distance(c.frame.Origin.R3()))
	}
	for i := range c.circled {
		if k := &c.circled[i]; k.ID == c.frame.Axis {
			cov = round(k.Uncertainty.Centre / report.CoverageCentre)
		}
	}
	most, way := cov.largest()
	if !(most > 0) {
		return nil
	}
	u, v := math.Sqrt(most), math.Sqrt(max(cov[0][0]+cov[1][1]-most, 0))
	e1, e2 := geom.Basis(c.frame.Z.R3())
	return []r3.Vector{
		e1.Mul(u * way[0]).Add(e2.Mul(u * way[1])),
		e2.Mul(v * way[0]).Sub(e1.Mul(v * way[1])),
	}
}

// laidOn gives vectors in space along the axes of a place's covariance, geom.Basis(axis).
func laidOn(axis r3.Vector, of ...r3.Vector) [][2]float64 {
	e1, e2 := geom.Basis(axis)
	var out [][2]float64
	for _, v := range of {
		out = append(out, [2]float64{v.Dot(e1), v.Dot(e2)})
	}
	return out
}

// zone judges 2 sqrt(dx² + dy²), the diameter of the smallest zone about its place
// that holds the hole's axis (ASME Y14.5). Its uncertainty is that of a distance in
// a plane, planar.expanded; the budget, and with it the coverage factor, is taken
// along the deviation, or where that is lost in the uncertainty along the larger
// one.
//
// At maximum material condition the zone grows by as much as the hole is larger than the
// smallest allowed; the uncertainty of that adds to the zone's, as if independent.
func (c *checker) zone(r report.Result, f found, z plan.Zone, size *plan.Size) {
	l := c.lengths
	bonus, bonusSource := c.bonus(f.hole, z, size)
	r.Bonus = bonus
	allowed := z.Diameter + bonus
	var rest covariance
	scan := rest.plus(l.factor*l.factor, f.cov)
	for _, v := range f.datum {
		rest = rest.plus(l.factor*l.factor, outer(v))
	}
	for _, t := range l.terms.list { // a change of scale moves the hole from the origin
		rest = rest.plus(sq2(t.Sensitivity*t.U), outer(f.from))
	}
	own := &sources{}
	far := math.Hypot(f.from[0], f.from[1])
	l.scanError(own, "place "+f.hole.ID, far, l.factor)
	all := rest.plus(1, round(own.combined().U)).plus(1, scan)
	off := math.Hypot(f.off[0], f.off[1])
	most, way := all.largest()
	if off > 3*math.Sqrt(most) {
		way = [2]float64{f.off[0] / off, f.off[1] / off}
	}
	src := &sources{}
	if !src.seen("place "+f.hole.ID, off, "mm", report.Coverage*math.Sqrt(scan.along(way))/l.factor,
		0, 2*l.factor) {
		c.judge(r, 2*off, 0, nil, upTo(allowed))
		return
	}
	dof := f.hole.Uncertainty.CentreDOF
	src.list[0].DoF = dof
	if datum := 0.0; len(f.datum) > 0 {
		for _, v := range f.datum {
			datum += sq2(v[0]*way[0] + v[1]*way[1])
		}
		src.add(report.SourceDatum, "", 0, "mm", budget.Standard{U: math.Sqrt(datum)}, 2*l.factor)
	}
	l.scanError(src, "place "+f.hole.ID, far, 2*l.factor)
	src.addAll(l.terms, 2*(f.from[0]*way[0]+f.from[1]*way[1]))
	// Student's t with the scan's covariance has the scale (ν - 2)/ν of it.
	scales := all
	if dof > 2 {
		scales = all.plus(-2/dof, scan)
	}
	s := sureness{standard: src.combined()}
	if p, ok := newPlanar(scales, f.off[0], f.off[1], s.standard.DoF); ok {
		s.expanded, s.probability = 2*p.expanded(off), p.within(off, allowed/2)
		if u := bonusSource.U; u > 0 {
			src.add(report.SourceSize, "diameter "+f.hole.ID, f.hole.Diameter, "mm", bonusSource,
				-1)
			s.standard, s.expanded = src.combined(), math.Hypot(s.expanded, report.Coverage*u)
			s.probability = 0
			for i := range draws { // the bonus at the middles of as many equally probable parts
				b := distuv.UnitNormal.Quantile((float64(i) + 0.5) / draws)
				s.probability += p.within(off, max(allowed+u*b, 0)/2) / draws
			}
		}
	}
	c.state(r, 2*off, 0, src, s, upTo(allowed))
}

// bonus is how much a hole's zone grows at maximum material condition, mm, at most by the
// whole band, and how sure it is.
func (c *checker) bonus(h *report.Hole, z plan.Zone, size *plan.Size) (float64, budget.Standard) {
	if !z.MMC {
		return 0, budget.Standard{}
	}
	y, src := c.lengths.correct(ofHole(h, 2).size)
	var u budget.Standard
	if src != nil {
		u = src.combined()
	}
	return min(max(y-size.Nominal-size.Band.Lo, 0), size.Band.Hi-size.Band.Lo), u
}

// composite judges the zones within which the holes keep to each other: the pattern is
// shifted and turned as suits them best (ASME Y14.5, the lower segment of a composite
// tolerance). Its uncertainty is that of the hole that decides.
func (c *checker) composite(r report.Result, p *plan.Circle, k *report.BoltCircle,
	nominal [][2]float64, places pattern.Places, opt pattern.Options) {
	f := c.lengths.factor
	var bonus, slack []float64
	for _, g := range k.Clocking {
		b, _ := c.bonus(c.rep.Hole(g.Hole), p.Position, p.HoleDiameter)
		bonus, slack = append(bonus, b), append(slack, b/2/f)
	}
	free, err := pattern.To(nominal, places, opt)
	var zone pattern.Zone
	if err == nil {
		zone, err = pattern.ToZone(nominal, places, opt.Scale, nil, slack)
	}
	if err != nil {
		c.lacks(r, err.Error())
		return
	}
	worst := zone.Worst
	measured := zone.Diameter*f + bonus[worst]
	d := free.Off(worst)
	at := found{hole: c.rep.Hole(k.Clocking[worst].Hole), cov: d.Cov}
	way := [2]float64{1, 0}
	if l := math.Hypot(d.XY[0], d.XY[1]); l > 0 {
		way = [2]float64{d.XY[0] / l, d.XY[1] / l}
	}
	for x := range 2 {
		at.from[x] = places.XY[worst][x] - free.Centre[x]
		at.off[x] = way[x] * measured / 2
	}
	z := p.Position
	z.Diameter = z.Within
	c.zone(r, at, z, p.HoleDiameter)
}

// largest is the largest variance in any direction, and that direction.
func (c *covariance) largest() (v float64, way [2]float64) {
	half, diff := (c[0][0]+c[1][1])/2, (c[0][0]-c[1][1])/2
	sin, cos := math.Sincos(math.Atan2(c[0][1], diff) / 2)
	return half + math.Hypot(diff, c[0][1]), [2]float64{cos, sin}
}

// perpendicular judges the zone, a cylinder perpendicular to the datum plane, that holds
// the cylinder's axis over the length scanned: length times the sine of the tilt.
func (c *checker) perpendicular(r report.Result, s *seen, w *plan.Feature) {
	datum := c.datumPlane(w.PerpendicularTo)
	if datum == nil {
		c.missing(w.ID, "its datum plane is not in this scan", r.Characteristic)
		return
	}
	tilt := s.axis.R3().Cross(datum.axis.R3()).Norm()
	expanded := func(deg float64) float64 {
		return deg / report.CoverageCentre * report.Coverage * math.Pi / 180 * s.length
	}
	y, src := c.lengths.correct(scanned{feature: "axis " + s.id, value: s.length * tilt,
		expanded: expanded(s.tilt), form: true, datum: expanded(datum.tilt), datumID: datum.id})
	c.judge(r, y, 0, src, upTo(w.Perpendicularity))
}

// datumPlane is the scan's plane to which a planned cylinder is perpendicular; without a name
// it is the frame's face.
func (c *checker) datumPlane(name string) *seen {
	k := &c.kinds[planes]
	if i := slices.IndexFunc(k.wanted, func(w wanted) bool { return w.ID == name }); i >= 0 {
		return k.wanted[i].shown
	}
	if c.frame == nil || c.rep.Plane(c.frame.Face) == nil {
		return nil
	}
	return ofPlane(c.rep.Plane(c.frame.Face))
}
