package mesh

import "math"

// maxPatch is the largest number of points in a patch.
const maxPatch = 64

// patch is a place of the scan and its neighbours, as offsets from it, nearest
// first. The place itself is not among them.
type patch struct {
	n   int
	off [maxPatch][3]float32
	nb  []Neighbour // room for the query
}

// gather fills p with up to k neighbours of point i, those in the same place
// left out.
func (p *patch) gather(pts []Vec32, ix *Index, i int32, k int) {
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

// plane returns the plane through the first k neighbours of the place that a
// majority near it agrees on, as unit normal and distance along it, its inlier
// count and root mean square distance. band is the distance, mm, beyond which
// a point does not count (truncated squares: MSAC, Torr & Zisserman 2000).
// Where all neighbours lie in the band of their least squares plane, that one
// is taken.
func (p *patch) plane(k int, band float64) (n [3]float64, d float64, inliers int, rms float64, ok bool) {
	k = min(k, p.n)
	var all scatter
	all.add([3]float32{})
	for i := range k {
		all.add(p.off[i])
	}
	n, d, l, ok := all.plane()
	if !ok {
		return n, d, 0, 0, false
	}
	// Three in five of the band would hold a normal sample of this scatter.
	if math.Sqrt(max(0, l)*all.n/(all.n-3)) <= band*0.45 && math.Abs(d) <= band {
		return n, d, k, math.Sqrt(max(0, l)), true
	}
	best := p.cost(n, d, k, band)
	state := uint32(2463534242)
	for range planeDraws {
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
		for i := range k {
			if math.Abs(dot(n, wide(p.off[i]))-d) <= band {
				in.add(p.off[i])
			}
		}
		m, e, l, good := in.plane()
		if !good || math.Abs(e) > band {
			break
		}
		inliers, rms = int(in.n)-1, math.Sqrt(max(0, l))
		same := dot(m, n)
		n, d = m, e
		if math.Abs(same) > 1-1e-7 {
			break
		}
	}
	return n, d, inliers, rms, inliers >= 3
}

// cost sums the squared distances to a plane, each at most band².
func (p *patch) cost(n [3]float64, d float64, k int, band float64) float64 {
	x, y, z, e, most := float32(n[0]), float32(n[1]), float32(n[2]), float32(d), float32(band*band)
	var sum float32
	for _, v := range p.off[:k] {
		r := x*v[0] + y*v[1] + z*v[2] - e
		sum += min(r*r, most)
	}
	return float64(sum)
}

func wide(v [3]float32) [3]float64 {
	return [3]float64{float64(v[0]), float64(v[1]), float64(v[2])}
}
