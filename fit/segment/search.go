package segment

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"spotface/fit"
	"spotface/mesh"
	"spotface/mesh/parallel"
)

// searcher finds surfaces among the nodes by RANSAC (Fischler & Bolles 1981)
// with localised samples (Schnabel, Wahl & Klein 2007, sec. 4.2): a trial
// draws a seed node, takes patches of several sizes around it, lets each
// suggest shapes in closed form, and grows the best over connected nodes.
type searcher struct {
	n       *nodes
	g       *graph
	label   []int32 // index into found, -1 free
	tried   []bool  // in this run: has been a seed, or is in a spoilt support
	barren  []bool  // nothing grows here, or next door, with the tolerance as it is
	spoilt  []bool  // in this run: is in a support that was refused
	found   []support
	tol     *tolerance
	smooth  []bool  // nodes whose neighbours lie on one smooth surface with them
	pitch   float64 // distance between nodes, mm
	spacing float64 // distance between the scan's points, mm
	ws      []*worker
	panels  *panelSet   // the elements where they are flat panels; else nil
	exact   *exactCloud // the elements are points of an exact cloud; else nil
	seed    uint64
	trials  int
	// crowd finds a cloud's points, or a sample of them, at crowdPos; nil for a mesh.
	crowd       *mesh.KDTree
	crowdPos    []mesh.Vec32
	before      []surf  // found on coarser levels
	crowdRadius float64 // about a point of a surface that holds some of them, mm
}

func newSearcher(n *nodes, g *graph, tol *tolerance, jobs int, seed uint64) *searcher {
	s := &searcher{n: n, g: g, tol: tol, pitch: g.spacing() / reachPitch, seed: seed}
	// A node's normal says the more, beside its place, the wider the band.
	ncos := math.Cos((nodeTilt - tiltLess*min(1, tol.floor/(tiltNoise*s.pitch))) * math.Pi / 180)
	if tol.exact {
		ncos = -2 // any
	}
	s.label = make([]int32, n.len())
	for i := range s.label {
		s.label[i] = -1
	}
	s.tried = make([]bool, n.len())
	s.barren = make([]bool, n.len())
	s.spoilt = make([]bool, n.len())
	for range jobs {
		s.ws = append(s.ws, &worker{n: n, g: g, label: s.label, tol: tol, pitch: s.pitch, ncos: ncos,
			seen: make([]int32, n.len())})
	}
	return s
}

// candidate is the outcome of one trial.
type candidate struct {
	trial int
	seed  int32
	sups  []support // the competitors, best first; empty if the trial failed
}

// run searches for surfaces of at least minNodes nodes until every free node
// is a tried seed or part of a tried one's ring, or maxTrials are spent.
func (s *searcher) run(ctx context.Context, minNodes, maxTrials int) error {
	for i := range s.tried {
		s.tried[i], s.spoilt[i] = s.barren[i], false
	}
	rng := rand.New(rand.NewPCG(s.seed, uint64(minNodes)))
	order := rng.Perm(s.n.len())
	at, spent := 0, 0
	for spent < maxTrials {
		if err := ctx.Err(); err != nil {
			return err
		}
		size := batchSize
		if minNodes >= largeNodes || s.panels != nil || s.tol.exact {
			size = largeBatch
		}
		batch := make([]candidate, 0, size)
		for at < len(order) && len(batch) < size {
			i := s.n.lot[order[at]]
			at++
			if s.label[i] < 0 && !s.tried[i] && s.smooth[i] && (s.panels != nil || !s.beside(i)) {
				s.tried[i] = true
				batch = append(batch, candidate{trial: s.trials, seed: i})
				s.trials++
			}
		}
		if len(batch) == 0 {
			return nil
		}
		spent += len(batch)
		if s.exact != nil {
			s.exact.learn(s)
		}
		s.each(ctx, len(batch), func(w *worker, c int) { batch[c].sups = w.trial(batch[c].seed) })
		s.settle(ctx, batch, minNodes)
	}
	return ctx.Err()
}

// each calls f for 0 to n-1, each worker one at a time, until ctx ends.
func (s *searcher) each(ctx context.Context, n int, f func(w *worker, k int)) {
	_ = parallel.Workers(ctx, len(s.ws), n, 1, func(worker, k, _ int) error {
		f(s.ws[worker], k)
		return nil
	})
}

// grown returns what f grows of 0 to n-1, in their order.
func (s *searcher) grown(ctx context.Context, n int, f func(w *worker, k int) (support, bool)) (out []support) {
	sups, ok := make([]support, n), make([]bool, n)
	s.each(ctx, n, func(w *worker, k int) { sups[k], ok[k] = f(w, k) })
	for k := range sups {
		if ok[k] {
			out = append(out, sups[k])
		}
	}
	return out
}

// trial returns the surfaces that the surroundings of seed suggest, grown to
// trialLimit nodes, best first.
func (w *worker) trial(seed int32) []support {
	type bid struct {
		shape
		seeds []int32
		score float64
	}
	var bids []bid
	last := 0
	sizes, least, tries := nodePatches, patchLeast, patchTries
	if w.panels != nil {
		sizes, least, tries = panelPatches, panelLeast, panelTries
	} else if w.tol.exact {
		sizes, least = exactPatches, exactIn
	}
	for _, size := range sizes {
		w.collect(seed, size, &w.pat)
		if len(w.pat.nodes) < least || len(w.pat.pos) < least || len(w.pat.nodes) <= last {
			break
		}
		last = len(w.pat.nodes)
		if w.exact != nil {
			w.hyp = w.exact.samples(&w.pat, w.hyp[:0])
		} else {
			w.hyp = w.pat.hypotheses(w.hyp[:0])
		}
		band := w.tol.band(0)
		for _, h := range w.hyp {
			if w.panels != nil {
				var ok bool
				if h, ok = w.panels.sharpen(h, &w.pat); !ok {
					continue
				}
			}
			side := w.sideOf(&h, w.pat.nodes)
			var in []int32
			var score float64
			for _, i := range w.pat.nodes {
				if sc, ok := w.fits(&h, side, band, i); ok {
					in = append(in, i)
					score += sc
				}
			}
			if len(in) >= least && (w.tol.exact || patchOf*len(in) >= patchIn*len(w.pat.nodes)) {
				bids = append(bids, bid{h, in, score * h.prior()})
			}
		}
	}
	slices.SortStableFunc(bids, func(a, b bid) int { return cmp.Compare(b.score, a.score) })
	var sups []support
	var grown [4]bool
	for k, b := range bids {
		if len(sups) >= rivals && w.panels == nil || k >= tries {
			break
		}
		if grown[b.kind] {
			continue
		}
		// Where a wide patch laps over an edge, a narrower one may not.
		if sup, ok := w.grow(b.shape, b.seeds, trialLimit); ok {
			sups = append(sups, sup)
			grown[b.kind] = true
		}
	}
	sortSupports(sups)
	return sups
}

// value is what a support is ranked by.
func (s *support) value() float64 { return s.score * s.prior() }

// prior weighs the score of a kind against the others: the simpler shape wins
// where both explain the same nodes.
func (s *shape) prior() float64 {
	return priors[s.kind]
}

func sortSupports(sups []support) {
	slices.SortStableFunc(sups, func(a, b support) int {
		return cmp.Compare(b.value(), a.value())
	})
}

// settle takes the batch's candidates, best first, grows each to its full
// size, and keeps those that pass.
func (s *searcher) settle(ctx context.Context, batch []candidate, minNodes int) {
	live := batch[:0:0]
	for _, c := range batch {
		if len(c.sups) > 0 {
			live = append(live, c)
			continue
		}
		// What failed here will fail next door.
		s.barren[c.seed] = true
		if s.panels != nil {
			continue
		}
		for _, j := range s.g.of(c.seed) {
			if j >= 0 {
				s.tried[j], s.barren[j] = true, true
			}
		}
	}
	slices.SortStableFunc(live, func(a, b candidate) int {
		return cmp.Compare(b.sups[0].value(), a.sups[0].value())
	})
	for _, c := range live {
		if ctx.Err() != nil {
			return
		}
		if s.label[c.seed] >= 0 || s.spoilt[c.seed] {
			continue
		}
		// A run for smaller surfaces may take it, unless it grew and is none.
		grew := len(c.sups[0].nodes) >= min(minNodes, trialLimit)
		all, ns := c.sups[:1], c.sups[0].nodes
		if grew {
			all, ns = s.full(ctx, c.sups)
		}
		if grew && len(all) > 0 {
			all = append(all, s.others(ctx, &all[0])...)
			sortSupports(all)
			ns = all[0].nodes
		}
		k := slices.IndexFunc(all, func(sup support) bool {
			return grew && sup.score > rivalScore*all[0].score && s.accept(&sup)
		})
		if k < 0 || len(all[k].nodes) < minNodes {
			for _, i := range ns {
				s.tried[i] = true
				s.spoilt[i] = s.spoilt[i] || grew
				s.barren[i] = s.barren[i] || grew && len(all) == 0 && minNodes <= smallNodes
			}
			continue
		}
		s.keep(&all[k])
		if s.panels != nil && s.panels.m.noise > 0 {
			s.panels.surround(s, len(s.found)-1)
		}
	}
}

// others returns what else the nodes of sup could be: the kinds that it is not,
// fitted by least squares from a start of their own. The normals of a short
// patch hardly tell the taper of a cone from a tilt of a cylinder, the points
// of a full support do.
func (s *searcher) others(ctx context.Context, sup *support) []support {
	if sup.kind == planeKind || s.panels != nil {
		return nil
	}
	pts := slices.Clone(s.ws[0].sample(sup.nodes, otherSample))
	step := max(1, len(sup.nodes)/supportSample)
	var pat patch
	for k := 0; k < len(sup.nodes); k += step {
		pat.nodes = append(pat.nodes, sup.nodes[k])
	}
	s.ws[0].read(&pat)
	hyp := pat.hypotheses(nil)
	return s.grown(ctx, len(hyp), func(w *worker, k int) (out support, ok bool) {
		if hyp[k].kind == sup.kind {
			return out, false
		}
		f, err := fit.From(hyp[k].surface(), pts, fit.Options{MaxIter: otherSteps, ShapeOnly: true})
		h := shapeOf(f)
		if !usable(err) || !h.sane() {
			return out, false
		}
		var seeds []int32
		for _, i := range sup.nodes {
			if d, _ := h.at(s.n.at(i)); math.Abs(d) <= max(sup.band, sup.form) {
				seeds = append(seeds, i)
			}
		}
		if leastKept*len(seeds) < len(sup.nodes) {
			return out, false
		}
		return w.grow(h, seeds, s.n.len())
	})
}

// keep labels the nodes of sup as a surface found.
func (s *searcher) keep(sup *support) {
	id := int32(len(s.found))
	for _, i := range sup.nodes {
		s.label[i] = id
	}
	s.found = append(s.found, *sup)
}

// all returns the surfaces found so far, on this level and before.
func (s *searcher) all() (out []*surf) {
	for k := range s.before {
		out = append(out, &s.before[k])
	}
	for k := range s.found {
		s.found[k].count = len(s.found[k].nodes)
		out = append(out, &s.found[k].surf)
	}
	return out
}

// full grows a trial's supports without limit, over what is free by now, those that come
// near the first, and returns the best first. spent are the nodes of which no other trial
// need ask: those of the first, and what a plane took before it failed, as on a bowed face.
// Where a cylinder fails there may be a cone.
func (s *searcher) full(ctx context.Context, sups []support) (out []support, spent []int32) {
	spent = sups[0].nodes
	out = s.grown(ctx, len(sups), func(w *worker, k int) (sup support, ok bool) {
		if sups[k].score >= rivalScore*sups[0].score {
			sup, ok = w.full(sups[k])
		}
		if k == 0 && sup.kind == planeKind {
			spent = sup.nodes
		}
		return sup, ok
	})
	sortSupports(out)
	return out, spent
}

func (w *worker) full(sup support) (support, bool) {
	free := make([]int32, 0, len(sup.nodes))
	for _, i := range sup.nodes {
		if w.label[i] < 0 {
			free = append(free, i)
		}
	}
	if len(free) == len(sup.nodes) && len(free) < trialLimit && w.panels == nil {
		return sup, true
	}
	if leastKept*len(free) < len(sup.nodes) || len(free) < exactLeast && w.panels == nil {
		return sup, false
	}
	return w.grow(sup.shape, free, w.n.len())
}

// drop gives up a surface found, and frees its nodes.
func (s *searcher) drop(k int) {
	for _, i := range s.found[k].nodes {
		s.label[i] = -1
	}
	s.found[k].nodes = nil
}
