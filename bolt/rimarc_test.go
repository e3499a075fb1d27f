package bolt

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Of arcs that run into each other none is taken, whatever lies between them in the
// list; those that only touch, or lie apart, are.
func TestArcsApart(t *testing.T) {
	at := func(x float64) *candidate { return &candidate{x: x, r: 1} }
	a, far, b, touching := at(0), at(20), at(1), at(22)
	assert.Equal(t, []*candidate{far, touching}, apartFrom(nil, []*candidate{a, far, b, touching}))
	assert.Equal(t, []*candidate{far, touching}, apartFrom(nil, []*candidate{far, a, b, touching}))
	assert.Equal(t, []*candidate{a}, apartFrom([]*candidate{far}, []*candidate{a, touching, at(20.5)})[:1])
	assert.Empty(t, apartFrom([]*candidate{far}, []*candidate{at(20.5)}))
}
