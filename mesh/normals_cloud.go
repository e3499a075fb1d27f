package mesh

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// cloudNormals returns a unit normal a point of either side, zero where there
// is none: points on no surface, being outliers or too few; and the surface
// that each point represents, mm². noise is the local one, band the distance,
// mm, within which a point belongs to a surface.
//
// The nearest neighbours, however far they are, take the scan's changing
// density as it comes; see patch.tangent for the surface through them, which
// outliers and the other side of an edge do not bend. Where it is doubtful, the
// sure neighbours are asked on whose surface the point lies.
func cloudNormals(ctx context.Context, s *Scan, tree *KDTree,
	noise, band float64, jobs int) (normals []Vec32, areas []float32) {
	normals = make([]Vec32, s.Len())
	areas = make([]float32, s.Len())
	doubtful := make([]bool, s.Len())
	_ = parallel.Chunks(ctx, jobs, s.Len(), pointChunk, func(lo, hi int) {
		var p patch
		for k := lo; k < hi; k++ {
			i := tree.Order(k)
			p.gather(s.Offsets, tree, i)
			areas[i] = p.area()
			t, ok := p.tangent(p.enough(noise), math.Hypot(band, patchBend*p.radius(p.n)))
			if ok {
				normals[i] = vec32(t.normal)
			}
			doubtful[i] = !ok || t.share < doubtfulShare || t.inliers < doubtfulInliers ||
				t.oneSided > doubtfulOneSided
		}
	})
	capAreas(areas)
	resolveDoubtful(ctx, s.Offsets, normals, doubtful, tree, band, jobs)
	return normals, areas
}

// sidesAgree reports whether the normals of a cloud agree on one side, judged
// by neighbours in a sample.
func sidesAgree(s *Scan) bool {
	sample := samplePoints(s.Len(), sideSample, 0)
	at := make([]Vec32, len(sample))
	for k, i := range sample {
		at[k] = s.Offsets[i]
	}
	tree := NewKDTree(at, 1)
	var nb []Neighbour
	pro, contra := 0.0, 0.0
	for k, i := range sample {
		nb = tree.Nearest(at[k], surfelVoters+1, 0, nb[:0])
		f := surfel{at: at[k].R3(), normal: s.Normal(int(i)), size: 1}
		for _, n := range nb {
			g := surfel{at: at[n.I].R3(), normal: s.Normal(int(sample[n.I])), size: 1}
			if n.I == int32(k) {
				continue
			}
			// Those of two walls or two sheets say little.
			if a := f.normal.Dot(g.normal); a > sameSurface {
				pro++
			} else if a < -sameSurface && agreement(&f, &g, 0) < 0 {
				contra++
			}
		}
	}
	return contra <= sidesAgainst*(pro+contra)
}

// capAreas limits areas: a lone point has no more than the sparsest
// wall's.
func capAreas(areas []float32) {
	some := make([]float32, 0, capSample)
	for _, i := range samplePoints(len(areas), capSample, 0) {
		some = append(some, areas[i])
	}
	most := sparsest * geom.Median(some)
	for i := range areas {
		areas[i] = min(areas[i], most)
	}
}

// resolveDoubtful replaces doubtful normals by those of the sure neighbours
// whose tangent planes pass the point within the noise of both, the nearer
// counting more; where the planes are of several surfaces, the one with most
// weight decides. A point on no sure neighbour's surface is an outlier: it has
// no normal. A point without sure neighbours keeps its own.
func resolveDoubtful(ctx context.Context, pts, normals []Vec32, doubtful []bool,
	tree *KDTree, band float64, jobs int) {
	type vote struct {
		normal r3.Vector
		weight float64
	}
	_ = parallel.Chunks(ctx, jobs, len(pts), pointChunk, func(lo, hi int) {
		var nb []Neighbour
		var votes []vote
		for k := lo; k < hi; k++ {
			i := tree.Order(k)
			if !doubtful[i] {
				continue
			}
			votes = votes[:0]
			known := false
			nb = tree.Nearest(pts[i], askedNeighbours+1, 0, nb[:0])
			for _, n := range nb {
				if doubtful[n.I] || n.I == i {
					continue
				}
				known = true
				m := normals[n.I].R3()
				d := m.Dot(pts[i].R3().Sub(pts[n.I].R3()))
				if math.Abs(d) <= band*math.Sqrt2+2*patchBend*math.Sqrt(float64(n.D2)) {
					votes = append(votes, vote{m, 1 / (float64(n.D2) + band*band)})
				}
			}
			var best r3.Vector
			most := 0.0
			for _, a := range votes {
				var sum r3.Vector
				weight := 0.0
				for _, b := range votes {
					if c := a.normal.Dot(b.normal); math.Abs(c) >= sameSurface {
						weight += b.weight
						sum = sum.Add(b.normal.Mul(math.Copysign(b.weight, c)))
					}
				}
				if weight > most {
					most, best = weight, sum
				}
			}
			if known { // those of sure points alone are read
				normals[i] = vec32(geom.Unit(best))
			}
		}
	})
}

// patch is a place of the scan and its neighbours, as offsets from it, nearest
// first. The place itself is not among them.
type patch struct {
	n   int
	off [maxPatch]Vec32
	nb  []Neighbour // room for the query
}

// gather fills p with the neighbours of point i, those in the same place left out.
func (p *patch) gather(pts []Vec32, tree *KDTree, i int32) {
	q := pts[i]
	p.nb = tree.Nearest(q, maxPatch+1, 0, p.nb[:0])
	p.n = 0
	for _, n := range p.nb {
		if n.D2 == 0 || p.n == maxPatch {
			continue
		}
		v := pts[n.I]
		p.off[p.n] = Vec32{v[0] - q[0], v[1] - q[1], v[2] - q[2]}
		p.n++
	}
}

// radius returns the distance of the farthest of the first k neighbours.
func (p *patch) radius(k int) float64 {
	if k = min(k, p.n); k == 0 {
		return 0
	}
	v := p.off[k-1]
	return math.Sqrt(float64(squared(v[0], v[1], v[2])))
}

// area returns the surface that the place represents, mm²: 1/6 of the disc that
// its sixth neighbour lies on.
func (p *patch) area() float32 {
	k := min(spacingNeighbours, p.n)
	if k == 0 {
		return 0
	}
	r := p.radius(k)
	return float32(math.Pi * r * r / float64(k))
}

// enough returns how many of p's neighbours settle the normal. Points spread
// over a disc of radius R have standard deviation R/2 along each axis of it,
// so the tilt's is noise / (R/2 · √k).
func (p *patch) enough(noise float64) int {
	k := min(fewNeighbours, p.n)
	for ; k < p.n; k += moreNeighbours {
		r := p.radius(k)
		if r*r*float64(k)*wantTilt*wantTilt >= 4*noise*noise {
			break
		}
	}
	return min(k, p.n)
}

// drawSeed starts every sequence of draws: the same point gives the same plane
// whatever else is computed.
const drawSeed = 2463534242

// nextDraw returns the next of a sequence of pseudo-random numbers: xorshift32,
// Marsaglia (2003), J. Stat. Softw. 8(14).
func nextDraw(state *uint32) uint32 {
	x := *state
	x ^= x << 13
	x ^= x >> 17
	x ^= x << 5
	*state = x
	return x
}

// trialNormal returns the unit normal of the plane through the place and two
// neighbours, so that near an edge the side is found that the place itself lies
// on. ok is false where they lie too nearly on a line.
func trialNormal(a, b r3.Vector) (n r3.Vector, ok bool) {
	w := a.Cross(b)
	l := w.Norm2()
	if l < leastSine*leastSine*a.Norm2()*b.Norm2() || l == 0 {
		return n, false
	}
	return w.Mul(1 / math.Sqrt(l)), true
}

// tangent is a local surface: a unit normal at the place, the share of the
// neighbours that lie in the band about it, and their number.
type tangent struct {
	normal  r3.Vector
	share   float64
	inliers int
	// oneSided is how far the neighbours on it lie to one side of the place: the
	// squared distance of their mean over their mean squared distance, 0 for all
	// around, 0.36 at a straight rim, 1 for all in one direction.
	oneSided float64
}

// oneSided returns what tangent says of it for points about a place.
func oneSided(m *geom.Moments) float64 {
	all := m.N * (m.Sq.XX + m.Sq.YY + m.Sq.ZZ)
	if !(all > 0) {
		return 0
	}
	return m.Sum.Norm2() / all
}

// tangent returns the tangent plane at the place of the surface that most of
// the first k neighbours agree on and that passes within band mm of the place;
// ok is false if there is none. Points further than band off do not count
// (truncated squares: MSAC, Torr & Zisserman 2000).
//
// Where all neighbours lie in the band of their least squares plane, that one
// is taken. Else planes through the place and two neighbours are tried, the
// best refined.
func (p *patch) tangent(k int, band float64) (t tangent, ok bool) {
	k = min(k, p.n)
	var all geom.Moments
	all.Add(r3.Vector{})
	for i := range k {
		all.Add(p.off[i].R3())
	}
	n, d, l, ok := all.Plane()
	if !ok {
		return t, false
	}
	if math.Sqrt(max(0, l)*all.N/(all.N-3)) <= band*normalBand && math.Abs(d) <= band {
		return tangent{n, 1, k, oneSided(&all)}, true
	}
	best := math.Inf(1)
	if math.Abs(d) <= band {
		best = p.cost(n, d, k, band)
	}
	draws := planeDraws
	if best < goodCost*band*band*float64(k) {
		draws = 0
	}
	state := uint32(drawSeed)
	for range draws {
		a := p.off[nextDraw(&state)%uint32(k)]
		b := p.off[nextDraw(&state)%uint32(k)]
		w, ok := trialNormal(a.R3(), b.R3())
		if !ok {
			continue
		}
		if c := p.cost(w, 0, k, band); c < best {
			best, n, d = c, w, 0
		}
	}
	// Least squares on the points in the band, a few times over.
	for range refineRounds {
		var in geom.Moments
		in.Add(r3.Vector{})
		t.inliers = 0
		for i := range k {
			if v := p.off[i].R3(); math.Abs(n.Dot(v)-d) <= band {
				in.Add(v)
				t.inliers++
			}
		}
		t.oneSided = oneSided(&in)
		m, e, _, good := in.Plane()
		if !good || math.Abs(e) > band {
			break
		}
		same := m.Dot(n)
		n, d = m, e
		if math.Abs(same) > sameNormal {
			break
		}
	}
	t.normal, t.share = n, float64(t.inliers)/float64(k)
	return t, t.inliers >= 3
}

// cost sums the squared distances to a plane, each at most band².
func (p *patch) cost(n r3.Vector, d float64, k int, band float64) float64 {
	x, y, z, e, most := float32(n.X), float32(n.Y), float32(n.Z), float32(d), float32(band*band)
	var sum float32
	for _, v := range p.off[:k] {
		r := x*v[0] + y*v[1] + z*v[2] - e
		r *= r
		if r > most {
			r = most
		}
		sum += r
	}
	return float64(sum)
}
