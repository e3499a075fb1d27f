package bolt

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"spotface/fit"
)

// boreHole is the main bore as a hole of the mounting face. A bore that ends elsewhere,
// at the top of a collar say, is laid on the mounting face all the same, with the noise of
// the holes' walls; one that is too crooked or too little of it seen for that is where its
// cylinder's axis meets the face.
func (f *finder) boreHole(ctx context.Context, a *arranged) (*Hole, error) {
	if a.bore == nil {
		return nil, nil
	}
	h, ok, err := f.squareBore(ctx, a)
	if err != nil {
		return nil, err
	}
	if !ok {
		h = a.boreByAxis()
	}
	h.ID = a.bore.ID
	return &h, nil
}

func (f *finder) squareBore(ctx context.Context, a *arranged) (Hole, bool, error) {
	for _, all := range [][]*candidate{f.holes, f.studs} {
		for _, c := range all {
			if c.wall == a.bore.ID && c.face == a.mounting {
				return c.hole(), true, nil
			}
		}
	}
	w, lo, hi, ok := f.heights(a.mounting, a.bore)
	if !ok {
		return Hole{}, false, nil
	}
	d, ok := f.discOf(a.bore, &w, lo, hi)
	if !ok {
		return Hole{}, false, nil
	}
	c, ok := f.wholeWall(a.mounting, a.bore, d, lo, hi)
	if !ok {
		return Hole{}, false, nil
	}
	its := []*candidate{&c}
	f.unsmooth(its)
	all := []arcSeries{c.series}
	for _, o := range f.walls {
		if o.wall != c.wall && !o.dropped {
			all = append(all, o.series)
		}
	}
	noise, err := learnNoise(ctx, c.series.radius, all, f.waves, f.jobs)
	if err == nil {
		err = noise.weigh(ctx, its, f.jobs)
	}
	return c.hole(), !c.dropped, err
}

// boreByAxis is where the axis of the bore's cylinder, as it lies, meets the face.
func (a *arranged) boreByAxis() Hole {
	c, n := a.bore, a.mounting.flat.n
	h := Hole{Kind: Round, Centre: meet(c.Point, c.Axis, a.mounting.flat), Axis: n, Diameter: 2 * c.Radius,
		Face: a.mounting.id, Wall: c.ID, From: Wall, Arc: c.Arc}
	// Where the axis is at its point and how it leans, along fit.Frame(c.Axis), move it here.
	reach := h.Centre.Sub(c.Point).Dot(c.Axis)
	e1, e2 := fit.Frame(c.Axis)
	x, y := fit.Frame(n)
	var by [2][5]float64
	for i, to := range []r3.Vector{x, y} {
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
	h.DiameterU = 2 * math.Sqrt(c.Cov[4][4])
	return h
}
