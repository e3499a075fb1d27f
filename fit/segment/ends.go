package segment

import "math"

// fade marks the surfaces found that are no faces of their own but slices of
// something that bends on: a freeform surface, a fillet. A face ends in edges,
// or at another face that does; the surface around a slice goes on smoothly.
// Walls that close around their axis are faces wherever they end.
//
// Some steps beyond the border the nodes are looked at. Such a node goes on
// smoothly if its normal is near the surface's and it lies no farther off than
// nodes are apart. It does not if it belongs to another face of twice the size or
// more: slices must not make faces of one another.
func (s *searcher) fade() {
	face := make([]bool, len(s.found))
	rings := make([][]int32, len(s.found))
	total := make([]int, len(s.found))
	for k := range s.found {
		f := &s.found[k]
		// The top of a dome passes for a flat cone, which closes round its axis.
		if f.kind == cylinderKind || f.kind == coneKind && f.cos > flatCone {
			face[k] = arcOf(s.positions(f.nodes), f.p, f.a) > wholeTurn
		}
		if !face[k] {
			rings[k], total[k] = s.ring(int32(k))
		}
	}
	for changed := true; changed; {
		changed = false
		for k := range s.found {
			if face[k] {
				continue
			}
			on := 0
			for _, j := range rings[k] {
				if l := s.label[j]; l < 0 || !face[l] ||
					len(s.found[l].nodes) < fadeLarger*len(s.found[k].nodes) {
					on++
				}
			}
			least := fadeBorder * math.Sqrt(float64(len(s.found[k].nodes)))
			if float64(on) <= fadeShare*max(float64(total[k]), least) {
				face[k], changed = true, true
			}
		}
	}
	for k := range s.found {
		s.found[k].fades = !face[k]
	}
}

// ring returns the nodes some steps beyond the border of surface k that go on
// from it smoothly, and the number of all nodes there.
func (s *searcher) ring(k int32) (on []int32, total int) {
	w := s.ws[0]
	f := &s.found[k]
	w.stamp++
	for _, i := range f.nodes {
		w.seen[i] = w.stamp
	}
	layer := f.nodes
	for range ringSteps {
		var next []int32
		for _, i := range layer {
			for _, j := range s.g.of(i) {
				if j >= 0 && w.seen[j] != w.stamp {
					w.seen[j] = w.stamp
					next = append(next, j)
				}
			}
		}
		layer = next
	}
	far := max(fadeForm*f.form, s.pitch)
	for _, j := range layer {
		d, n := f.at(s.n.at(j))
		if math.Abs(d) <= far && f.side*n.Dot(s.n.nrm[j].R3()) > fadeCos {
			on = append(on, j)
		}
	}
	return on, len(layer)
}
