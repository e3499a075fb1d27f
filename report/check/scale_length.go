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
	shown := make([]*seen, len(l.Features))
	for k, name := range l.Features {
		if shown[k] = c.feature(name); shown[k] == nil {
			return m, "the scan does not show " + name
		}
		m.matched = append(m.matched, shown[k].id)
	}
	if m.scan = shown[0].size; l.Of == report.Distance {
		if m.scan, why = distance(shown[0], shown[1]); why != "" {
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

// feature is what the plan's id is in the scan, nil where the scan does not show it.
func (c *checker) feature(id string) *seen {
	circle, place, inCircle := strings.Cut(id, "/")
	for i := range c.plan.BoltCircles {
		if c.plan.BoltCircles[i].ID != circle || c.circles[i].at < 0 {
			continue
		}
		if !inCircle {
			return ofCircle(&c.circled[c.circles[i].at])
		}
		at, _ := strconv.Atoi(place)
		if hole := c.places[i][at-1]; hole != "" {
			return ofHole(c.rep.Hole(hole), 2)
		}
		return nil
	}
	for _, k := range c.kinds {
		for i, w := range k.wanted {
			if w.ID == id {
				return k.shown(i)
			}
		}
	}
	return nil
}

// distance of two planes, or of the axes of holes and cylinders.
func distance(a, b *seen) (scanned, string) {
	if t := tilt(a.axis, b.axis); t > mostTilt {
		return scanned{}, fmt.Sprintf("%s and %s are %.1f degrees from parallel here", a.id, b.id, t)
	}
	if a.plane {
		return planeDistance(a, b), ""
	}
	return axisDistance(a, b)
}

func tilt(a, b report.Vec) float64 {
	return degrees(math.Asin(min(1, a.R3().Cross(b.R3()).Norm())))
}

// planeDistance is the mean of each plane's distance from the other's middle. Of
// opposite faces, the thickness grows by a coat on either; of faces that look at
// each other the gap shrinks; a step stays.
func planeDistance(p, q *seen) (out scanned) {
	if !(p.off > 0) || !(q.off > 0) {
		return out
	}
	d := q.point.R3().Sub(p.point.R3())
	sp, sq := d.Dot(p.axis.R3()), -d.Dot(q.axis.R3())
	out.value = (math.Abs(sp) + math.Abs(sq)) / 2
	if p.axis.R3().Dot(q.axis.R3()) < 0 {
		out.coats = 2 // the faces look at each other
		if sp < 0 {
			out.coats = -2
		}
	}
	aside := d.Sub(p.axis.R3().Mul(sp)).Norm() / 2 // by which each tilt swings the mean
	swing := func(p *seen) float64 {
		return p.tilt * math.Pi / 180 / report.CoverageCentre * report.Coverage * aside
	}
	out.expanded = math.Sqrt(sq2(p.off) + sq2(q.off) + sq2(swing(p)) + sq2(swing(q)))
	return out
}

func sq2(v float64) float64 { return v * v }

// axisDistance is the distance of one axis from a point of the other, the hole's
// on its face, perpendicular to the axis.
func axisDistance(p, q *seen) (scanned, string) {
	if p.hole == nil && q.hole != nil {
		p, q = q, p
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

// covAt is the covariance of an axis' place so far along it from its point, mm², of a hole
// on its face.
func (s *seen) covAt(along float64) covariance {
	if s.hole != nil {
		return s.hole.CentreCov()
	}
	return round(math.Hypot(s.off, s.tilt*math.Pi/180*along) / report.CoverageCentre)
}

// variance of an axis' place in a direction, mm², so far along it from its point; zero where
// the scan does not show it.
func (s *seen) variance(way r3.Vector, along float64) float64 {
	if s.hole == nil && !(s.off > 0) {
		return 0
	}
	c := s.covAt(along)
	return c.along(laidOn(s.axis.R3(), way)[0])
}
