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
		b := stack[top]
		top = ix.descend(q, &b, limit, &stack, top)
		leaf := int(b.node) - len(ix.splits)
		for _, s := range ix.slots[ix.start(leaf):ix.start(leaf+1)] {
			if squared(q[0]-s.v[0], q[1]-s.v[1], q[2]-s.v[2]) <= limit {
				buf = append(buf, s.i)
			}
		}
	}
	return buf
}

// descend leads b to the leaf on q's side of every split and stacks the other
// sides that are within limit. It returns the new top of the stack.
func (ix *Index) descend(q Vec32, b *branch, limit float32, stack *[maxDepth]branch, top int) int {
	for b.node < uint32(len(ix.splits)) {
		s := ix.splits[b.node]
		axis := s.axis % 3
		d := q[axis] - s.at
		far := *b
		far.out[axis] = d
		if d < 0 {
			far.node, b.node = 2*b.node+2, 2*b.node+1
		} else {
			far.node, b.node = 2*b.node+1, 2*b.node+2
		}
		if squared(far.out[0], far.out[1], far.out[2]) <= limit {
			stack[top] = far
			top++
		}
	}
	return top
}
