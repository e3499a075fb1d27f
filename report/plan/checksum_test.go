package plan

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestChecksumTellsPlansApartThatJudgeDifferently(t *testing.T) {
	const text = `part: ring
unit: mm
scanner: {length: {a: 0.02, b: 0.00004}, temperature: {part: 24, u: 1, expansion: 11.5e-6, expansion_u: 1e-6}}
bolt_circles:
  - {id: B1, count: 6, spacing: {band: [-0.25, .inf]}, hole_diameter: {nominal: 6.6, band: +-0.1}}
planes: [{id: P1, flatness: 0.3}]
`
	sum := func(text string) string {
		p, err := Parse("port.yaml", []byte(text))
		require.NoError(t, err)
		s, err := p.Checksum()
		require.NoError(t, err)
		return s
	}
	same := sum(text)
	assert.Equal(t, same, sum("# a comment\n"+text))
	other, err := Parse("other.yaml", []byte(text))
	require.NoError(t, err)
	s, err := other.Checksum()
	require.NoError(t, err)
	assert.Equal(t, same, s, "the file's name does not count")
	seen := map[string]string{same: "as it is"}
	for _, change := range [][2]string{{"part: ring", "part: lid"}, {"count: 6", "count: 5"},
		{"-0.25, .inf", "-0.25, 0.25"}, {"nominal: 6.6", "nominal: 6.61"}, {"+-0.1", "[-0.1, 0.2]"},
		{"flatness: 0.3", "flatness: 0.31"}, {"a: 0.02", "a: 0.03"}, {"part: 24", "part: 25"},
		{"unit: mm", "unit: mm\nmates: true"}, {"unit: mm", "unit: mm\ndecision: simple-acceptance"},
		{"unit: mm", "unit: mm\nframe: {clock: B1/2}"}, {"{id: P1", "{id: P1, at: [0, 0, 1]"}} {
		require.Contains(t, text, change[0])
		s := sum(strings.Replace(text, change[0], change[1], 1))
		assert.Empty(t, seen[s], "%s differs from %s", change[1], seen[s])
		seen[s] = change[1]
	}
}
