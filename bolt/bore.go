package bolt

import (
	"cmp"
	"context"
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// findBore measures the main bore as a hole of the mounting face. A bore that ends
// elsewhere, at the top of a collar say, is laid on the mounting face all the same, with
// the noise of the holes' walls; one that is too crooked for that, or of which too little
// is seen, is where its cylinder's axis meets the face.
func (f *finder) findBore(ctx context.Context, a *arranged) error {
	if a.bore == nil {
		return nil
	}
	if !a.mounting.square(a.bore) {
		return fmt.Errorf("bore %s: its axis is not square to the face %s: name another cylinder, or another face", a.bore.ID, a.mounting.id)
	}
	c, err := f.squareBore(ctx, a)
	if err != nil {
		return err
	}
	var h Hole
	if c != nil {
		h = c.hole()
		a.boreWall = c
	} else {
		h = f.boreByAxis(a)
	}
	h.ID = a.bore.ID
	a.boreHole = &h
	return nil
}

// squareBore is the bore with its axis held perpendicular to the mounting face; nil where it
// cannot be fitted so.
func (f *finder) squareBore(ctx context.Context, a *arranged) (*candidate, error) {
	for _, all := range [][]*candidate{f.holes, f.studs} {
		for _, c := range all {
			if c.wall == a.bore.ID && c.face == a.mounting {
				return cmp.Or(c.square, c), nil
			}
		}
	}
	w, lo, hi, ok := f.heights(a.mounting, a.bore)
	if !ok {
		return nil, nil
	}
	d, ok := f.discOf(a.bore, &w, lo, hi)
	if !ok {
		return nil, nil
	}
	c, ok := f.wholeWall(a.mounting, a.bore, d, lo, hi)
	if !ok {
		return nil, nil
	}
	its := []*candidate{&c}
	f.unsmooth(its)
	all := []series{c.series}
	for _, o := range f.holes {
		if o.from == Wall && o.wall != c.wall {
			all = append(all, o.series)
		}
	}
	m, err := learnNoise(ctx, c.series.radius(), all, f.shown, f.jobs)
	if err != nil {
		return nil, err
	}
	if err := weigh(ctx, m, its, f.jobs); err != nil || c.dropped {
		return nil, err
	}
	return cmp.Or(c.square, &c), nil
}

// boreByAxis is where the axis of the bore's cylinder, as it lies, meets the face.
func (f *finder) boreByAxis(a *arranged) Hole {
	c, n := a.bore, a.mounting.flat.n
	h := Hole{Kind: Round, Centre: meet(c.Point, c.Axis, a.mounting.flat), Axis: n, Face: a.mounting.id, Wall: c.ID, From: Wall, Arc: c.Arc}
	radius, unseen := c.Radius, 0.0
	if f.smoothed() {
		radius, unseen = Unsmoothed(radius, f.edgeWidth, f.edgeWidthU, f.grain.spacing)
	}
	h.Diameter, h.UnseenU = 2*radius, 2*unseen
	h.DiameterU = 2 * math.Sqrt(c.Cov[4][4]+unseen*unseen)
	// Where the axis is at its point and how it leans, along geom.Basis(c.Axis), move it
	// here, along the axis onto the face.
	reach := h.Centre.Sub(c.Point).Dot(c.Axis)
	e1, e2 := geom.Basis(c.Axis)
	x, y := geom.Basis(n)
	var by [2][5]float64
	for i, to := range []r3.Vector{x, y} {
		to = to.Sub(n.Mul(to.Dot(c.Axis) / n.Dot(c.Axis)))
		p, q := to.Dot(e1), to.Dot(e2)
		by[i] = [5]float64{p, q, reach * p, reach * q}
	}
	for i := range by {
		for j := range by {
			for k, f := range by[i] {
				for l, g := range by[j] {
					h.CentreCov[i][j] += f * g * c.Cov[k][l]
				}
			}
		}
	}
	return h
}
