package segment

import "math"

// yield grows sup, a surface about a known axis, over the slices of it that were
// found before: a patch of a narrow ring or cone passes for part of a tilted plane or
// of a cylinder, until all of it is seen together. A slice is smaller, does not close
// around an axis, and most of it lies on sup. What of it does not is free again. It
// returns sup where there are none, or where nothing is gained.
func (s *searcher) yield(sup support) support {
	var slice []int
	lost := 0
	for k := range s.found {
		if f := &s.found[k]; 2*len(f.nodes) < len(sup.nodes) && s.sliceOf(f, &sup) {
			slice = append(slice, k)
			lost += len(f.nodes)
		}
	}
	if len(slice) == 0 {
		return sup
	}
	s.relabel(slice, true)
	wide, ok := s.ws[0].grow(sup.shape, sup.nodes, s.n.len())
	if !ok || float64(len(wide.nodes)-len(sup.nodes)) < yieldShare*float64(lost) {
		s.relabel(slice, false)
		return sup
	}
	for _, k := range slice {
		s.found[k].nodes = nil
	}
	return wide
}

// relabel frees the nodes of the surfaces found that are named, or gives them back.
func (s *searcher) relabel(ks []int, free bool) {
	for _, k := range ks {
		for _, i := range s.found[k].nodes {
			s.label[i] = int32(k)
			if free {
				s.label[i] = -1
			}
		}
	}
}

// sliceOf reports whether f is a slice of sup.
func (s *searcher) sliceOf(f, sup *support) bool {
	if len(f.nodes) == 0 || (f.kind == cylinderKind || f.kind == coneKind) && arcOf(s.positions(f.nodes), f.p, f.a) > wholeTurn {
		return false
	}
	step := max(1, len(f.nodes)/yieldSample)
	in, n := 0, 0
	for k := 0; k < len(f.nodes); k += step {
		n++
		d, m := sup.at(s.n.at(f.nodes[k]))
		if math.Abs(d) <= 1.5*sup.band && s.ws[0].agree(sup.side*m.Dot(s.n.nrm[f.nodes[k]].R3())) > s.ws[0].ncos {
			in++
		}
	}
	return float64(in) >= yieldShare*float64(n)
}
