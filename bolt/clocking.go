package bolt

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"gonum.org/v1/gonum/floats"

	"spotface/bolt/pattern"
	"spotface/mesh/geom"
)

// Clock measures the bolt circle through holes of one face: pitch diameter,
// clocking and spacing with their standard uncertainties.
//
// holes[0] is the clocking hole; the rest may stand in any order and come back
// in the circle's counter-clockwise. nom is what they are judged against; its
// zero value means the likeliest of pattern.Readings. Otherwise nom.Angles has one
// angle a hole, counter-clockwise from the clocking hole (0 first).
//
// Clocking is about the centre of the least-squares circle through the
// centres, against the nominal angles turned to their best fit, so that the
// deviations' mean is zero; FromOthers leaves the hole out of circle and turn.
// Uncertainties are the holes' joint covariance carried through every step by the
// full Jacobian (GUM, JCGM 100:2008, eq. 13), the fitted circle's included.
//
// It is an error if there are fewer than three holes, if they do not tell a
// circle, if a hole's CentreCov is no covariance, or if nom.Angles does not fit their number.
func Clock(holes []Hole, nom pattern.Reading) (Circle, error) {
	l, err := layHoles(holes)
	if err != nil {
		return Circle{}, err
	}
	var readings []pattern.Reading
	if nom.Kind == "" && len(nom.Angles) == 0 {
		if readings, err = pattern.Readings(l.places); err != nil {
			return Circle{}, err
		}
		nom = readings[0]
		readings = slices.DeleteFunc(readings, func(r pattern.Reading) bool { return r.Probability < leastReading })
		readings = readings[:min(mostReadings, len(readings))]
	}
	if nom.Kind == pattern.Irregular {
		nom.Angles = nil
	} else if len(nom.Angles) != len(holes) {
		return Circle{}, fmt.Errorf("bolt circle: %d nominal angles for %d holes", len(nom.Angles), len(holes))
	}
	g := l.ring
	c := Circle{
		Face: l.holes[0].Face, Axis: l.flat.n,
		Centre:        l.flat.at([2]float64{g.X, g.Y}),
		PitchDiameter: 2 * g.R,
		PitchU:        2 * l.places.SD(g.DR),
		Nominal:       nom,
		Readings:      readings,
	}
	xy := l.places.Joint(g.DX, g.DY)
	c.CentreCov = [2][2]float64{{l.places.Joint(g.DX, g.DX), xy}, {xy, l.places.Joint(g.DY, g.DY)}}
	for _, h := range l.holes {
		c.Holes = append(c.Holes, h.ID)
	}
	l.clock(&c)
	l.space(&c)
	return c, nil
}

// laid is a ring of holes laid on their face's sheet, counter-clockwise from
// the clocking hole.
type laid struct {
	flat        flat
	holes       []Hole
	places      pattern.Places
	ring        *pattern.RingFit
	angle       []float64   // from the clocking hole, rad, ascending, first 0
	radial      []float64   // out of the ring, mm
	turns, outs [][]float64 // derivatives of both by the places
}

func layHoles(holes []Hole) (l laid, err error) {
	if len(holes) < 3 {
		return l, fmt.Errorf("bolt circle: %d holes, need at least 3 to tell centre and pitch diameter", len(holes))
	}
	var axis, middle r3.Vector
	for _, h := range holes {
		// The smaller eigenvalue, but for its rounding; one that is not known is NaN.
		c := h.CentreCov
		half := (c[0][0] + c[1][1]) / 2
		if half-math.Hypot((c[0][0]-c[1][1])/2, c[0][1]) < -leastVariance*math.Abs(half) {
			return l, fmt.Errorf("bolt circle: the centre of hole %s has a negative variance: %v is "+
				"no covariance", h.ID, c)
		}
		axis = axis.Add(h.Axis)
		middle = middle.Add(h.Centre.Mul(1 / float64(len(holes))))
	}
	if axis.Norm() < 0.5*float64(len(holes)) {
		return l, fmt.Errorf("bolt circle: the holes' axes do not point one way")
	}
	n := axis.Normalize()
	if !slices.ContainsFunc(holes, func(h Hole) bool { return h.Axis != holes[0].Axis }) {
		n = holes[0].Axis // exactly the face's normal
	}
	l.flat = newFlat(middle, n)
	l.places = PlacesOf(holes, middle, n)
	if l.ring, err = pattern.FitRing(l.places.XY); err != nil {
		return l, err
	}
	first, _, _, _ := l.ring.Seen(0)
	order := pattern.Without(len(holes))
	from := make([]float64, len(holes))
	for i := range holes[1:] {
		a, _, _, _ := l.ring.Seen(i + 1)
		from[i+1] = geom.Wrap(a - first)
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(from[a], from[b]) })
	for _, i := range order {
		l.holes, l.angle = append(l.holes, holes[i]), append(l.angle, from[i])
	}
	l.places = PlacesOf(l.holes, middle, n)
	if l.ring, err = pattern.FitRing(l.places.XY); err != nil {
		return l, err
	}
	for i := range holes {
		_, out, da, dr := l.ring.Seen(i)
		l.radial, l.turns, l.outs = append(l.radial, out), append(l.turns, da), append(l.outs, dr)
	}
	return l, nil
}

// clock fills in the clocking of each hole.
func (l *laid) clock(c *Circle) {
	n := len(l.holes)
	irregular := c.Nominal.Kind == pattern.Irregular
	// deviation_i = (angle_i - nominal_i) - mean over the holes
	dev := make([]float64, n)
	from := make([]float64, 2*n) // derivative of what angles are counted from
	for i := range n {
		if !irregular {
			dev[i] = geom.WrapHalf(l.angle[i] - c.Nominal.Angles[i].Radians())
			floats.AddScaled(from, 1/float64(n), l.turns[i])
		}
	}
	if irregular {
		from = l.turns[0] // the clocking hole
	}
	mean := floats.Sum(dev) / float64(n)
	for i := range n {
		row := slices.Clone(l.turns[i])
		floats.Sub(row, from)
		k := Clocking{Hole: l.holes[i].ID, Angle: s1.Angle(l.angle[i]), U: s1.Angle(l.places.SD(row)),
			Radial: l.radial[i], RadialU: l.places.SD(l.outs[i])}
		if !irregular {
			k.Nominal, k.Deviation = c.Nominal.Angles[i], s1.Angle(dev[i]-mean)
			l.fromOthers(&k, i, c.Nominal.Angles)
		}
		c.Clocking = append(c.Clocking, k)
	}
	c.DatumOffset = c.Clocking[0].Deviation
}

// fromOthers measures hole i against the ring of the others, turned as they are: by the
// mean of (angle - nominal) about their own centre.
func (l *laid) fromOthers(k *Clocking, i int, nominal []s1.Angle) {
	n := len(l.holes)
	others := pattern.Without(n, i)
	if n < 4 {
		return // two others make no circle
	}
	g, err := pattern.FitRing(l.places.XY, others...)
	if err != nil {
		return
	}
	base, _, _, _ := l.ring.Seen(0) // counted from there, clear of the wrap
	a, radial, row, _ := g.Seen(i)
	turn := 0.0
	for _, j := range others {
		b, _, db, _ := g.Seen(j)
		turn += geom.WrapHalf(b-nominal[j].Radians()-base) / float64(n-1)
		floats.AddScaled(row, -1/float64(n-1), db)
	}
	k.HasOthers, k.RadialFromOthers = true, radial
	k.FromOthers = s1.Angle(geom.WrapHalf(a - nominal[i].Radians() - base - turn))
	k.FromOthersU = s1.Angle(l.places.SD(row))
}

// space fills in the spacing from each hole to the next one present, about the
// ring's centre. A full ring wraps; a partial one has one fewer. Across a
// missing hole the nominal is the sum of the steps.
func (l *laid) space(c *Circle) {
	n := len(l.holes)
	irregular := c.Nominal.Kind == pattern.Irregular
	last := n - 1
	if c.Nominal.Full || irregular {
		last = n
	}
	for i := range last {
		j := (i + 1) % n
		d := slices.Clone(l.turns[j])
		floats.Sub(d, l.turns[i])
		s := Spacing{
			From: l.holes[i].ID, To: l.holes[j].ID,
			Angle: s1.Angle(step(l.angle[i], l.angle[j])),
			U:     s1.Angle(l.places.SD(d)),
		}
		if !irregular {
			s.Nominal = s1.Angle(step(c.Nominal.Angles[i].Radians(), c.Nominal.Angles[j].Radians()))
			s.Deviation = s1.Angle(geom.WrapHalf((s.Angle - s.Nominal).Radians()))
		}
		c.Spacing = append(c.Spacing, s)
	}
}

// step returns the turn from a on to b, rad, in (0, 2π].
func step(a, b float64) float64 {
	if s := geom.Wrap(b - a); s > 0 {
		return s
	}
	return 2 * math.Pi
}

// Wrap returns a turned by whole turns into [0, 360) degrees.
func Wrap(a s1.Angle) s1.Angle { return s1.Angle(geom.Wrap(a.Radians())) }
