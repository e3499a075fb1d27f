package mesh

import "math"

// Within appends to buf the points within radius mm (inclusive) of q, in an
// order that is the same for the same points and q. It allocates only where
// buf is too short. Safe for concurrent use.
func (ix *Index) Within(q Vec32, radius float32, buf []int32) []int32 {
	if !(radius >= 0) || len(ix.slots) == 0 {
		return buf
	}
	limit := min(float32(math.MaxFloat32), float32(radius*radius))
	var stack [maxDepth]branch
	for top := 0; top >= 0; top-- {
		var leaf int
		leaf, top = ix.descend(q, limit, &stack, top)
		for _, s := range ix.slots[ix.start(leaf):ix.start(leaf+1)] {
			if squared(q[0]-s.v[0], q[1]-s.v[1], q[2]-s.v[2]) <= limit {
				buf = append(buf, s.i)
			}
		}
	}
	return buf
}
