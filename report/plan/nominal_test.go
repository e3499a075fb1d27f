package plan

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/bolt/sizes"
)

// ISO 2768-1:1989, table 1, class m, as in testdata.
func TestGeneralTolerance(t *testing.T) {
	b, err := os.ReadFile("../../testdata/report/table-iso2768-1.json")
	require.NoError(t, err)
	var ref struct {
		Rows map[string][4]*float64 `json:"linear_nominal_over_to"`
	}
	require.NoError(t, json.Unmarshal(b, &ref))
	for length, row := range map[float64]string{
		1: "0.5-3", 3: "0.5-3", 5: "3-6", 6: "3-6", 6.1: "6-30", 30: "6-30", 31: "30-120", 120: "30-120",
		121: "120-400", 400: "120-400", 401: "400-1000", 1500: "1000-2000", 3000: "2000-4000",
	} {
		require.Contains(t, ref.Rows, row)
		assert.Equal(t, *ref.Rows[row][1], generalTolerance(length), "%g mm", length)
	}
}

func TestProbableSize(t *testing.T) {
	for _, row := range []struct {
		kind              sizes.Kind
		measured, u, want float64
		words             string
	}{
		{sizes.PitchDiameter, 84.06, 0.02, 84, "0.06 above 84: whole millimetre, "},
		{sizes.Hole, 6.61, 0.02, 6.6, "0.01 above 6.6: clearance for M6 (ISO 273 medium), "},
		{sizes.Hole, 5, 0.02, 5, ": whole millimetre (ISO 3 R10) or tapped M6 (drill of ISO 2306), "},
		{sizes.Bore, 40.02, 0.01, 40, "0.02 above 40: whole"},
		{sizes.Bore, 12.48, 0.01, 12.5, "0.02 below 12.5: half a"},
		{sizes.Hole, 6.35, 0.004, 6.35, ": 1/4 in (inch fraction), "},
		{sizes.Hole, 7.15, 0.02, 7.145, "0.005 above 7.145: clearance for 1/4 in (ASME B18.2.8 normal)"},
		{sizes.PitchDiameter, 97.354, 0.01, 97.35, "no clear standard size"},
		{sizes.Hole, 6.154, 0.01, 6.15, "no clear standard size"},
	} {
		got, words := (&draft{mm: 1}).probableSize(sizes.Candidates(row.kind, row.measured, row.u/2), row.measured)
		assert.Equal(t, row.want, got, "%g", row.measured)
		assert.Contains(t, words, row.words)
	}
}
