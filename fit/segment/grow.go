package segment

import (
	"math"

	"github.com/golang/geo/r3"
)

// worker holds one goroutine's scratch memory and a view of the shared state,
// which it only reads.
type worker struct {
	n     *nodes
	g     *graph
	label []int32 // surface of each node, -1 free
	band  float64 // half width within which a node belongs, mm
	ncos  float64 // cosine of the largest angle between a node's and the surface's normal
	twoSd bool    // normals may point either way

	seen  []int32
	stamp int32
	pat   patch
	hyp   []shape
	pts   []r3.Vector
}

// agree folds the cosine between two normals where their sign is not known.
func (w *worker) agree(cos float64) float64 {
	if w.twoSd {
		return math.Abs(cos)
	}
	return cos
}

// sideOf returns +1 or -1: whether the nodes' normals go with s's or against.
func (w *worker) sideOf(s *shape, ns []int32) float64 {
	var sum float64
	for _, i := range ns {
		_, n := s.at(w.n.at(i))
		sum += n.Dot(w.n.nrm[i].R3())
	}
	if sum < 0 {
		return -1
	}
	return 1
}

// fits reports whether node i belongs to s within band, and its MSAC score
// 1 - (d/band)² (Torr & Zisserman 2000, eq. 12).
func (w *worker) fits(s *shape, side, band float64, i int32) (float64, bool) {
	d, n := s.at(w.n.at(i))
	if d > band || d < -band {
		return 0, false
	}
	if w.agree(side*n.Dot(w.n.nrm[i].R3())) < w.ncos {
		return 0, false
	}
	return 1 - d*d/(band*band), true
}

// support is a shape with the connected free nodes that belong to it.
type support struct {
	shape
	side  float64
	band  float64
	nodes []int32
	score float64
}

// flood grows s from seeds over free nodes, until limit nodes are found.
func (w *worker) flood(s *shape, side, band float64, seeds []int32, limit int, out []int32) ([]int32, float64) {
	w.stamp++
	out = out[:0]
	var score float64
	visit := func(j int32) {
		if j < 0 || w.seen[j] == w.stamp || w.label[j] >= 0 {
			return
		}
		w.seen[j] = w.stamp
		if sc, ok := w.fits(s, side, band, j); ok {
			out = append(out, j)
			score += sc
		}
	}
	for _, i := range seeds {
		visit(i)
	}
	for at := 0; at < len(out) && len(out) < limit; at++ {
		for _, j := range w.g.of(out[at]) {
			visit(j)
		}
	}
	return out, score
}

// spread returns about count of the nodes' positions, evenly over the list.
func (w *worker) sample(ns []int32, count int) []r3.Vector {
	w.pts = w.pts[:0]
	step := max(1, len(ns)/count)
	for k := 0; k < len(ns); k += step {
		w.pts = append(w.pts, w.n.at(ns[k]))
	}
	return w.pts
}

// grow refines s by turns of flooding and refitting, up to limit nodes. The
// band follows the residuals found, within twice the band given at the start:
// large faces carry waves of noise that no small patch shows.
func (w *worker) grow(s shape, seeds []int32, limit int) (support, bool) {
	sup := support{shape: s, band: w.band}
	sup.side = w.sideOf(&s, seeds)
	size := 0
	for step, room := 0, 4*len(seeds); ; step++ {
		room = min(room, limit)
		ns, score := w.flood(&sup.shape, sup.side, sup.band, seeds, room, sup.nodes)
		sup.nodes, sup.score = ns, score
		if len(ns) < max(sup.kind.minPoints(), len(seeds)/2) {
			return sup, false
		}
		full := len(ns) >= room
		done := !full && (len(ns) <= size+size/50) || room >= limit && full || step > 12
		size = len(ns)
		pts := w.sample(ns, 1500)
		if len(pts) < 2*sup.kind.minPoints() {
			return sup, done && step > 0
		}
		next, ok := sup.shape.refit(pts)
		if !ok {
			return sup, false
		}
		sup.shape = next
		sup.band = w.bandOf(&next, pts)
		if done {
			return sup, true
		}
		room *= 6
	}
}

// bandOf returns the half width that holds the noise of pts about s: four
// times the root mean square within the present widest band, limited to
// [band, 2 band].
func (w *worker) bandOf(s *shape, pts []r3.Vector) float64 {
	var sum float64
	for _, q := range pts {
		d, _ := s.at(q)
		sum += d * d
	}
	return min(2*w.band, max(w.band, 4*math.Sqrt(sum/float64(len(pts)))))
}
