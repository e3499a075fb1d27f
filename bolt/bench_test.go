package bolt

import (
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
)

// BenchmarkMeasure reports ns a point of a scan with six walls and their rims.
func BenchmarkMeasure(b *testing.B) {
	s, truth, err := scansim.Fused(b.Context(), scansim.KettlePort(), scansim.FusedOptions{Seed: 1, Voxel: 0.3, Noise: 0.02, Missing: 0.03})
	require.NoError(b, err)
	seg, err := labelled(s, truth)
	require.NoError(b, err)
	for b.Loop() {
		_, err := Measure(b.Context(), s, seg, Options{})
		require.NoError(b, err)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(s.Len()), "ns/pt")
}
