package segment

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// accept decides whether a support is a surface of the part, not a chance or
// the bend between two others. What points of an exact cloud lie on is no chance.
func (s *searcher) accept(sup *support) bool {
	if s.panels != nil {
		return s.panels.accept(sup)
	}
	if s.tol.exact {
		return true
	}
	return s.wide(sup) && s.sheet(sup)
}

// sheet reports whether a support of a cloud is a sheet. In a ball of radius R about a
// node a slab of half width b holds the share
//
//	p = (3x - x³)/2,  x = b/R
//
// of points strewn all round. Meshes are sheets.
func (s *searcher) sheet(sup *support) bool {
	if s.crowd == nil {
		return true
	}
	if len(sup.nodes) < sheetLeast && 2*sup.band > s.spacing {
		return false
	}
	all := s.positions(sup.nodes)
	_, m := sup.at(all[len(all)/2])
	if sup.kind == planeKind {
		m = sup.a
	}
	wide, narrow := widths(all, m)
	if min(wide, narrow) < sheetWidth*sup.band {
		return false
	}
	r := max(sheetBands*sup.band, s.crowdRadius)
	near, in := 0.0, 0.0
	step := max(1, len(sup.nodes)/sheetNodes)
	seen, others := map[int32]bool{}, s.all()
	var buf []int32
	for k := 0; k < len(sup.nodes); k += step {
		i := sup.nodes[k]
		off := 0.0
		if sup.form > 0 {
			off, _ = sup.at(s.n.at(i))
		}
		buf = s.crowd.InRadius(s.n.pos[i], float32(r), buf[:0])
		for _, p := range buf {
			if seen[p] {
				continue
			}
			seen[p] = true
			q := s.crowdPos[p].R3()
			d, _ := sup.at(q)
			switch {
			case math.Abs(d-off) <= sup.band:
				near++
				in++
			case !slices.ContainsFunc(others, func(f *surf) bool {
				d, _ := f.at(q)
				return math.Abs(d) <= max(f.band, f.form)
			}):
				near++
			}
		}
	}
	x := sup.band / r
	chance := (3*x - x*x*x) / 2
	return in/max(near, 1) >= chance+sheetShare*(1-chance)
}

// wide reports whether a support is wide, dense and bent enough to be no chance.
func (s *searcher) wide(sup *support) bool {
	pts := s.positions(sup.nodes)
	switch sup.kind {
	case planeKind:
		a, b := widths(pts, sup.a)
		return min(a, b) >= s.leastWidth(planeExact, planeNoisy) &&
			s.dense(sup, a*b/boxFill)
	case cylinderKind, coneKind:
		lo, hi := along(pts, sup.p, sup.a, astrayCut)
		arc, r, length := arcOf(pts, sup.p, sup.a), sup.r, hi-lo
		width, least := length, s.leastWidth(bandExact, wallNoisy)
		if sup.kind == coneKind {
			if sup.extreme() || sup.sin < slenderSin && (arc < wholeTurn || !s.tapers(sup, hi-lo)) {
				return false
			}
			r, length = (lo+hi)/2*sup.sin/sup.cos, length/sup.cos
			width, least = bandWidth(pts, sup.p, sup.a)/sup.cos, s.leastWidth(bandExact, coneNoisy)
			if arc >= wholeTurn { // a whole band about a tilted axis is as long as that makes it
				length = width
			}
			if s.crowd != nil && s.ws[0].known && arc > wholeTurn && s.flatAcross(sup) {
				least = bandExact * s.pitch
			}
			if min(sup.sin, sup.cos) < flatCone {
				least *= flatGain // the blend of a low step, as scanners round it, is as flat
			}
		}
		return r >= s.leastWidth(radiusExact, radiusNoisy) && width >= least &&
			s.bends(r, arc, sup.form) && !s.rounding(sup, arc, r) && s.dense(sup, arc*r*length)
	case sphereKind:
		if sup.r < ballRadius*s.pitch {
			return false
		}
		var m r3.Vector
		for _, q := range pts {
			m = m.Add(q.Sub(sup.p).Normalize())
		}
		m = m.Mul(1 / float64(len(pts)))
		least := 1.0
		for _, q := range pts {
			least = min(least, q.Sub(sup.p).Normalize().Dot(m.Normalize()))
		}
		if least > math.Cos(ballReach) {
			return false
		}
		return s.dense(sup, 2*math.Pi*sup.r*sup.r*(1-m.Norm())*2)
	}
	return false
}

// tapers reports whether a slender cone of the given length tapers by more than noise,
// form and the rounding of its ends make a cylinder seem to.
func (s *searcher) tapers(sup *support, length float64) bool {
	return length > taperLength*s.pitch &&
		length*sup.sin/sup.cos > taperRise*max(s.tol.floor/sigmas, sup.rms)
}

// flatAcross reports whether a narrow cone is flat from edge to edge, as a chamfer is,
// and not the bend of a rounded edge, which leaves the band at either side of the
// strip: the parabola through the heights across it rises by less than half the band.
func (s *searcher) flatAcross(sup *support) bool {
	var a geom.Sym3
	var b r3.Vector
	lo, hi := math.Inf(1), math.Inf(-1)
	var mid float64
	for _, i := range sup.nodes {
		mid += s.n.at(i).Sub(sup.p).Dot(sup.a) / float64(len(sup.nodes))
	}
	for _, i := range sup.nodes {
		q := s.n.at(i)
		d, _ := sup.at(q)
		h := q.Sub(sup.p).Dot(sup.a) - mid
		lo, hi = min(lo, h), max(hi, h)
		row := r3.Vector{X: 1, Y: h, Z: h * h}
		a.AddOuter(row, 1)
		b = b.Add(row.Mul(d))
	}
	x, ok := solve3(a, b)
	half := (hi - lo) / 2
	return ok && math.Abs(x.Z)*half*half < sup.band*bentBands
}

func (s *searcher) positions(ns []int32) []r3.Vector {
	pts := make([]r3.Vector, len(ns))
	for k, i := range ns {
		pts[k] = s.n.at(i)
	}
	return pts
}

// rounding reports whether a bend of radius r is what a scanner makes of a
// sharp edge: seen over less than half a turn and no wider than some nodes, in an
// inner corner fewer. The rounding of a curved edge passes for part of a slender
// cone, which reaches farther along the faces on either side: a cone needs a third
// of a turn, or many nodes.
func (s *searcher) rounding(sup *support, arc, r float64) bool {
	pitch := max(s.pitch, s.spacing)
	width := roundedWidth * pitch
	if sup.kind == coneKind {
		if arc < coneTurn && len(sup.nodes) < coneNodes {
			return true
		}
		width *= roundedCone
	}
	if sup.kind == cylinderKind && sup.side < 0 { // holes have narrow walls, too
		width = roundedCorner * pitch
	}
	return (sup.side > 0 || sup.kind == cylinderKind) && arc < narrowArc && arc*r < width
}

// leastWidth is the least width, mm, of a surface: between exact and noisy times
// the pitch of the nodes. What chance or a rounded edge brings into a band of
// half width b is as wide as the root of b; where noise is small beside the
// pitch, narrow surfaces can be distinguished.
func (s *searcher) leastWidth(exact, noisy float64) float64 {
	f := min(1, math.Sqrt(s.tol.floor/(smallNoise*s.pitch)))
	return (exact + f*(noisy-exact)) * s.pitch
}

// bends reports whether an arc, rad, of radius r shows its curvature: its
// height over the chord is well above the band and the form, and it is no mere sliver.
func (s *searcher) bends(r, arc, form float64) bool {
	return arc > leastArc &&
		r*(1-math.Cos(min(arc/2, math.Pi))) > leastHeight*max(s.tol.floor, form)
}

// dense reports whether the nodes, each covering what its distance to its
// neighbours suggests, fill a share of area, mm²: chance supports are thin.
// The distances are the support's own, since clouds show steep walls sparsely. What a coarser
// level left of a mesh is thin along the edges of the surfaces found there: it must be dense
// at the scan's own distances.
func (s *searcher) dense(sup *support, area float64) bool {
	most, share := math.Inf(1), denseShare
	if s.crowd == nil && len(s.before) > 0 {
		most, share = max(s.n.grid.cell/math.Sqrt(cellsPerArea), s.spacing), leftShare
	}
	var covered float64
	for _, i := range sup.nodes {
		pitch := min(float64(s.g.reach[i])/reachPitch, most)
		covered += pitch * pitch
	}
	return covered >= share*area
}

// along returns the extent of pts along a from p, one in so many left out at either
// end: outliers lie far out.
func along(pts []r3.Vector, p, a r3.Vector, one int) (lo, hi float64) {
	t := make([]float64, len(pts))
	for k, q := range pts {
		t[k] = q.Sub(p).Dot(a)
	}
	cut := len(t) / one
	return geom.Nth(t, cut), geom.Nth(t, len(t)-1-cut)
}

// bandWidth returns how far along a a band of pts about the axis reaches, median
// over the sectors about it with some eight points each. Less than along where
// the band is askew: the strip of a rounded edge that a scan breaks off along its
// lines of sight fits a slender cone that is tilted, whose extent is that of the
// tilt. The range of n even draws from a width is (n-1)/(n+1) of it.
func bandWidth(pts []r3.Vector, p, a r3.Vector) float64 {
	e1, e2 := geom.Basis(a)
	bins := max(1, min(sectorsMost, len(pts)/bandPoints))
	type sector struct {
		n      int
		lo, hi float64
	}
	sectors := make([]sector, bins)
	for _, q := range pts {
		v := q.Sub(p)
		t := (math.Atan2(v.Dot(e2), v.Dot(e1))/(2*math.Pi) + 1) * float64(bins)
		c, h := &sectors[int(t)%bins], v.Dot(a)
		if c.n == 0 {
			c.lo, c.hi = h, h
		}
		c.n, c.lo, c.hi = c.n+1, min(c.lo, h), max(c.hi, h)
	}
	var widths []float64
	for _, c := range sectors {
		if c.n >= bandLeast {
			widths = append(widths, (c.hi-c.lo)*float64(c.n+1)/float64(c.n-1))
		}
	}
	if len(widths) == 0 {
		return 0
	}
	slices.Sort(widths)
	return widths[len(widths)/2]
}

// arcOf returns the angle about the axis, rad, that pts cover: the share of
// sectors with a point, gaps of a single sector closed. There are fewer sectors
// where the points are few, so that sparse walls are not thought ragged.
func arcOf(pts []r3.Vector, p, a r3.Vector) float64 {
	e1, e2 := geom.Basis(a)
	bins := max(sectorsLeast, min(sectorsMost, len(pts)/sectorPoints))
	hit := make([]bool, bins)
	for _, q := range pts {
		v := q.Sub(p)
		t := (math.Atan2(v.Dot(e2), v.Dot(e1))/(2*math.Pi) + 1) * float64(bins)
		hit[int(t)%bins] = true
	}
	count := 0
	for k := range hit {
		if hit[k] || hit[(k+bins-1)%bins] && hit[(k+1)%bins] {
			count++
		}
	}
	return float64(count) * 2 * math.Pi / float64(bins)
}

// widths returns the extents of pts along the two main directions perpendicular to n,
// 5th to 95th percentile, scaled to the whole.
func widths(pts []r3.Vector, n r3.Vector) (a, b float64) {
	var flat geom.Moments
	for _, q := range pts {
		v := q.Sub(pts[0])
		flat.Add(v.Sub(n.Mul(v.Dot(n))))
	}
	_, v := flat.Cov().Eigen()
	ext := func(d r3.Vector) float64 {
		t := make([]float64, len(pts))
		for k, q := range pts {
			t[k] = q.Sub(pts[0]).Dot(d)
		}
		from, to := geom.Nth(t, len(t)/endCut), geom.Nth(t, len(t)*(endCut-1)/endCut)
		return (to - from) / endsLeft
	}
	return ext(v[2]), ext(v[1])
}
