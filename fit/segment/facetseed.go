package segment

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit"
)

// facetSeed is a surface proposed by a few neighbouring panels.
type facetSeed struct {
	surface  facetSurface
	internal bool
	panels   []int32
}

// bends returns the longest links of a panel over which a surface may lead on,
// one a neighbour.
func (f *facetFinder) bends(id int32) []panelLink {
	const most = 8
	var out []panelLink
	for _, l := range f.panels[id].links {
		if l.angle > maxStep || f.owner[l.to] >= 0 {
			continue
		}
		if n := len(out); n > 0 && out[n-1].to == l.to {
			if l.length > out[n-1].length {
				out[n-1] = l
			}
			continue
		}
		out = append(out, l)
	}
	slices.SortStableFunc(out, func(a, b panelLink) int { return cmp.Compare(b.length, a.length) })
	return out[:min(most, len(out))]
}

// ruledSeeds proposes the cylinders or cones that a panel and two of its
// neighbours draw: the edges between them are straight lines of the surface,
// parallel ones or such that meet in an apex.
func (f *facetFinder) ruledSeeds(kind facetKind, id int32) []facetSeed {
	bends := f.bends(id)
	var out []facetSeed
	for i, p := range bends {
		for _, q := range bends[i+1:] {
			if p.convex != q.convex {
				continue
			}
			u, v := f.along(p), f.along(q)
			parallel := u.Cross(v).Norm() <= 1e-6+4*f.m.tol*(1/p.length+1/q.length)
			var s []facetSurface
			switch {
			case kind == facetCylinder && parallel:
				s = f.cylinderOver(p, q)
			case kind == facetCone && u.Cross(v).Norm() > 1e-6+f.m.tol*(1/p.length+1/q.length):
				s = f.coneOver(id, p, q)
			}
			for _, s := range s {
				out = append(out, facetSeed{s, !p.convex, []int32{id, p.to, q.to}})
			}
		}
	}
	return out
}

// along returns the unit direction of a link's edge.
func (f *facetFinder) along(l panelLink) r3.Vector {
	return f.m.pts[l.b].Sub(f.m.pts[l.a]).Mul(1 / l.length)
}

// farthest returns the vertex of a panel for which the measure is largest.
func (f *facetFinder) farthest(id int32, measure func(q r3.Vector) float64) r3.Vector {
	var best r3.Vector
	most := math.Inf(-1)
	for _, v := range f.panels[id].verts {
		if d := measure(f.m.pts[v]); d > most {
			best, most = f.m.pts[v], d
		}
	}
	return best
}

// cylinderOver proposes cylinders from two parallel edges of a panel and the
// far edge of either neighbour.
func (f *facetFinder) cylinderOver(p, q panelLink) []facetSurface {
	u, v := f.along(p).Mul(p.length), f.along(q).Mul(q.length)
	if u.Dot(v) < 0 {
		v = v.Mul(-1)
	}
	axis := u.Add(v).Normalize()
	a, b := f.m.pts[p.a], f.m.pts[q.a]
	flat := func(w r3.Vector) r3.Vector { return a.Add(across(w.Sub(a), axis)) }
	var out []facetSurface
	for _, far := range []r3.Vector{
		f.farthest(p.to, func(w r3.Vector) float64 { return across(w.Sub(a), axis).Norm() }),
		f.farthest(q.to, func(w r3.Vector) float64 { return across(w.Sub(b), axis).Norm() }),
	} {
		if c, r, ok := circleThrough(a, flat(b), flat(far)); ok && r < 100*f.m.size {
			out = append(out, facetCyl{fit.Cylinder{Point: c, Axis: axis, Radius: r}})
		}
	}
	return out
}

// coneOver proposes cones from two edges of a panel that meet in an apex and
// the far edge of either neighbour.
func (f *facetFinder) coneOver(id int32, p, q panelLink) []facetSurface {
	a, b := f.m.pts[p.a], f.m.pts[q.a]
	u, v := f.along(p), f.along(q)
	// a + s u = b + t v in the panel's plane: s = ((b-a)×v)·n / (u×v)·n
	n := u.Cross(v)
	apex := a.Add(u.Mul(b.Sub(a).Cross(v).Dot(n) / n.Norm2()))
	if apex.Distance(a) > 100*f.m.size {
		return nil
	}
	ray := func(l panelLink) r3.Vector {
		x, y := f.m.pts[l.a].Sub(apex), f.m.pts[l.b].Sub(apex)
		if x.Norm() > y.Norm() {
			return x.Normalize()
		}
		return y.Normalize()
	}
	g, h := ray(p), ray(q)
	turn := func(from r3.Vector) func(w r3.Vector) float64 {
		return func(w r3.Vector) float64 {
			if w = w.Sub(apex); w.Norm() < 100*f.m.tol {
				return 0
			}
			return float64(w.Angle(from))
		}
	}
	var out []facetSurface
	for _, far := range []r3.Vector{f.farthest(p.to, turn(g)), f.farthest(q.to, turn(h))} {
		c, ok := coneThrough(apex, far.Sub(apex), g, h)
		if half := c.HalfAngle.Degrees(); ok && half > 0.5 && half < 89.5 {
			out = append(out, facetCon{c})
		}
	}
	return out
}

// around returns a panel and those that lead on from it over up to two links.
func (f *facetFinder) around(id int32, internal bool, rings int) []int32 {
	const most = 40
	out := []int32{id}
	from := 0
	for range rings {
		end := len(out)
		for _, p := range out[from:end] {
			for _, l := range f.panels[p].links {
				if l.smooth(internal) && f.owner[l.to] < 0 && !slices.Contains(out, l.to) && len(out) < most {
					out = append(out, l.to)
				}
			}
		}
		from = end
	}
	return out
}

// ballSeeds proposes the sphere through a panel and its neighbours, if one
// passes through all their corners and one of the panel's corners lies within.
func (f *facetFinder) ballSeeds(id int32) []facetSeed {
	if len(f.panels[id].verts) > 256 {
		return nil
	}
	var out []facetSeed
	for _, internal := range []bool{false, true} {
		near := f.beside(id, internal)
		if len(near) < 4 || len(near) >= 40 || len(f.within(near, f.panels[id].verts)) == 0 {
			continue
		}
		s, err := fit.SphereTo(f.corners(near), fit.Options{})
		if err == nil && max(-s.Residuals.Min, s.Residuals.Max) <= f.m.tol && s.Radius < 10*f.m.size {
			out = append(out, facetSeed{facetBall{s.Sphere}, internal, near})
		}
	}
	return out
}

// beside returns a panel and those at its corners that turn little from it.
func (f *facetFinder) beside(id int32, internal bool) []int32 {
	out := []int32{id}
	p := &f.panels[id]
	for _, v := range p.corners {
		for _, q := range f.vertexPanel[f.vertexStart[v]:f.vertexStart[v+1]] {
			if f.owner[q] >= 0 || slices.Contains(out, q) || f.panels[q].normal.Dot(p.normal) < math.Cos(maxStep) {
				continue
			}
			// Seen from a ball's outside the neighbour's middle lies lower.
			if below := f.panels[q].centre.Sub(p.centre).Dot(p.normal) < 0; below != internal {
				out = append(out, q)
			}
		}
	}
	return out
}

// within returns those of the vertices that the given panels enclose.
func (f *facetFinder) within(panels, verts []int32) []int32 {
	f.growth++
	for _, p := range panels {
		f.mark[p] = f.growth
	}
	var out []int32
	for _, v := range verts {
		at := f.vertexPanel[f.vertexStart[v]:f.vertexStart[v+1]]
		if len(at) >= 3 && !f.m.open[v] && !slices.ContainsFunc(at, func(p int32) bool { return f.mark[p] != f.growth }) {
			out = append(out, v)
		}
	}
	return out
}
