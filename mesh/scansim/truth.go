package scansim

// Truth is what is exactly true of a simulated scan, in the scan's frame.
type Truth struct {
	Pose     Pose // from the part's frame
	Faces    []Face
	Holes    []Hole
	Patterns []PatternTruth
	// Labels holds the face id of each triangle of a mesh or point of a cloud,
	// or LabelEdge or LabelOutlier.
	Labels []uint16
	// Count of the items that each face has; Count[0] is of edges.
	Count []int
	// Noise is the standard deviation across the surface, mm.
	Noise float64
	// Voxel of a fused mesh, mm.
	Voxel float64
	part  *Part
}

// Face returns the face with the given id; its ID is 0 if there is none.
func (t *Truth) Face(id uint16) Face {
	if id == 0 || int(id) > len(t.Faces) {
		return Face{}
	}
	return t.Faces[id-1]
}

// newTruth carries the part's truth to the scan's frame.
func newTruth(p *Part, faces []Face, g Pose) Truth {
	t := Truth{Pose: g, part: p}
	for _, f := range faces {
		t.Faces = append(t.Faces, f.moved(g))
	}
	for _, h := range p.Holes {
		h.Centre, h.Axis, h.Direction = g.Apply(h.Centre), g.Turn(h.Axis), g.Turn(h.Direction)
		t.Holes = append(t.Holes, h)
	}
	for _, b := range p.Patterns {
		b.Centre, b.Axis, b.X = g.Apply(b.Centre), g.Turn(b.Axis), g.Turn(b.X)
		t.Patterns = append(t.Patterns, b.truth(t.Holes))
	}
	return t
}

// label stores the labels and counts them.
func (t *Truth) label(labels []uint16) {
	t.Labels = labels
	t.Count = make([]int, len(t.Faces)+1)
	for _, l := range labels {
		if l != LabelOutlier {
			t.Count[l]++
		}
	}
}
