package bolt

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"spotface/bolt/pattern"
)

// size is the diameter, or the width of a slot.
func (c *candidate) size() float64 {
	if c.slot != nil {
		return c.slot.Width
	}
	return 2 * c.r
}

func (c *candidate) kind() string {
	switch {
	case c.stud:
		return "stud"
	case c.slot != nil:
		return string(c.slot.Kind)
	}
	return string(Round)
}

// patternOf is a pattern's features before they have ids.
type patternOf struct {
	pattern.Found
	features []*candidate
	also     *patternOf // of which it is another reading
	face     *face
	centre   r3.Vector
	axis     r3.Vector
	radius   float64 // of a ring, or of the circle that has two features across its middle
	id       string
}

func (p *patternOf) ring() bool { return p.Kind == pattern.Ring }

// largest is the diameter of its largest feature.
func (p *patternOf) largest() float64 {
	var d float64
	for _, f := range p.features {
		d = max(d, f.size())
	}
	return d
}

// patterns finds the patterns among features: those that look one way are searched
// together, at whatever height their faces lie.
func (f *finder) patterns(all []*candidate) (out []*patternOf, err error) {
	done := make([]bool, len(all))
	for i, first := range all {
		if done[i] {
			continue
		}
		var side []*candidate
		base := first.face.flat
		area, faces := 0.0, map[*face]bool{}
		for j := i; j < len(all); j++ {
			c := all[j]
			if done[j] || c.face.flat.n.Dot(base.n) < math.Cos(sameSide) {
				continue
			}
			done[j] = true
			if !slices.ContainsFunc(side, func(o *candidate) bool { return o.samePlace(c) }) {
				side = append(side, c)
			}
			if !faces[c.face] {
				faces[c.face] = true
				area += c.face.area
			}
		}
		q := pattern.Features{Area: 1.5 * area}
		q.Cov = mat.NewSymDense(2*len(side), nil)
		for k, c := range side {
			h := c.hole()
			q.XY = append(q.XY, base.xy(h.Centre))
			q.Size, q.Kind = append(q.Size, c.size()), append(q.Kind, c.kind())
			q.SizeU = append(q.SizeU, h.DiameterU+h.WidthU)
			v := (h.CentreCov[0][0] + h.CentreCov[1][1]) / 2
			q.Cov.SetSym(2*k, 2*k, v)
			q.Cov.SetSym(2*k+1, 2*k+1, v)
		}
		begin := len(out)
		all := pattern.Search(q)
		if pair, ok := pattern.Pair(q); ok && len(all) == 0 && side[pair.Members[0]].slot == nil {
			all = append(all, pair)
		}
		for _, found := range all {
			p := &patternOf{Found: found, axis: base.n}
			var xy [][2]float64
			for _, m := range found.Members {
				p.features, xy = append(p.features, side[m]), append(xy, q.XY[m])
				p.centre = p.centre.Add(base.at(q.XY[m]).Mul(1 / float64(len(found.Members))))
			}
			if found.Also >= 0 {
				p.also = out[begin+found.Also]
			}
			if len(xy) == 2 {
				p.radius = math.Hypot(xy[1][0]-xy[0][0], xy[1][1]-xy[0][1]) / 2
			}
			if p.ring() {
				g, err := pattern.FitRing(xy)
				if err != nil {
					return nil, err
				}
				p.centre, p.radius = base.at([2]float64{g.X, g.Y}), g.R
			}
			p.face = p.mostOn()
			out = append(out, p)
		}
	}
	return out, nil
}

// samePlace reports whether two features are seen at one place, as a stepped hole's two
// walls and a boss with a hole are.
func (c *candidate) samePlace(o *candidate) bool {
	d := c.hole().Centre.Sub(o.hole().Centre)
	n := c.face.flat.n
	return d.Sub(n.Mul(d.Dot(n))).Norm() < 0.15*min(c.size(), o.size())
}

// mostOn is the face with most of the pattern's features, of equals the largest.
func (p *patternOf) mostOn() *face {
	count := map[*face]int{}
	best := p.features[0].face
	for _, f := range p.features {
		count[f.face]++
	}
	for _, f := range p.features {
		if n, m := count[f.face], count[best]; n > m || n == m && f.face.area > best.area {
			best = f.face
		}
	}
	return best
}

// shareRadii lets the round holes of one diameter help each other; group is the number
// of the first group.
func (p *patternOf) shareRadii(group int) int {
	left := slices.DeleteFunc(slices.Clone(p.features), func(c *candidate) bool { return c.slot != nil })
	for len(left) > 0 {
		var like, rest []*candidate
		for _, c := range left {
			d := math.Abs(c.r - left[0].r)
			if d <= max(sameDiameter*left[0].r, 3*math.Sqrt(c.cov[2][2]+left[0].cov[2][2])) {
				like = append(like, c)
			} else {
				rest = append(rest, c)
			}
		}
		shareRadius(like, group)
		group++
		left = rest
	}
	return group
}

// grid measures a pattern that is no ring. Its pitches are of the grid that fits best; how
// far each hole lies from it, of that of the same ratio of pitches laid on all.
func (p *patternOf) grid(ids map[*candidate]Hole) (Pattern, error) {
	g := Pattern{Kind: p.Kind, Face: p.face.id, Columns: p.Columns, Rows: p.Rows, Centre: p.centre, Axis: p.axis}
	var holes []Hole
	for _, c := range p.features {
		holes = append(holes, ids[c])
		g.Holes = append(g.Holes, ids[c].ID)
	}
	places := PlacesOf(holes, p.centre, p.axis)
	laid, err := pattern.ToGrid(p.Cells, places, p.Square)
	if err != nil {
		return g, err
	}
	g.Pitch, g.PitchU = laid.Pitch, laid.PitchU
	sheet := newFlat(p.centre, p.axis)
	sin, cos := math.Sincos(laid.Turn.Radians())
	g.Direction = sheet.e1.Mul(cos).Add(sheet.e2.Mul(sin))
	for i := 0; i < len(holes) && len(holes) > 2; i++ { // two are in place by themselves
		g.Deviations = append(g.Deviations, laid.Along(i))
	}
	return g, nil
}
