package bolt

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Twelve points of the mesh make a rim: of an open edge each is one, of places
// where a row of triangles crosses the edge there are two for each.
func TestBrinkCountsPointsOfTheMesh(t *testing.T) {
	b := brink{open: 3}
	idx := []int32{0, 2, 3, 4, 5, 6, 7}
	assert.Equal(t, 4.5, b.count(idx, []float64{1, 0.4, 1, 1, 1, 1, 1}))
	assert.Equal(t, 3.0, b.count(idx, []float64{1, 0, 1, 1, 1, 1, 0}))
}
