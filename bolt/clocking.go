package bolt

import (
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// Clock measures the bolt circle through holes of one face: pitch diameter,
// clocking and spacing with their standard uncertainties.
//
// holes[0] is the clocking hole; the rest may stand in any order and come back
// in the circle's counter-clockwise. nom is what they are judged against; its
// zero value means the likeliest of Readings. Otherwise nom.Angles has one
// angle a hole, counter-clockwise from the clocking hole (0 first).
//
// Clocking is about the centre of the least-squares circle through the
// centres, against the nominal angles turned to their best fit, so that the
// deviations' mean is zero; FromOthers leaves the hole out of circle and turn.
// Uncertainties are the holes' CentreCov carried through every step by the
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
		nom = l.readings()[0]
	}
	if nom.Irregular {
		nom.Angles = nil
	} else if len(nom.Angles) != len(holes) {
		return Circle{}, fmt.Errorf("bolt circle: %d nominal angles for %d holes", len(nom.Angles), len(holes))
	}
	c := Circle{
		Face: l.holes[0].Face, Axis: l.flat.n,
		Centre:        l.flat.at([2]float64{l.ring.x, l.ring.y}),
		PitchDiameter: 2 * l.ring.r,
		PitchU:        2 * l.cov.sd(l.ring.dr),
		Nominal:       nom,
	}
	c.CentreCov = [2][2]float64{
		{l.cov.of(l.ring.dx, l.ring.dx), l.cov.of(l.ring.dx, l.ring.dy)},
		{l.cov.of(l.ring.dy, l.ring.dx), l.cov.of(l.ring.dy, l.ring.dy)},
	}
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
	flat   flat
	holes  []Hole
	pts    [][2]float64
	weight []float64
	cov    covariance
	ring   ring
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
	l := laid{flat: newFlat(middle, n), holes: slices.Clone(holes)}
	var stray float64
	put := func() {
		l.pts = l.pts[:0]
		for _, h := range l.holes {
			l.pts = append(l.pts, l.flat.xy(h.Centre))
		}
		l.weight, stray = ringWeights(l.holes, l.pts)
	}
	put()
	g, err := fitRing(l.pts, l.weight)
	if err != nil {
		return laid{}, err
	}
	order := make([]int, len(holes))
	for i := range order {
		order[i] = i
	}
	from := func(i int) float64 {
		if i == 0 {
			return 0
		}
		return wrap(g.angle[i] - g.angle[0])
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch d := from(a) - from(b); {
		case d < 0:
			return -1
		case d > 0:
			return 1
		}
		return 0
	})
	for k, i := range order {
		l.holes[k] = holes[i]
		l.angle = append(l.angle, from(i))
	}
	put()
	if l.ring, err = newRing(l.pts, l.weight, g.x, g.y, g.r); err != nil {
		return laid{}, err
	}
	l.cov = centreCovariance(l.holes)
	if l.weight != nil {
		even, err := newRing(l.pts, nil, l.ring.x, l.ring.y, l.ring.r)
		if err != nil {
			return laid{}, err
		}
		l.cov.strayed(l.ring, even, stray)
	}
	return l, nil
}

// angleRows returns the gradient of each hole's angle about the ring's centre.
func (l *laid) angleRows() [][]float64 {
	rows := make([][]float64, len(l.pts))
	for i, p := range l.pts {
		_, _, da, _, own := l.ring.seen(p)
		da[2*i] += own[0][0]
		da[2*i+1] += own[0][1]
		rows[i] = da
	}
	return rows
}

// clock fills in the clocking of each hole.
func (l *laid) clock(c *Circle) {
	n := len(l.pts)
	rows := l.angleRows()
	radial := make([][]float64, n)
	for i, p := range l.pts {
		_, _, _, dr, own := l.ring.seen(p)
		dr[2*i] += own[1][0]
		dr[2*i+1] += own[1][1]
		radial[i] = dr
	}
	c.Clocking = make([]Clocking, n)
	for i := range n {
		c.Clocking[i] = Clocking{
			Hole: l.holes[i].ID, Angle: s1.Angle(l.angle[i]),
			Radial: l.ring.radial[i], RadialU: l.cov.sd(radial[i]),
		}
	}
	if c.Nominal.Irregular {
		for i := range n {
			d := slices.Clone(rows[i])
			addTo(d, rows[0], -1)
			c.Clocking[i].U = s1.Angle(l.cov.sd(d)) // of the angle from the clocking hole
		}
		return
	}
	// deviation_i = (angle_i - nominal_i) - mean over the holes
	dev := make([]float64, n)
	var mean float64
	meanRow := make([]float64, len(l.ring.dx))
	for i := range n {
		dev[i] = wrapHalf(l.angle[i] - c.Nominal.Angles[i].Radians())
		mean += dev[i] / float64(n)
		addTo(meanRow, rows[i], 1/float64(n))
	}
	for i := range n {
		row := slices.Clone(rows[i])
		addTo(row, meanRow, -1)
		k := &c.Clocking[i]
		k.Nominal = c.Nominal.Angles[i]
		k.Deviation = s1.Angle(dev[i] - mean)
		k.U = s1.Angle(l.cov.sd(row))
	}
	c.DatumOffset = c.Clocking[0].Deviation
	for i := range n {
		l.fromOthers(c, i)
	}
}

// fromOthers measures hole i against the ring and the turn of the others.
func (l *laid) fromOthers(c *Circle, i int) {
	n := len(l.pts)
	if n < 4 {
		return // two others make no circle
	}
	others := make([]int, 0, n-1)
	var pts [][2]float64
	var w []float64
	for j := range n {
		if j == i {
			continue
		}
		others = append(others, j)
		pts = append(pts, l.pts[j])
		if l.weight != nil {
			w = append(w, l.weight[j])
		}
	}
	g, err := fitRing(pts, w)
	if err != nil {
		return
	}
	// Turn of the others about their own centre: mean of (angle - nominal),
	// counted from the turn so far to stay clear of the wrap.
	base := l.ring.angle[0]
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
		a, _, da, _, own := g.seen(pts[k])
		turn += wrapHalf(a-c.Nominal.Angles[j].Radians()-base) / m
		spread(da, -1/m)
		row[2*j] -= own[0][0] / m
		row[2*j+1] -= own[0][1] / m
	}
	a, radial, da, _, own := g.seen(l.pts[i])
	spread(da, 1)
	row[2*i] += own[0][0]
	row[2*i+1] += own[0][1]
	k := &c.Clocking[i]
	k.HasOthers = true
	k.FromOthers = s1.Angle(wrapHalf(a - c.Nominal.Angles[i].Radians() - base - turn))
	k.FromOthersU = s1.Angle(l.cov.sd(row))
	k.RadialFromOthers = radial
}

func addTo(dst, src []float64, f float64) {
	for i := range dst {
		dst[i] += f * src[i]
	}
}

// stretch returns, for each hole, the factor by which scatter of the centres
// in the face shows in the deviations, mm a mm.
func (l *laid) stretch() []float64 {
	n := len(l.pts)
	rows := l.angleRows()
	mean := make([]float64, 2*n)
	for i, r := range rows {
		rows[i] = r[:2*n]
		addTo(mean, rows[i], 1/float64(n))
	}
	out := make([]float64, n)
	for i, r := range rows {
		var s float64
		for k := range r {
			s += (r[k] - mean[k]) * (r[k] - mean[k])
		}
		out[i] = l.ring.r * math.Sqrt(s)
	}
	return out
}
