package mesh

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// orient turns the normals of a cloud to one side and reports whether it is
// known to be the outer one: see agreeSides for how neighbours agree on a side
// and enclosure.side for how the outer one is found.
//
// noise is a height, mm, below which a step means nothing. Pieces that are not
// connected are judged one by one; the answer is that of the pieces which hold
// nine tenths of the area.
func orient(ctx context.Context, pts, normals []Vec32, areas []float32,
	noise float64, tree *KDTree, jobs int) (known bool) {
	fs, of := surfelsOf(pts, normals, areas, noise, tree)
	if len(fs) == 0 {
		return false
	}
	at := make([]Vec32, len(fs))
	for i, f := range fs {
		at[i] = vec32(f.at)
	}
	among := NewKDTree(at, jobs)
	l := links(ctx, fs, among, noise, jobs)
	group, sign := agreeSides(fs, l)
	for i := range fs {
		fs[i].normal = fs[i].normal.Mul(sign[i])
	}
	known = turnOutward(fs, l, group)
	_ = parallel.Chunks(ctx, jobs, len(pts), pointChunk, func(lo, hi int) {
		var nb []Neighbour
		for i := lo; i < hi; i++ {
			n := normals[i].R3()
			vote := 0.0
			if f := of[i]; f >= 0 {
				vote = fs[f].normal.Dot(n)
			} else if normals[i] != (Vec32{}) { // of no surfel: the nearest decide
				p := surfel{at: pts[i].R3(), normal: n}
				nb = among.Nearest(pts[i], surfelVoters, 0, nb[:0])
				for _, k := range nb {
					p.size = fs[k.I].size
					vote += agreement(&p, &fs[k.I], noise)
				}
			}
			if vote < 0 {
				normals[i] = Vec32{-normals[i][0], -normals[i][1], -normals[i][2]}
			}
		}
	})
	return known
}

// surfel is a small piece of surface: neighbouring points that face about the
// same way, as one place, normal and area (Pfister et al. 2000, Surfels, SIGGRAPH
// 2000). Surfels are far fewer than points, and their normals steadier.
type surfel struct {
	at, normal r3.Vector
	area       float64 // mm², of which each point represents a share
	size       float64 // root of the area, mm
	points     int32
}

// surfelsOf divides the points into surfels, block by block of the tree's order, and
// returns them with each point's surfel, -1 for none. areas holds the surface that each
// point represents, mm²; noise is a height, mm, below which a step means nothing.
func surfelsOf(pts, normals []Vec32, areas []float32,
	noise float64, tree *KDTree) (all []surfel, of []int32) {
	n := len(pts)
	block := max(surfelPoints, (n+mostSurfels-1)/mostSurfels)
	of = make([]int32, n)
	for lo := 0; lo < n; lo += block {
		slots := tree.slots[lo:min(n, lo+block)]
		var room [8]surfel // places and normals summed
		some := room[:0]
		for _, s := range slots {
			p, n := pts[s.i].R3(), normals[s.i].R3()
			best := nearestSurfel(some, p, n, surfelStep*noise)
			if best < 0 && n != (r3.Vector{}) && len(some) < len(room) {
				best = len(some)
				some = append(some, surfel{})
			}
			if of[s.i] = int32(best); best < 0 {
				continue
			}
			f := &some[best]
			if f.normal.Dot(n) < 0 {
				n = n.Mul(-1)
			}
			f.normal, f.at = f.normal.Add(n), f.at.Add(p)
			f.points++
			f.area += float64(areas[s.i])
		}
		var number [len(room)]int32
		for k, f := range some {
			if number[k] = -1; f.points >= leastSurfel {
				number[k] = int32(len(all))
				f.normal, f.at = geom.Unit(f.normal), f.at.Mul(1/float64(f.points))
				f.size = math.Sqrt(f.area)
				all = append(all, f)
			}
		}
		for _, s := range slots {
			if k := of[s.i]; k >= 0 {
				of[s.i] = number[k]
			}
		}
	}
	return all, of
}

// nearestSurfel returns the one of some surfels, places and normals summed, that a point
// with a normal agrees with best, not the other side of a thin sheet; -1 for none.
func nearestSurfel(some []surfel, p, normal r3.Vector, step float64) (best int) {
	best, bestCos := -1, sameSurface
	for k := range some {
		g := &some[k]
		l := 1 / g.normal.Norm()
		c := math.Abs(g.normal.Dot(normal)) * l
		if c <= bestCos {
			continue
		}
		e := p.Sub(g.at.Mul(1 / float64(g.points)))
		if h := math.Abs(g.normal.Dot(e)) * l; h <= step || h <= surfelBend*e.Norm() {
			best, bestCos = k, c
		}
	}
	return best
}

// link says how strongly two surfels, or later two groups of them, are evidence
// of facing the same way (positive) or opposite ways as their normals are.
type link struct {
	a, b   int32 // a < b
	weight float64
}

// links joins each surfel to its nearest ones.
func links(ctx context.Context, fs []surfel, tree *KDTree, noise float64, jobs int) []link {
	parts := make([][]link, (len(fs)+pointChunk-1)/pointChunk)
	_ = parallel.Chunks(ctx, jobs, len(fs), pointChunk, func(lo, hi int) {
		var nb []Neighbour
		var out []link
		for i := lo; i < hi; i++ {
			nb = tree.Nearest(vec32(fs[i].at), surfelNeighbours+1, 0, nb[:0])
			for _, n := range nb {
				if j := int(n.I); j != i {
					weight := agreement(&fs[i], &fs[j], noise)
					out = append(out, link{int32(min(i, j)), int32(max(i, j)), weight})
				}
			}
		}
		parts[lo/pointChunk] = out
	})
	return mergeLinks(slices.Concat(parts...))
}

// agreement weighs how two surfels face, by how near they are for their size.
//
// If a surface bends from one surfel to the other as an arc does, the one's
// normal is the other's reflected across the plane halfway between them
// (Xie, Wang, Hua, Qin & Kaufman 2003, Piecewise C1 continuous surface
// reconstruction, section 3):
//
//	n1' = n1 - 2 (n1·e) e    e the direction from one to the other
//
// and the sign of s = n1'·n2 is the side. It holds for sharp edges too, and across thin
// sheets and gaps, where comparing n1 with n2 fails. Steps that may be noise do
// not count in e, so that two surfels side by side do not count as the sides
// of a sheet. s is sharpened, so that doubtful pairs count little.
func agreement(f, g *surfel, noise float64) float64 {
	e := g.at.Sub(f.at)
	d2 := e.Norm2()
	s := f.normal.Dot(g.normal)
	if d2 > 0 {
		s -= 2 * beyond(f.normal.Dot(e), noise) * beyond(g.normal.Dot(e), noise) / d2
	}
	sizes := f.size + g.size
	return s * math.Abs(s) * math.Abs(s) * min(f.size, g.size) / (1 + d2/(sizes*sizes+leastSquare))
}

// beyond returns how far h is outside ±noise.
func beyond(h, noise float64) float64 {
	return math.Copysign(max(0, math.Abs(h)-noise), h)
}

// mergeLinks sums the links between the same two and drops those of one with
// itself.
func mergeLinks(l []link) []link {
	slices.SortStableFunc(l, func(x, y link) int {
		return cmp.Or(cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b))
	})
	out := l[:0]
	for _, k := range l {
		if k.a == k.b {
			continue
		}
		if n := len(out); n > 0 && out[n-1].a == k.a && out[n-1].b == k.b {
			out[n-1].weight += k.weight
			continue
		}
		out = append(out, k)
	}
	return out
}

// agreeSides groups connected surfels and turns each group's to one side: it
// returns each one's group and sign.
//
// Groups grow by joining with that neighbour for which the sum of all links
// between them is the clearest, the smaller into the larger, so that a
// side is never decided by one link where there are many. This is the
// propagation along a minimum spanning tree of Hoppe et al. (1992), with every
// edge of the graph having its say.
func agreeSides(fs []surfel, l []link) (group []int32, sign []float64) {
	n := len(fs)
	sets := newParitySets(n)
	group, sign = make([]int32, n), make([]float64, n)
	best := make([]int32, n) // link of each group
	for l = slices.Clone(l); len(l) > 0; l = mergeLinks(l) {
		area := make([]float64, n)
		for i, f := range fs {
			root, _ := sets.root(int32(i))
			area[root] += f.area
			best[i] = -1
		}
		for k, e := range l {
			for _, g := range [2]int32{e.a, e.b} {
				if best[g] < 0 || math.Abs(e.weight) > math.Abs(l[best[g]].weight) {
					best[g] = int32(k)
				}
			}
		}
		for g, k := range best {
			if k < 0 {
				continue
			}
			e := l[k]
			to := e.a + e.b - int32(g)
			// The smaller joins the larger; of equals the later the earlier.
			if area[g] < area[to] || area[g] == area[to] && int32(g) > to {
				sets.join(e.a, e.b, e.weight < 0)
			}
		}
		for k, e := range l {
			a, oddA := sets.root(e.a)
			b, oddB := sets.root(e.b)
			l[k] = link{min(a, b), max(a, b), e.weight * signOf(oddA != oddB)}
		}
	}
	for i := range fs {
		root, odd := sets.root(int32(i))
		group[i], sign[i] = root, signOf(odd)
	}
	return group, sign
}

// turnOutward turns each group of surfels outside out and reports whether the
// data could say so for nine tenths of the area.
func turnOutward(fs []surfel, l []link, group []int32) bool {
	groups := make([]enclosure, len(fs)) // each at its lowest surfel
	for i, f := range fs {
		s := &groups[group[i]]
		s.area += f.area
		s.at = s.at.Add(f.at.Mul(f.area))
		s.sum = s.sum.Add(f.normal.Mul(f.area))
		s.square.AddOuter(f.normal, f.area)
	}
	for i, f := range fs {
		s := &groups[group[i]]
		s.volume += f.area * f.at.Sub(s.at.Mul(1/s.area)).Dot(f.normal) / 3
	}
	for _, e := range l {
		if group[e.a] == group[e.b] {
			groups[group[e.a]].addCrease(&fs[e.a], &fs[e.b])
		}
	}
	var all, sure float64
	for i, f := range fs {
		side, known := groups[group[i]].side()
		all += f.area
		if known {
			sure += f.area
		}
		fs[i].normal = f.normal.Mul(side)
	}
	return sure >= knownArea*all && all > 0
}

// enclosure is the evidence of which side of a surface is outside.
type enclosure struct {
	area, volume float64   // mm²; mm³, signed, about the centroid
	at, sum      r3.Vector // sums of area times place and of area times normal
	square       geom.Sym3 // of area times n nᵀ

	// Creases by length: their sum signed, convex ones positive; unsigned; and
	// the sum of squares.
	convex, creases, squares float64
}

// addCrease counts a crease between two surfels: neighbours whose normals differ
// by more than 50 degrees. (n2-n1)·e is positive where the surface bends away
// from its outer side.
func (s *enclosure) addCrease(f, g *surfel) {
	if f.normal.Dot(g.normal) > creaseCos {
		return
	}
	e := g.at.Sub(f.at)
	d := e.Norm()
	if d == 0 || d > creaseReach*(f.size+g.size) {
		return
	}
	b := g.normal.Sub(f.normal).Dot(e) / d * min(f.size, g.size)
	s.convex += b
	s.creases += math.Abs(b)
	s.squares += b * b
}

// side returns -1 where the normals point into the material, else 1, and
// whether the data says so.
//
// A surface seen all around closes: its area vectors add up to nothing and the
// volume that it holds (divergence theorem) gives its outside. It must face
// more than two ways: the wall of a tube alone may be a bore or a shaft.
//
// A part scanned from one side is open. Its outline and its holes end in
// convex edges, and what rises from a face or is sunk into it has a convex
// edge for about every concave one, so the creases, weighed by length, are
// convex when seen from outside; and its walls fall away from the scanner, so
// that it holds volume against its middle. Where both agree, the side is known
// if the creases are no chance; where they do not, say at a deep bore in a
// scrap of face, the creases must be clear. A surface without creases, say a
// plane or a dish, is not known; it is turned so that it bulges.
func (s *enclosure) side() (side float64, known bool) {
	if s.area == 0 {
		return 1, false
	}
	sign := 1.0
	if s.volume < 0 {
		sign = -1
	}
	_, least, _ := s.square.Smallest()
	// 36πV² = A³ for a sphere.
	round := 36 * math.Pi * s.volume * s.volume / (s.area * s.area * s.area)
	if s.sum.Norm() < closedSum*s.area && least > closedFacing*s.area && round > closedRound {
		return sign, true
	}
	clear := math.Abs(s.convex) > clearCreases*s.creases
	agree := s.convex*sign > 0 && math.Abs(s.convex) > agreeingCreases*s.creases &&
		round > openRound
	// Random signs do not sum to so much, and a few creases are no evidence for the whole.
	chance := s.convex*s.convex < chanceSigmas*chanceSigmas*s.squares ||
		s.creases < leastCreases*math.Sqrt(s.area)
	if !chance && (clear || agree) {
		return math.Copysign(1, s.convex), true
	}
	return sign, false
}
