package check

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"

	"spotface/report"
)

// referenceLength finds reference length i of the plan in the scan; why says what
// is in the way.
func (c *checker) referenceLength(i int) (m measuredLength, why string) {
	l := &c.plan.Scanner.ReferenceLengths[i]
	m = measuredLength{ReferenceLength: l, entry: strconv.Itoa(i)}
	shown := make([]any, len(l.Features))
	for k, name := range l.Features {
		f, id := c.feature(name)
		if f == nil {
			return m, "the scan does not show " + name
		}
		shown[k] = f
		m.matched = append(m.matched, id)
	}
	switch l.Of {
	case report.Diameter:
		m.scan = c.diameterOf(shown[0])
	case report.PitchDiameter:
		m.scan = pitchOf(shown[0].(*report.BoltCircle))
	case report.Distance:
		m.scan, why = distance(shown[0], shown[1])
		if why != "" {
			return m, why
		}
	}
	m.scan.feature = string(l.Of) + " " + strings.Join(m.matched, " ")
	if slices.Equal(m.matched, l.Features) {
		m.matched = nil
	}
	if !(m.scan.expanded > 0) || !(m.scan.value > 0) {
		return m, "the scan does not show how sure it is of it"
	}
	return m, ""
}

// feature is what the plan's id is in the scan, a *report.BoltCircle, *report.Hole,
// *report.Cylinder or *report.Plane, with its id there; nil where the scan does not show it.
func (c *checker) feature(id string) (any, string) {
	circle, place, inCircle := strings.Cut(id, "/")
	for i := range c.plan.BoltCircles {
		if c.plan.BoltCircles[i].ID != circle || c.circles[i].at < 0 {
			continue
		}
		k := &c.circled[c.circles[i].at]
		if !inCircle {
			return k, k.ID
		}
		at, _ := strconv.Atoi(place)
		if hole := c.places[i][at-1]; hole != "" {
			return c.rep.Hole(hole), hole
		}
		return nil, ""
	}
	for _, k := range c.kinds {
		for i, w := range k.wanted {
			if j := k.found[i]; w.ID == id && j >= 0 {
				return k.seen[j].of, k.seen[j].id
			}
		}
	}
	return nil, ""
}

// diameterOf is the diameter of a hole, a stud or a cylinder.
func (c *checker) diameterOf(of any) scanned {
	m := scanned{coats: 2}
	id := ""
	switch f := of.(type) {
	case *report.Hole:
		id, m.value = f.ID, f.Diameter
		m.expanded, m.unseen = f.Uncertainty.Diameter, f.Uncertainty.DiameterUnseen
		if slices.ContainsFunc(c.rep.Studs, func(h report.Hole) bool { return h.ID == f.ID }) {
			m.coats = -2
		}
	case *report.Cylinder:
		id, m.value = f.ID, f.Diameter
		m.expanded, m.unseen = f.Uncertainty.Diameter, f.Uncertainty.DiameterUnseen
		if f.Side == report.External {
			m.coats = -2
		}
	}
	m.feature = string(report.Diameter) + " " + id
	return m
}

// pitchOf is a pitch diameter. A coat does not move centres.
func pitchOf(k *report.BoltCircle) scanned {
	return scanned{feature: string(report.PitchDiameter) + " " + k.ID, value: k.PitchDiameter,
		expanded: k.Uncertainty.PitchDiameter}
}

// distance of two planes, or of the axes of holes and cylinders.
func distance(a, b any) (scanned, string) {
	if p, ok := a.(*report.Plane); ok {
		return planeDistance(p, b.(*report.Plane))
	}
	return axisDistance(a, b)
}

func tilt(a, b report.Vec) float64 {
	return degrees(math.Asin(min(1, a.R3().Cross(b.R3()).Norm())))
}

// planeDistance is the mean of each plane's distance from the other's middle. Of
// opposite faces, the thickness grows by a coat on either; of faces that look at
// each other the gap shrinks; a step stays.
func planeDistance(p, q *report.Plane) (scanned, string) {
	if t := tilt(p.Normal, q.Normal); t > mostTilt {
		return scanned{}, fmt.Sprintf("%s and %s are %.1f degrees from parallel here", p.ID, q.ID,
			t)
	}
	if !(p.Uncertainty.Offset > 0) || !(q.Uncertainty.Offset > 0) {
		return scanned{}, ""
	}
	d := q.Point.R3().Sub(p.Point.R3())
	sp, sq := d.Dot(p.Normal.R3()), -d.Dot(q.Normal.R3())
	out := scanned{value: (math.Abs(sp) + math.Abs(sq)) / 2}
	if p.Normal.R3().Dot(q.Normal.R3()) < 0 {
		out.coats = 2 // the faces look at each other
		if sp < 0 {
			out.coats = -2
		}
	}
	aside := d.Sub(p.Normal.R3().Mul(sp)).Norm() / 2 // by which each tilt swings the mean
	swing := func(p *report.Plane) float64 {
		tilt := p.Uncertainty.NormalDeg * math.Pi / 180
		return tilt / report.CoverageCentre * report.Coverage * aside
	}
	out.expanded = math.Sqrt(sq2(p.Uncertainty.Offset) + sq2(q.Uncertainty.Offset) + sq2(swing(p)) +
		sq2(swing(q)))
	return out, ""
}

func sq2(v float64) float64 { return v * v }

// axisDistance is the distance of one axis from a point of the other, the hole's
// on its face, perpendicular to the axis.
func axisDistance(a, b any) (scanned, string) {
	p, q := axisOf(a), axisOf(b)
	if !p.onFace && q.onFace {
		p, q = q, p
	}
	if t := tilt(p.axis, q.axis); t > mostTilt {
		return scanned{}, fmt.Sprintf("%s and %s are %.1f degrees from parallel here", p.id, q.id,
			t)
	}
	d := q.point.R3().Sub(p.point.R3())
	along := d.Dot(q.axis.R3())
	d = d.Sub(q.axis.R3().Mul(along))
	if d.Norm() == 0 {
		return scanned{}, "they have one axis"
	}
	way := d.Normalize()
	vp, vq := p.variance(way, 0), q.variance(way, along)
	out := scanned{value: d.Norm()}
	if vp > 0 && vq > 0 {
		out.expanded = report.Coverage * math.Sqrt(vp+vq)
	}
	return out, ""
}

type axis struct {
	id          string
	point, axis report.Vec
	onFace      bool // a hole: point is its centre on its face
	cov         covariance
	point95     float64 // radius of the point's 95 % circle
	tilt95      float64 // and of the axis' cone, degrees
}

func axisOf(of any) axis {
	switch f := of.(type) {
	case *report.Hole:
		return axis{id: f.ID, point: f.Centre, axis: f.Axis, onFace: true, cov: f.CentreCov()}
	case *report.Cylinder:
		return axis{id: f.ID, point: f.Point, axis: f.Axis, point95: f.Uncertainty.Point,
			tilt95: f.Uncertainty.AxisDeg}
	}
	return axis{}
}

// covAt is the covariance of the axis' place so far along it from its point, mm².
func (a axis) covAt(along float64) covariance {
	if a.onFace {
		return a.cov
	}
	return round(math.Hypot(a.point95, a.tilt95*math.Pi/180*along) / report.CoverageCentre)
}

// variance of the axis' place in a direction, mm², so far along it from its point; zero where
// the scan does not show it.
func (a axis) variance(way r3.Vector, along float64) float64 {
	if !a.onFace && !(a.point95 > 0) {
		return 0
	}
	c := a.covAt(along)
	return c.along(laidOn(a.axis.R3(), way)[0])
}
