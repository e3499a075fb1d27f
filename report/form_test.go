package report

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"spotface/fit/segment"
)

// A bow as long as its face is said to be the sum of the part's and the scanner's.
func TestLongFormIsWarnedOf(t *testing.T) {
	seg := &segment.Segmentation{Surfaces: []segment.Surface{
		{ID: "P1", Form: segment.Form{Kind: segment.Saddle}},
		{ID: "P2", Form: segment.Form{Kind: segment.Texture}},
	}}
	b := builder{seg: seg}
	assert.Contains(t, b.longForm()[0], "The bow of P1 may")
	seg.Surfaces = seg.Surfaces[1:]
	assert.Empty(t, b.longForm())
}
