package mesh_test

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"

	"spotface/mesh"
)

// A quarter turn about Z, by hand: what lay on the scan's Y lies on the frame's X.
func TestInAFrame(t *testing.T) {
	s := &mesh.Scan{Origin: r3.Vector{X: 10, Y: 20, Z: 30}, Offsets: []mesh.Vec32{{0, 5, 0}},
		Normals: []mesh.Vec32{{1, 0, 0}}}
	in := s.In(r3.Vector{X: 10, Y: 20}, r3.Vector{Y: 1}, r3.Vector{X: -1}, r3.Vector{Z: 1})
	assert.Equal(t, r3.Vector{X: 5, Y: 0, Z: 30}, in.Point(0))
	assert.Equal(t, mesh.Vec32{0, -1, 0}, in.Normals[0])
	assert.Equal(t, r3.Vector{X: 10, Y: 25, Z: 30}, s.Point(0), "the scan stays")
}
