package bolt

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

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
// circle, or if nom.Angles does not fit their number.
func Clock(holes []Hole, nom Nominal) (Circle, error) {
	l, err := layHoles(holes)
	if err != nil {
		return Circle{}, err
	}
	if len(nom.Angles) == 0 && !nom.Irregular {
		readings, err := pattern.Readings(l.places)
		if err != nil {
			return Circle{}, err
		}
		nom = nominalOf(readings)
	}
	if nom.Irregular {
		nom.Angles = nil
	} else if len(nom.Angles) != len(holes) {
		return Circle{}, fmt.Errorf("bolt circle: %d nominal angles for %d holes", len(nom.Angles), len(holes))
	}
	g := &l.ring
	c := Circle{
		Face: l.holes[0].Face, Axis: l.flat.n,
		Centre:        l.flat.at([2]float64{g.X, g.Y}),
		PitchDiameter: 2 * g.R,
		PitchU:        2 * l.sd(g.DR),
		Nominal:       nom,
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

// nominalOf takes the likeliest reading, and lists the next ones.
func nominalOf(readings []pattern.Reading) Nominal {
	r := readings[0]
	n := Nominal{Positions: r.Positions, Spacing: r.Step, FullRing: r.Full, Missing: r.Missing,
		Angles: r.Angles, Irregular: r.Kind == pattern.Irregular, Confidence: r.Probability, Offset: r.Offset}
	for i, o := range readings {
		if i < mostReadings && (i == 0 || o.Probability >= leastReading) {
			n.Readings = append(n.Readings, NominalReading{o.What(), o.Probability})
		}
	}
	return n
}

// laid is a ring of holes laid on their face's sheet, counter-clockwise from
// the clocking hole.
type laid struct {
	flat   flat
	holes  []Hole
	places pattern.Places
	ring   pattern.RingFit
	angle  []float64 // from the clocking hole, rad, ascending, first 0
}

func layHoles(holes []Hole) (laid, error) {
	if len(holes) < 3 {
		return laid{}, fmt.Errorf("bolt circle: %d holes, need at least 3 to tell centre and pitch diameter", len(holes))
	}
	var axis, middle r3.Vector
	for _, h := range holes {
		axis = axis.Add(h.Axis)
		middle = middle.Add(h.Centre.Mul(1 / float64(len(holes))))
	}
	if axis.Norm() < 0.5*float64(len(holes)) {
		return laid{}, fmt.Errorf("bolt circle: the holes' axes do not point one way")
	}
	n := holes[0].Axis // exactly the face's normal, where the holes share it
	for _, h := range holes {
		if h.Axis != n {
			n = axis.Normalize()
			break
		}
	}
	l := laid{flat: newFlat(middle, n)}
	g, err := pattern.FitRing(PlacesOf(holes, middle, n).XY)
	if err != nil {
		return laid{}, err
	}
	type turned struct {
		hole  Hole
		angle float64
	}
	order := make([]turned, len(holes))
	for i, h := range holes {
		order[i] = turned{h, geom.Wrap(g.Angle[i] - g.Angle[0])}
	}
	order[0].angle = 0
	slices.SortStableFunc(order, func(a, b turned) int { return cmp.Compare(a.angle, b.angle) })
	for _, o := range order {
		l.holes, l.angle = append(l.holes, o.hole), append(l.angle, o.angle)
	}
	l.places = PlacesOf(l.holes, middle, n)
	l.ring, err = pattern.FitRing(l.places.XY)
	return l, err
}

// sd returns the standard uncertainty of the quantity with gradient a.
func (l *laid) sd(a []float64) float64 { return l.places.SD(a) }

// rows returns the gradients of each hole's angle about the ring's centre and of how far
// out it lies.
func (l *laid) rows() (angle, radial [][]float64) {
	for i, p := range l.places.XY {
		_, _, da, dr, own := l.ring.Seen(p)
		for x := range 2 {
			da[2*i+x] += own[0][x]
			dr[2*i+x] += own[1][x]
		}
		angle, radial = append(angle, da), append(radial, dr)
	}
	return angle, radial
}

// clock fills in the clocking of each hole.
func (l *laid) clock(c *Circle) {
	n := len(l.holes)
	rows, radial := l.rows()
	c.Clocking = make([]Clocking, n)
	for i := range n {
		c.Clocking[i] = Clocking{
			Hole: l.holes[i].ID, Angle: s1.Angle(l.angle[i]),
			Radial: l.ring.Radial[i], RadialU: l.sd(radial[i]),
		}
	}
	if c.Nominal.Irregular {
		for i := range n {
			d := slices.Clone(rows[i])
			addTo(d, rows[0], -1)
			c.Clocking[i].U = s1.Angle(l.sd(d)) // of the angle from the clocking hole
		}
		return
	}
	// deviation_i = (angle_i - nominal_i) - mean over the holes
	dev := make([]float64, n)
	var mean float64
	meanRow := make([]float64, 2*n)
	for i := range n {
		dev[i] = geom.WrapHalf(l.angle[i] - c.Nominal.Angles[i].Radians())
		mean += dev[i] / float64(n)
		addTo(meanRow, rows[i], 1/float64(n))
	}
	for i := range n {
		row := slices.Clone(rows[i])
		addTo(row, meanRow, -1)
		k := &c.Clocking[i]
		k.Nominal = c.Nominal.Angles[i]
		k.Deviation = s1.Angle(dev[i] - mean)
		k.U = s1.Angle(l.sd(row))
	}
	c.DatumOffset = c.Clocking[0].Deviation
	for i := range n {
		l.fromOthers(c, i)
	}
}

// fromOthers measures hole i against the ring and the turn of the others.
func (l *laid) fromOthers(c *Circle, i int) {
	n := len(l.holes)
	if n < 4 {
		return // two others make no circle
	}
	others := pattern.Without(n, i)
	var pts [][2]float64
	for _, j := range others {
		pts = append(pts, l.places.XY[j])
	}
	g, err := pattern.FitRing(pts)
	if err != nil {
		return
	}
	// Turn of the others about their own centre: mean of (angle - nominal),
	// counted from the turn so far to stay clear of the wrap.
	base := l.ring.Angle[0]
	var turn float64
	row := make([]float64, 2*n)
	spread := func(r []float64, f float64) {
		for k, j := range others {
			row[2*j] += f * r[2*k]
			row[2*j+1] += f * r[2*k+1]
		}
	}
	m := float64(n - 1)
	for k, j := range others {
		a, _, da, _, own := g.Seen(pts[k])
		turn += geom.WrapHalf(a-c.Nominal.Angles[j].Radians()-base) / m
		spread(da, -1/m)
		row[2*j] -= own[0][0] / m
		row[2*j+1] -= own[0][1] / m
	}
	a, radial, da, _, own := g.Seen(l.places.XY[i])
	spread(da, 1)
	row[2*i] += own[0][0]
	row[2*i+1] += own[0][1]
	k := &c.Clocking[i]
	k.HasOthers = true
	k.FromOthers = s1.Angle(geom.WrapHalf(a - c.Nominal.Angles[i].Radians() - base - turn))
	k.FromOthersU = s1.Angle(l.sd(row))
	k.RadialFromOthers = radial
}

// space fills in the spacing from each hole to the next one present, about the
// ring's centre. A full ring wraps; a partial one has one fewer. Across a
// missing hole the nominal is the sum of the steps.
func (l *laid) space(c *Circle) {
	n := len(l.holes)
	rows, _ := l.rows()
	last := n - 1
	if c.Nominal.FullRing || c.Nominal.Irregular {
		last = n
	}
	for i := range last {
		j := (i + 1) % n
		d := slices.Clone(rows[j])
		addTo(d, rows[i], -1)
		s := Spacing{
			From: l.holes[i].ID, To: l.holes[j].ID,
			Angle: s1.Angle(step(l.angle[i], l.angle[j])),
			U:     s1.Angle(l.sd(d)),
		}
		if !c.Nominal.Irregular {
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

func addTo(dst, src []float64, f float64) {
	for i := range dst {
		dst[i] += f * src[i]
	}
}

// Wrap returns a turned by whole turns into [0, 360) degrees.
func Wrap(a s1.Angle) s1.Angle { return s1.Angle(geom.Wrap(a.Radians())) }
