package segment

import (
	"context"

	"spotface/mesh"
)

// junkOf marks the points of a mesh that lie on small closed pieces afloat: dust and
// reflections that the scanner closed into a blob. Small pieces with an open edge may be
// a face whose walls were not seen. It returns nil for a cloud, and where no piece is small.
func junkOf(ctx context.Context, s *mesh.Scan, jobs int) ([]bool, error) {
	if !s.IsMesh() {
		return nil, nil
	}
	label, sizes := mesh.ConnectedComponents(s)
	small := make([]bool, len(sizes))
	any := false
	for l := 1; l < len(sizes); l++ {
		small[l] = float64(sizes[l]) < junkShare*float64(len(s.Triangles))
		any = any || small[l]
	}
	if !any {
		return nil, nil
	}
	loops, err := mesh.BoundaryLoops(ctx, s, jobs)
	if err != nil {
		return nil, err
	}
	open := make([]bool, len(sizes))
	for _, l := range loops {
		open[label[l.Points[0]]] = true
	}
	out := make([]bool, len(label))
	for i, l := range label {
		out[i] = small[l] && !open[l]
	}
	return out, nil
}
