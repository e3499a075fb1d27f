package segment

import (
	"math"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// tolerance says how far the nodes of a true surface stray from it. Scan noise
// is correlated: a patch of a few nodes is smoother than the whole of a large
// face, so the answer grows with the patch. It is learnt from the large
// surfaces that are found first; before that only its floor is known.
type tolerance struct {
	floor  float64   // least half width, mm: from the noise between neighbours
	held   bool      // the caller gave the band: no other is used
	reach  float64   // edge of the patches, mm, that the noise was seen over
	length []float64 // edges of patches, mm, ascending
	rms    []float64 // root mean square about the best local surface, mm
	tilt   float64   // 1 - cosine of three times the normals' standard deviation; 0 not known
}

const (
	sigmas     = 3   // half width of a band in standard deviations
	widest     = 4   // a band is never wider than so many floors
	learnCount = 200 // least nodes of a surface worth learning from
	// learnPatches of each size are looked at, half as many of the largest.
	learnPatches = 40
	leastTilt    = 6 * math.Pi / 180
)

// expected returns the root mean square, mm, that a patch of the given edge
// length has on a true surface. Before anything is learnt that is the noise up
// to the length over which it was seen; beyond, it may grow with the root of
// the length.
func (t *tolerance) expected(length float64) float64 {
	if len(t.rms) == 0 {
		return t.floor / sigmas * math.Sqrt(max(1, min(widest*widest, length/t.reach)))
	}
	k := 0
	for k+2 < len(t.length) && length > t.length[k+1] {
		k++
	}
	if k+1 == len(t.length) {
		return t.rms[k]
	}
	// Linear in the logarithm of the length, held at both ends.
	f := math.Log(length/t.length[k]) / math.Log(t.length[k+1]/t.length[k])
	f = max(0, min(1, f))
	return max(t.floor/sigmas, t.rms[k]+f*(t.rms[k+1]-t.rms[k]))
}

// band returns the half width for a patch of the given edge length whose own
// residuals have root mean square rms; rms 0 means not known yet.
func (t *tolerance) band(length, rms float64) float64 {
	if t.held {
		return t.floor
	}
	e := t.expected(length)
	most := min(widest*t.floor, 1.3*sigmas*e)
	if rms == 0 {
		return max(t.floor, min(most, sigmas*e))
	}
	return max(t.floor, min(most, sigmas*rms))
}

// plausible reports whether residuals of root mean square rms are no larger
// than a true surface of that size shows.
func (t *tolerance) plausible(length, rms float64) bool {
	return rms <= 1.35*t.expected(length)
}

// learn measures the tolerance on patches of the surfaces found so far. The
// best tilted plane is taken off each patch's residuals, as a fit to the patch
// alone would.
func (s *searcher) learn() {
	var from []int32
	for _, f := range s.found {
		if len(f.nodes) >= learnCount {
			from = append(from, f.nodes...)
		}
	}
	if 10*len(from) <= 11*s.learnt {
		return // nothing new
	}
	s.learnt = len(from)
	rng := rand.New(rand.NewPCG(s.seed, 1))
	t := tolerance{floor: s.tol.floor, held: s.tol.held, reach: s.tol.reach}
	var off []float64
	for range 500 {
		i := from[rng.IntN(len(from))]
		f := &s.found[s.label[i]]
		_, n := f.at(s.n.at(i))
		off = append(off, 1-s.ws[0].agree(f.side*n.Dot(s.n.nrm[i].R3())))
	}
	slices.Sort(off)
	// 1 - cos is half the square of the angle, whose median is 2 ln 2 variances
	// of each of its two parts.
	t.tilt = max(sigmas*sigmas/2*off[len(off)/2]/math.Ln2, 1-math.Cos(leastTilt))
	for _, size := range [...]int{14, 40, 120, 360, 1080, 3240} {
		seeds := make([]int32, learnPatches)
		if size > 1000 {
			seeds = seeds[:learnPatches/2]
		}
		for k := range seeds {
			seeds[k] = from[rng.IntN(len(from))]
		}
		found := slices.DeleteFunc(s.roughness(seeds, size), func(r float64) bool { return r < 0 })
		if 2*len(found) < len(seeds) {
			break
		}
		slices.Sort(found)
		rms := found[len(found)*3/4]
		if k := len(t.rms); k > 0 {
			rms = max(rms, t.rms[k-1])
		}
		t.length = append(t.length, math.Sqrt(float64(size))*s.pitch)
		t.rms = append(t.rms, rms)
	}
	*s.tol = t
	clear(s.barren)
}

// roughness returns that of the patches of the given size round the seeds, -1
// where there are not so many nodes.
func (s *searcher) roughness(seeds []int32, size int) []float64 {
	out := make([]float64, len(seeds))
	s.each(len(seeds), func(w *worker, k int) {
		out[k] = -1
		w.collectWithin(seeds[k], size, &w.pat)
		if len(w.pat.nodes) == size {
			out[k] = w.pat.roughness(&s.found[s.label[seeds[k]]].shape)
		}
	})
	return out
}

// collectWithin fills p with up to size nodes around seed of the same surface.
func (w *worker) collectWithin(seed int32, size int, p *patch) {
	w.stamp++
	p.nodes = append(p.nodes[:0], seed)
	w.seen[seed] = w.stamp
	for at := 0; at < len(p.nodes) && len(p.nodes) < size; at++ {
		for _, j := range w.g.of(p.nodes[at]) {
			if j >= 0 && w.seen[j] != w.stamp && w.label[j] == w.label[seed] && len(p.nodes) < size {
				w.seen[j] = w.stamp
				p.nodes = append(p.nodes, j)
			}
		}
	}
	w.read(p)
}

// roughness is the root mean square of the patch's distances from s after the
// best plane in the tangent directions is taken off them.
func (p *patch) roughness(s *shape) float64 {
	_, n := s.at(p.pos[0])
	if n == (r3.Vector{}) {
		return 0
	}
	e1, e2 := geom.Basis(n)
	var a [6]float64 // normal equations of d = x·(1, u, v)
	var b r3.Vector
	for _, q := range p.pos {
		d, _ := s.at(q)
		v := q.Sub(p.pos[0])
		row := r3.Vector{X: 1, Y: v.Dot(e1), Z: v.Dot(e2)}
		addOuter(&a, row)
		b = b.Add(row.Mul(d))
	}
	x, ok := solve3(a, b)
	if !ok {
		return 0
	}
	var sum float64
	for _, q := range p.pos {
		d, _ := s.at(q)
		v := q.Sub(p.pos[0])
		d -= x.X + x.Y*v.Dot(e1) + x.Z*v.Dot(e2)
		sum += d * d
	}
	return math.Sqrt(sum / float64(len(p.pos)-3))
}

// rmsOf returns the root mean square distance of pts from s.
func rmsOf(s *shape, pts []r3.Vector) float64 {
	var sum float64
	for _, q := range pts {
		d, _ := s.at(q)
		sum += d * d
	}
	return math.Sqrt(sum / float64(len(pts)))
}

// lengthOf is the edge of the square that count nodes cover.
func (w *worker) lengthOf(count int) float64 { return math.Sqrt(float64(count)) * w.pitch }
