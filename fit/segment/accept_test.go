package segment

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"

	"spotface/mesh"
)

// A trial's support, 1,200 nodes at the pitch of 0.3 mm, still growing: as wide as
// ten nodes of the level before or more it is a slice; a long strip may be what that
// level was too coarse for; and the first level has none before it.
func TestWideSupportsAreNotGrownAgain(t *testing.T) {
	flat := func(width float64) (*searcher, *support) {
		n := &nodes{}
		sup := &support{shape: shape{kind: planeKind, a: r3.Vector{Z: 1}}}
		across := int(width / 0.3)
		for i := range trialLimit {
			n.pos = append(n.pos, mesh.Vec32{0.3 * float32(i%across), 0.3 * float32(i/across), 0})
			sup.nodes = append(sup.nodes, int32(i))
		}
		return &searcher{n: n, coarse: 0.6}, sup
	}
	s, wide := flat(9)
	assert.True(t, s.searched(wide))
	wide.nodes = wide.nodes[:trialLimit-1]
	assert.False(t, s.searched(wide), "ends of itself")
	s, narrow := flat(5)
	assert.False(t, s.searched(narrow))
	s, first := flat(9)
	s.coarse = 0
	assert.False(t, s.searched(first))
}
