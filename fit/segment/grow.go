package segment

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// worker holds one goroutine's scratch memory and a view of the shared state,
// which it only reads.
type worker struct {
	n     *nodes
	g     *graph
	label []int32 // surface of each node, -1 free
	tol   *tolerance
	pitch float64 // distance between nodes, mm
	ncos  float64 // cosine of the largest angle between a node's and the surface's normal
	known bool    // shapes are about an axis that is known
	form  bool    // surfaces may have form
	// panels are the elements where they are flat panels; else nil.
	panels *panelSet
	exact  *exactCloud // as in searcher
	// pieces says which surfaces follow may take nodes of; nil for none.
	pieces []bool

	seen  []int32
	stamp int32
	pat   patch
	hyp   []shape
	pts   []r3.Vector
	dist  []float64
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
	if w.panels != nil {
		return w.panels.fits(s, side, band, i)
	}
	d, n := s.at(w.n.at(i))
	if d > band || d < -band || side*n.Dot(w.n.nrm[i].R3()) < w.ncos {
		return 0, false
	}
	return 1 - d*d/(band*band), true
}

// support is a shape with the connected free nodes that belong to it.
type support struct {
	surf
	nodes []int32
	score float64
}

// flood collects nodes over the graph, from seeds, nearest first, until most are found:
// free ones, and those of the surfaces that are pieces. in says whether node j, met from
// node i on its k-th link, belongs; a seed is met from itself, on link -1. None is asked
// for twice.
func (w *worker) flood(seeds []int32, most int, out []int32, in func(i, j int32, k int) bool) []int32 {
	w.stamp++
	out = out[:0]
	visit := func(i, j int32, k int) {
		if j < 0 || w.seen[j] == w.stamp ||
			w.label[j] >= 0 && (w.pieces == nil || !w.pieces[w.label[j]]) {
			return
		}
		w.seen[j] = w.stamp
		if in(i, j, k) {
			out = append(out, j)
		}
	}
	for _, j := range seeds {
		visit(j, j, -1)
	}
	for at := 0; at < len(out) && len(out) < most; at++ {
		for k, j := range w.g.of(out[at]) {
			visit(out[at], j, k)
		}
	}
	return out
}

// follow grows s from seeds within the band.
func (w *worker) follow(s *shape, side, band float64, seeds []int32, most int, out []int32) []int32 {
	return w.flood(seeds, most, out, func(_, j int32, _ int) bool {
		_, ok := w.fits(s, side, band, j)
		return ok
	})
}

// core returns the nodes of a support all of whose neighbours are in it, if these are
// between a fifth and three quarters: along the edges of a narrow strip the bend of a
// rounded edge is in the band, too. It does not move a wide surface, which must show
// whether it leaves the nodes toward its border.
func (w *worker) core(ns []int32) []int32 {
	w.stamp++
	for _, i := range ns {
		w.seen[i] = w.stamp
	}
	var inner []int32
	for _, i := range ns {
		border := func(j int32) bool { return j >= 0 && w.seen[j] != w.stamp }
		if !slices.ContainsFunc(w.g.of(i), border) {
			inner = append(inner, i)
		}
	}
	if coreFew*len(inner) < len(ns) || len(inner) < coreLeast || coreOf*len(inner) > coreIn*len(ns) {
		return ns
	}
	return inner
}

// sample returns about count of the nodes' positions, evenly over the list; all corners
// of panels.
func (w *worker) sample(ns []int32, count int) []r3.Vector {
	if w.panels != nil {
		return w.panels.corners(ns)
	}
	w.pts = w.pts[:0]
	step := max(1, len(ns)/count)
	for k := 0; k < len(ns); k += step {
		w.pts = append(w.pts, w.n.at(ns[k]))
	}
	return w.pts
}

// grow refines s by turns of flooding and refitting, up to limit nodes. The band follows
// the residuals found, within what a true surface of that size shows (see tolerance); with
// form it is that of noise, and the limit of form follows the size.
func (w *worker) grow(s shape, seeds []int32, limit int) (support, bool) {
	if w.panels != nil {
		return w.growPanels(s, seeds, limit)
	}
	sup := support{surf: surf{shape: s, band: w.tol.band(0), side: w.sideOf(&s, seeds)}}
	samples, steps := growSample, growSteps
	if limit <= trialLimit {
		samples = trialSample
	}
	if w.form {
		sup.band, steps = w.tol.floor, formSteps
	}
	size := 0
	if w.pieces != nil { // whole already: less than a little more is the end
		size = len(seeds)
	}
	for step, room := 0, firstRoom*len(seeds); ; step++ {
		room = min(room, limit)
		if w.form {
			sup.form = max(sup.band, w.tol.form(w.lengthOf(max(len(seeds), size))))
			sup.nodes = w.followForm(&sup.shape, sup.side, sup.form, seeds, room, sup.nodes)
		} else {
			sup.nodes = w.follow(&sup.shape, sup.side, sup.band, seeds, room, sup.nodes)
		}
		ns := sup.nodes
		if len(ns) < max(overParams*sup.kind.Params(), len(seeds)/leastKept) {
			return sup, false
		}
		full := len(ns) >= room
		done := !full && len(ns) <= size+size/settled || room >= limit && full || step > steps
		size = len(ns)
		if w.known && !w.form {
			ns = w.core(ns)
		}
		pts := w.sample(ns, samples)
		next, ok := sup.shape.refit(pts)
		if !ok || w.form && next.kind == coneKind && next.extreme() {
			return sup, false
		}
		sup.shape = next
		if w.form {
			sup.rms = rmsOf(&next, pts)
		} else {
			sup.rms = w.spread(&next, pts)
			sup.band = w.tol.band(sup.rms)
			if !w.tol.plausible(sup.rms) || done && !w.stands(&sup) {
				return sup, false
			}
		}
		if done {
			sup.score = w.rate(&sup)
			return sup, !w.form || sup.score > 0
		}
		room *= roomGain
	}
}

// spread returns the standard deviation of pts, up to some hundred of them, about s by
// the median of their distances, which what is rounded at the support's border
// does not move much.
func (w *worker) spread(s *shape, pts []r3.Vector) float64 {
	w.dist = w.dist[:0]
	step := max(1, len(pts)/supportSample)
	for k := 0; k < len(pts); k += step {
		d, _ := s.at(pts[k])
		w.dist = append(w.dist, math.Abs(d))
	}
	return geom.Nth(w.dist, len(w.dist)/2) / normalMedian
}

// normalMedian is the median of |x| of the normal distribution.
const normalMedian = 0.67449

// rate returns the MSAC score of a support within the band that a true surface of its
// size should need. So a shape that bends to take in what lies round an edge, and widens
// its own band by it, does not gain.
func (w *worker) rate(sup *support) (score float64) {
	if w.form {
		return w.rateForm(sup)
	}
	band := w.tol.band(0)
	for _, i := range sup.nodes {
		d, _ := sup.at(w.n.at(i))
		score += max(0, 1-d*d/(band*band))
	}
	return score
}

// stands reports whether a support is a surface rather than a slice through
// scattered points or along the bend of a rounded edge: the free nodes next to
// it are four times as many within the band as in either flank beyond it, which
// is half as wide (twice as many would be chance), by three standard deviations
// of such a count. About an axis that is known already, one and a half times
// will do.
func (w *worker) stands(sup *support) bool {
	w.stamp++
	var in int
	var out [2]int
	step := max(1, len(sup.nodes)/supportSample)
	for k := 0; k < len(sup.nodes); k += step {
		for _, j := range w.g.of(sup.nodes[k]) {
			if j < 0 || w.seen[j] == w.stamp || w.label[j] >= 0 {
				continue
			}
			w.seen[j] = w.stamp
			d, n := sup.at(w.n.at(j))
			switch {
			case math.Abs(d) > flankBands*sup.band:
			case math.Abs(d) <= sup.band:
				in++
			case sup.side*n.Dot(w.n.nrm[j].R3()) <= 0:
			case d < 0:
				out[0]++
			default:
				out[1]++
			}
		}
	}
	worst := float64(max(out[0], out[1]))
	if w.known {
		return float64(in) >= standsKnown*worst
	}
	return float64(in) >= standsRatio*worst+standsSure*math.Sqrt(float64(in))
}
