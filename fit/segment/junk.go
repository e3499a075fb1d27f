package segment

import "spotface/mesh"

// junkOf marks the points of a mesh that lie on small closed pieces afloat: dust and
// reflections that the scanner closed into a blob. Small pieces with an open edge may be
// a face whose walls were not seen. It returns nil for a cloud, and where no piece is small.
func junkOf(s *mesh.Scan) []bool {
	if !s.IsMesh() {
		return nil
	}
	label, sizes := mesh.ConnectedComponents(s)
	small := make([]bool, len(sizes))
	any := false
	for l := 1; l < len(sizes); l++ {
		small[l] = float64(sizes[l]) < junkShare*float64(len(s.Triangles))
		any = any || small[l]
	}
	if !any {
		return nil
	}
	edges := map[[2]int32]int{} // of small pieces, both ways as one: triangles on it
	for _, c := range s.Triangles {
		if small[label[c[0]]] {
			for k := range 3 {
				a, b := c[k], c[(k+1)%3]
				edges[[2]int32{min(a, b), max(a, b)}]++
			}
		}
	}
	open := make([]bool, len(sizes))
	for e, n := range edges {
		if n == 1 {
			open[label[e[0]]] = true
		}
	}
	out := make([]bool, len(label))
	for i, l := range label {
		out[i] = small[l] && !open[l]
	}
	return out
}
