package report

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/fit"
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
