package forecast

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// One trial: simulating, measuring and checking a scan.
func BenchmarkTrial(b *testing.B) {
	p := planOf(b, shallow)
	for _, kind := range []Kind{Mesh, Cloud} {
		b.Run(string(kind), func(b *testing.B) {
			l, err := layOut(p, 0, 0.8)
			require.NoError(b, err)
			s, err := newScanner(b.Context(), l.part(), kind, 0.02, 0.4, 0.8)
			require.NoError(b, err)
			points, seed := 0, uint64(0)
			for b.Loop() {
				seed++
				o, err := trial(b.Context(), l.plan, s, seed)
				require.NoError(b, err)
				points += o.points
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(points), "ns/pt")
		})
	}
}
