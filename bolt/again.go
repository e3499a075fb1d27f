package bolt

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spotface/bolt/hole"
	"spotface/bolt/pattern"
)

// A hole that runs into a gap of the scan may show too little to be found by itself: the end
// of a slot would look the same. Where a pattern lacks a hole, of which it tells the size, 30
// degrees of wall or rim are enough.

// lookAgain returns the holes that are seen where patterns lack one; known are all features.
func (f *finder) lookAgain(ctx context.Context, found []*patternOf, known []*candidate) (out []*candidate, err error) {
	if f.grain.drawn() {
		return nil, nil // nothing is hidden in a drawing
	}
	for _, p := range found {
		like := p.typical()
		if p.also != nil || like == nil {
			continue
		}
		for _, at := range p.vacant() {
			c, ok := f.holeAt(p.face, at, like)
			if !ok {
				continue
			}
			if err := weigh(ctx, like.noise, []*candidate{c}, 1); err != nil {
				return nil, err
			}
			taken := slices.ContainsFunc(known, func(o *candidate) bool {
				q := p.face.flat.xy(o.hole().Centre)
				return math.Hypot(q[0]-at[0], q[1]-at[1]) < like.r
			})
			if !c.dropped && !taken {
				f.deep(c)
				out = append(out, c)
			}
		}
	}
	return out, nil
}

// typical returns the round hole of the pattern that was seen best; nil where its holes are
// not of one size.
func (p *patternOf) typical() (best *candidate) {
	for _, o := range p.features {
		if o.slot != nil || o.stud || o.face != p.face || o.noise == nil {
			continue
		}
		if best != nil && math.Abs(o.r-best.r) > sameDiameter*best.r {
			return nil
		}
		if best == nil || o.cov[2][2] < best.cov[2][2] {
			best = o
		}
	}
	return best
}

// vacant returns where on its face the pattern has a position without a feature.
func (p *patternOf) vacant() (out [][2]float64) {
	places := pattern.Places{}
	for _, o := range p.features {
		places.XY = append(places.XY, p.face.flat.xy(o.hole().Centre))
	}
	if p.ring() {
		g, err := pattern.FitRing(places.XY)
		if err != nil {
			return nil
		}
		var sin, cos float64 // of how far its first position is turned
		for i, a := range p.Angles {
			q := places.XY[i]
			s, c := math.Sincos(math.Atan2(q[1]-g.Y, q[0]-g.X) - a.Radians())
			sin, cos = sin+s, cos+c
		}
		for _, a := range p.Missing {
			s, c := math.Sincos(math.Atan2(sin, cos) + a.Radians())
			out = append(out, [2]float64{g.X + g.R*c, g.Y + g.R*s})
		}
		return out
	}
	full := map[[2]int]bool{}
	for _, c := range p.Cells {
		full[c] = true
	}
	if len(full) == p.Columns*p.Rows {
		return nil
	}
	places.Cov = mat.NewSymDense(2*len(places.XY), nil)
	for i := range 2 * len(places.XY) {
		places.Cov.SetSym(i, i, 1)
	}
	g, err := pattern.ToGrid(p.Cells, places, p.Square)
	if err != nil {
		return nil
	}
	sin, cos := math.Sincos(g.Turn.Radians())
	first := g.At(0)
	for c := range p.Columns {
		for r := range p.Rows {
			if !full[[2]int{c, r}] {
				u, v := float64(c-p.Cells[0][0])*g.Pitch[0], float64(r-p.Cells[0][1])*g.Pitch[1]
				out = append(out, [2]float64{first[0] + cos*u - sin*v, first[1] + sin*u + cos*v})
			}
		}
	}
	return out
}

// holeAt measures a hole like another at a place of a face by what is seen of it there; ok is
// false where that is too little.
func (f *finder) holeAt(fc *face, at [2]float64, like *candidate) (*candidate, bool) {
	g := f.grain
	c := &candidate{face: fc, from: Wall, lo: like.lo, hi: like.hi, byPattern: true, extraR: like.extraR, rimR: like.rimR}
	r := like.series.radius() // as it reads
	if like.rimR > 0 {
		r = like.rimR
	}
	start := hole.Circle(at[0], at[1], r)
	band := hole.MostMisplaced*r + 2*g.spacing
	var pts [][2]float64
	var height []float64
	switch {
	case like.from != Rim:
		w := f.wallsAbout(fc, start, band, like.lo, like.hi)
		pts, height = w.between(like.lo, like.hi, g)
	case fc.edge != nil:
		c.from = Rim
		pts = fc.edge.Of(fc.edge.Near(at[0], at[1], r+band))
	}
	if len(pts) < rimPoints {
		return nil, false
	}
	o, scale, ok := f.evidence(fc, pts, c.from == Rim).Placed(start, band, g.noise/4)
	if !ok {
		return nil, false
	}
	d := disc{Outline: o.Outline, scale: scale}
	c.x, c.y, c.r, c.scale = d.X, d.Y, like.r, scale
	if c.from == Rim {
		c.series = newSeries(pts, hole.Round, d)
	} else {
		c.series = newWallSeries(pts, height, hole.Round, d)
	}
	for _, q := range pts {
		if math.Abs(o.Off(q)) < hole.Tuning*scale {
			c.points++
		}
	}
	return c, c.points >= rimPoints
}
