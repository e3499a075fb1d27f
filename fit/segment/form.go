package segment

import (
	"cmp"
	"context"
	"math"
	"slices"

	"spotface/mesh"
	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// A real surface leaves its ideal shape by its form: a bow, dents, cast texture. Form
// is what is smooth, so that it is followed from node to node: a link between two
// nodes is smooth if neither lies off the other's tangent plane, on the average of
// both. On any shape of constant curvature that is exact,
//
//	(p_j - p_i)·(n_i + n_j)/2 = 0
//
// A step or an outlier breaks the link; a crease turns the normals. So a surface with
// form is what smooth links reach, within a limit of height and of tilt about one
// shape.

// link marks the smooth links of the graph and averages the normals over them.
func (s *searcher) link(ctx context.Context) error {
	n, g := s.n, s.g
	g.smooth = make([]uint16, n.len())
	step := s.tol.floor
	err := parallel.Chunks(ctx, len(s.ws), n.len(), nodeChunk, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			p, m := n.at(int32(i)), n.nrm[i].R3()
			for k, j := range g.of(int32(i)) {
				if j < 0 {
					continue
				}
				v, o := n.at(j).Sub(p), n.nrm[j].R3()
				if m.Dot(o) > linkCos && math.Abs(v.Dot(m.Add(o))/2) <= step+stepSlope*v.Norm() {
					g.smooth[i] |= 1 << k
				}
			}
		}
	})
	n.avg = n.nrm
	for range smoothTurn {
		from, to := n.avg, make([]mesh.Vec32, n.len())
		if err == nil {
			err = parallel.Chunks(ctx, len(s.ws), n.len(), nodeChunk, func(lo, hi int) {
				for i := lo; i < hi; i++ {
					m := from[i].R3()
					sum := m
					for k, j := range g.of(int32(i)) {
						if g.smooth[i]>>k&1 == 1 {
							sum = sum.Add(from[j].R3())
						}
					}
					if l := sum.Norm(); l > 0 {
						sum = sum.Mul(1 / l)
					}
					to[i] = mesh.Vec32{float32(sum.X), float32(sum.Y), float32(sum.Z)}
				}
			})
		}
		n.avg = to
	}
	return err
}

// followForm grows s from seeds over smooth links, within limit of height, mm, and
// formTilt.
func (w *worker) followForm(s *shape, side, limit float64, seeds []int32, most int, out []int32) []int32 {
	cos := math.Cos(formTilt)
	band := w.tol.floor
	return w.flood(seeds, most, out, func(i, j int32, k int) bool {
		d, n := s.at(w.n.at(j))
		d, c := math.Abs(d), side*n.Dot(w.n.avg[j].R3())
		if d > limit || c < cos && (d > band || c < w.ncos) {
			return false
		}
		if d > band && k >= 0 && w.g.smooth[i]>>k&1 == 0 {
			w.seen[j] = 0 // another link may be smooth
			return false
		}
		return true
	})
}

// rateForm is the score of a surface with form: its nodes, less those that are tilted;
// zero if most are tilted more than form is. Along the edges, which scanners round,
// normals lean, so that the median counts: of squares of the angle it is ln 2 of their
// mean where both parts of the angle are normal.
func (w *worker) rateForm(sup *support) float64 {
	var score float64
	w.dist = w.dist[:0]
	for _, i := range sup.nodes {
		_, n := sup.at(w.n.at(i))
		t2 := 2 * (1 - sup.side*n.Dot(w.n.avg[i].R3())) // the angle's square
		w.dist = append(w.dist, t2)
		score += max(0, 1-t2/(formTilt*formTilt))
	}
	if !w.tol.plausible(sup.rms) && geom.Nth(w.dist, len(w.dist)/2) > math.Ln2*meanTilt*meanTilt {
		return 0
	}
	return score
}

// withForm looks for surfaces with form of at least minNodes nodes: what was found
// without grows on, where its border is smooth, over what is free and over pieces
// of the same; then the free nodes are searched.
func (s *searcher) withForm(ctx context.Context, minNodes, trials int) error {
	for _, w := range s.ws {
		w.form = true
		defer func() { w.form = false }()
	}
	order := make([]int, len(s.found))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(len(s.found[b].nodes), len(s.found[a].nodes))
	})
	for _, k := range order {
		if err := ctx.Err(); err != nil {
			return err
		}
		if len(s.found[k].nodes) >= formLeast {
			s.extend(k)
		}
	}
	// Where nothing grew without form, something may with it.
	barren := s.barren
	s.barren = make([]bool, len(barren))
	defer func() { s.barren = barren }()
	// What passes for a slice without form may be part of a surface with it.
	s.fade()
	slices := map[int][]int32{}
	for k := range s.found {
		if f := &s.found[k]; f.fades {
			slices[k] = f.nodes
			s.drop(k)
		}
	}
	err := s.run(ctx, max(minNodes, formLeast), trials)
	for k, ns := range slices {
		f := &s.found[k]
		for _, i := range ns {
			if s.label[i] < 0 {
				f.nodes = append(f.nodes, i)
			}
		}
		if float64(len(f.nodes)) < bitShare*float64(len(ns)) {
			f.nodes = nil
		}
		for _, i := range f.nodes {
			s.label[i] = int32(k)
		}
	}
	return err
}

// extend lets surface k grow with form over what is free and over surfaces that are
// pieces of the same one, and keeps the result if it is a surface.
func (s *searcher) extend(k int) {
	f, w := &s.found[k], s.ws[0]
	pieces := s.piecesOf(k)
	pieces[k] = true
	w.pieces = pieces
	defer func() { w.pieces = nil }()
	sup, ok := w.grow(f.shape, f.nodes, s.n.len())
	if !ok {
		return
	}
	taken := make([]int, len(s.found))
	for _, i := range sup.nodes {
		if l := s.label[i]; l >= 0 {
			taken[l]++
		}
	}
	if float64(len(sup.nodes)) < extendGain*float64(len(f.nodes)) || !s.accept(&sup) {
		return
	}
	for l := range s.found {
		if l == k || pieces[l] && taken[l] > 0 {
			s.drop(l)
		}
	}
	for _, i := range sup.nodes {
		s.label[i] = int32(k)
	}
	s.found[k] = sup
}

// piecesOf says of each surface found whether it may be a piece of the same as k: of its
// kind, and touching it, or another piece, on smooth links.
func (s *searcher) piecesOf(k int) []bool {
	link := make([]int, len(s.found))
	out := make([]bool, len(s.found))
	reached := map[int]bool{k: true}
	for todo := []int{k}; len(todo) > 0; todo = todo[1:] {
		clear(link)
		for _, i := range s.found[todo[0]].nodes {
			for e, j := range s.g.of(i) {
				if j >= 0 && s.g.smooth[i]>>e&1 == 1 && s.label[j] >= 0 {
					link[s.label[j]]++
				}
			}
		}
		for l, n := range link {
			if n > linksLeast && !reached[l] && s.found[l].kind == s.found[k].kind {
				out[l] = true
				reached[l] = true
				todo = append(todo, l)
			}
		}
	}
	return out
}

// offsets returns how far the form lifts each node of a surface with form off its
// shape, mm, averaged over its neighbours; zero for other nodes.
func (s *searcher) offsets() []float32 {
	out := make([]float32, s.n.len())
	for k := range s.found {
		f := &s.found[k]
		if f.form == 0 {
			continue
		}
		for _, i := range f.nodes {
			sum, n := 0.0, 0
			add := func(j int32) {
				d, _ := f.at(s.n.at(j))
				sum += d
				n++
			}
			add(i)
			for _, j := range s.g.of(i) {
				if j >= 0 && s.label[j] == int32(k) {
					add(j)
				}
			}
			out[i] = float32(sum / float64(n))
		}
	}
	return out
}
