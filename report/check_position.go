package report

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/fit"
	"spotface/report/budget"
)

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
		place := e1.Mul(radius * cos).Add(e2.Mul(radius * sin))
		c.zone(name(k.Clocking[i].Hole), c.rep.hole(g.Hole), centre, place, datum, p.Position)
	}
}

// position judges a hole's true position about a place in the datum frame.
func (c *checker) position(r Result, h *Hole, at [2]float64, zone float64) {
	f := c.frame
	place := f.X.R3().Mul(at[0]).Add(f.Y.R3().Mul(at[1]))
	c.zone(r, h, f.Origin.R3(), place, c.originVariance(), zone)
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

// zone judges 2 sqrt(dx² + dy²), the diameter of the smallest zone about place, as
// seen from origin, that holds the hole's axis (ASME Y14.5), with the uncertainty
// along the deviation; where the deviation is not well above it, with the larger
// one.
func (c *checker) zone(r Result, h *Hole, origin, place r3.Vector, datum, allowed float64) {
	r.Characteristic = Position
	l := c.lengths
	e1, e2 := fit.Frame(h.Axis.R3())
	flat := func(v r3.Vector) r3.Vector { return r3.Vector{X: v.Dot(e1), Y: v.Dot(e2)} }
	from := flat(h.Centre.R3().Sub(origin)) // as scanned
	d := from.Mul(l.factor).Sub(flat(place))
	cov := h.asBolt().CentreCov
	off, far := d.Norm(), from.Norm()
	half, diff := (cov[0][0]+cov[1][1])/2, (cov[0][0]-cov[1][1])/2
	v := half + math.Hypot(diff, cov[0][1]) // the larger variance
	outward := far                          // by which a change of scale moves the hole along the deviation
	if off > 3*l.factor*math.Sqrt(v) {
		v = (d.X*d.X*cov[0][0] + 2*d.X*d.Y*cov[0][1] + d.Y*d.Y*cov[1][1]) / (off * off)
		outward = d.Dot(from) / off
	}
	src := &sources{}
	if src.seen("place "+h.ID, off, "mm", coverage*math.Sqrt(v), 0, 2*l.factor) {
		if datum > 0 {
			src.add(SourceDatum, "", 0, "mm", budget.Standard{U: math.Sqrt(datum)}, 2*l.factor)
		}
		l.scanError(src, "place "+h.ID, far, 2*l.factor)
		src.addAll(l.terms, 2*outward)
	} else {
		src = nil
	}
	c.judge(r, 2*off, 0, src, upTo(allowed))
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
	expanded := func(deg float64) float64 { return deg / coverageCentre * coverage * math.Pi / 180 * k.Length }
	m := scanned{feature: "axis " + k.ID, value: k.Length * tilt, expanded: expanded(k.Uncertainty.AxisDeg)}
	if u := expanded(datum.Uncertainty.NormalDeg); u > 0 {
		m.others = append(m.others, other{name: SourceDatum, feature: datum.ID, expanded: u, sensitivity: 1})
	}
	y, src := c.lengths.form(m)
	c.judge(r, y, 0, src, upTo(p.Perpendicularity))
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
