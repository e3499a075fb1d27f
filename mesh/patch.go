package mesh

import "math"

// maxPatch is the largest number of points in a patch.
const maxPatch = 32

// patch is a place of the scan and its neighbours, as offsets from it, nearest
// first. The place itself is not among them.
type patch struct {
	n   int
	off [maxPatch][3]float32
	nb  []Neighbour // room for the query

	// hint is the normal found last, of a place nearby, or zero.
	hint [3]float64
}

// gather fills p with up to k neighbours of point i, those in the same place
// left out.
func (p *patch) gather(pts []Vec32, ix *KDTree, i int32, k int) {
	q := pts[i]
	p.nb = ix.Nearest(q, min(k, maxPatch)+1, 0, p.nb[:0])
	p.n = 0
	for _, n := range p.nb {
		if n.D2 == 0 || p.n == maxPatch {
			continue
		}
		v := pts[n.I]
		p.off[p.n] = [3]float32{v[0] - q[0], v[1] - q[1], v[2] - q[2]}
		p.n++
	}
}

// reach returns the distance of the farthest of the first k neighbours.
func (p *patch) reach(k int) float64 {
	if k = min(k, p.n); k == 0 {
		return 0
	}
	v := p.off[k-1]
	return math.Sqrt(float64(squared(v[0], v[1], v[2])))
}

// trial planes are drawn through the place itself and two neighbours, so that
// near an edge the side is found that the place itself lies on. With a fifth
// of the neighbours astray two good ones come up with 64 % chance: twelve
// draws all fail once in 200,000; the twenty of a texture patch never.
const (
	planeDraws   = 12
	textureDraws = 24
	// A fifth of the points astray cost the band's square each, the others
	// a ninth of it on average, 0.29 together: no draw will better this much.
	goodCost = 0.32
)

// pairs is a fixed sequence of pseudo-random numbers: the same point gives the
// same plane whatever else is computed.
func nextDraw(state *uint32) uint32 {
	// xorshift32, Marsaglia (2003), J. Stat. Softw. 8(14).
	x := *state
	x ^= x << 13
	x ^= x >> 17
	x ^= x << 5
	*state = x
	return x
}

// tangent is a local surface: a unit normal at the place, the share of the
// neighbours that lie in the band about it, and their number.
type tangent struct {
	normal  [3]float64
	share   float64
	inliers int
	// lopsided is how far the neighbours on it lie to one side of the place:
	// the squared distance of their middle over their mean squared distance, 0
	// for all around, 0.36 at a straight rim, 1 for all in one direction.
	lopsided float64
}

// tangent returns the tangent plane at the place of the surface that most of
// the first k neighbours agree on and that passes within band mm of the place;
// ok is false if there is none. Points further than band off do not count
// (truncated squares: MSAC, Torr & Zisserman 2000).
//
// Where all neighbours lie in the band of their least squares plane, that one
// is taken. Else planes through the place and two neighbours are tried, the
// best refined; and if less than most of the neighbours lie on it, a quadric
// is grown from it through all neighbours, for the walls of small holes.
func (p *patch) tangent(k int, band float64) (t tangent, ok bool) {
	k = min(k, p.n)
	var all scatter
	all.add([3]float32{})
	for i := range k {
		all.add(p.off[i])
	}
	n, d, l, ok := all.plane()
	if !ok {
		return t, false
	}
	// A normal sample of this scatter would fill three fifths of the band.
	if math.Sqrt(max(0, l)*all.n/(all.n-3)) <= band*0.45 && math.Abs(d) <= band {
		return tangent{n, 1, k, all.lopsided()}, true
	}
	best := math.Inf(1)
	if math.Abs(d) <= band {
		best = p.cost(n, d, k, band)
	}
	// A neighbour's plane often does for this place, too.
	if c := p.cost(p.hint, 0, k, band); c < best && p.hint != [3]float64{} {
		best, n, d = c, p.hint, 0
	}
	draws := planeDraws
	if best < goodCost*band*band*float64(k) {
		draws = 0
	}
	state := uint32(2463534242)
	for range draws {
		a := p.off[nextDraw(&state)%uint32(k)]
		b := p.off[nextDraw(&state)%uint32(k)]
		w := cross(wide(a), wide(b))
		l := dot(w, w)
		if l < 1e-2*dot(wide(a), wide(a))*dot(wide(b), wide(b)) || l == 0 {
			continue
		}
		l = 1 / math.Sqrt(l)
		w = [3]float64{w[0] * l, w[1] * l, w[2] * l}
		if c := p.cost(w, 0, k, band); c < best {
			best, n, d = c, w, 0
		}
	}
	// Least squares on the points in the band, a few times over.
	for range 3 {
		var in scatter
		in.add([3]float32{})
		t.inliers = 0
		for i := range k {
			if math.Abs(dot(n, wide(p.off[i]))-d) <= band {
				in.add(p.off[i])
				t.inliers++
			}
		}
		t.lopsided = in.lopsided()
		m, e, _, good := in.plane()
		if !good || math.Abs(e) > band {
			break
		}
		same := dot(m, n)
		n, d = m, e
		if math.Abs(same) > 1-1e-7 {
			break
		}
	}
	t.normal, t.share = n, float64(t.inliers)/float64(k)
	if t.share < 0.75 {
		p.quadric(&t, d, k, band)
	}
	p.hint = t.normal
	return t, t.inliers >= 3
}

// quadric grows a quadric w = c0 + c1 u + c2 v + c3 u² + c4 uv + c5 v² from the
// plane t at distance d over all neighbours, and where it leaves fewer of them
// out than the plane does, puts its tangent at the place in t.
func (p *patch) quadric(t *tangent, d float64, k int, band float64) {
	e1 := anyAcross(t.normal)
	e2 := cross(t.normal, e1)
	width := p.reach(p.n)
	var at [maxPatch][3]float64
	for i := range p.n {
		o := wide(p.off[i])
		at[i] = [3]float64{dot(o, e1) / width, dot(o, e2) / width, dot(o, t.normal)}
	}
	c := [6]float64{d}
	wide := max(band, 0.2*width)
	rest := func(i int) float64 {
		x := &at[i]
		return x[2] - (c[0] + x[0]*(c[1]+c[3]*x[0]+c[4]*x[1]) + x[1]*(c[2]+c[5]*x[1]))
	}
	for {
		var a [6][7]float64
		m := 0
		for i := range p.n {
			if math.Abs(rest(i)) > wide {
				continue
			}
			m++
			x := &at[i]
			f := [6]float64{1, x[0], x[1], x[0] * x[0], x[0] * x[1], x[1] * x[1]}
			addNormal(&a, &f, x[2], 1)
		}
		a[0][0]++ // the place itself
		if m < 8 {
			return
		}
		var ok bool
		if c, ok = solve6(&a); !ok {
			return
		}
		if wide == band {
			break
		}
		wide = max(band, wide/2)
	}
	if math.Abs(c[0]) > band {
		return
	}
	count := 0
	for i := range p.n {
		if math.Abs(rest(i)) <= band {
			count++
		}
	}
	// Three more coefficients must explain more than chance lets them.
	share := float64(count) / float64(p.n)
	if share < t.share+0.1 {
		return
	}
	g := [3]float64{}
	for i := range g {
		g[i] = t.normal[i] - c[1]/width*e1[i] - c[2]/width*e2[i]
	}
	l := 1 / math.Sqrt(dot(g, g))
	*t = tangent{[3]float64{g[0] * l, g[1] * l, g[2] * l}, share, count, t.lopsided}
}

// cost sums the squared distances to a plane, each at most band².
func (p *patch) cost(n [3]float64, d float64, k int, band float64) float64 {
	x, y, z, e, most := float32(n[0]), float32(n[1]), float32(n[2]), float32(d), float32(band*band)
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

func wide(v [3]float32) [3]float64 {
	return [3]float64{float64(v[0]), float64(v[1]), float64(v[2])}
}
