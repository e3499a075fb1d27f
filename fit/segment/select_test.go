package segment

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/mesh/geom"
)

// The order of a sorted copy is the outside check.
func TestNthIsWhatSortingGives(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for n := 1; n < 3000; n += 1 + n/7 {
		for _, kinds := range []int{1, 2, 10, 1 << 40} { // values that occur, many alike
			a := make([]float64, n)
			for i := range a {
				a[i] = float64(rng.IntN(kinds)) - 3
			}
			sorted := slices.Sorted(slices.Values(a))
			for _, k := range []int{0, n / 20, n / 2, n * 19 / 20, n - 1} {
				b := slices.Clone(a)
				require.Equal(t, sorted[k], geom.Nth(b, k), "n %d, k %d", n, k)
				lo, hi := quantiles(b, k/2, k)
				require.Equal(t, [2]float64{sorted[k/2], sorted[k]}, [2]float64{lo, hi})
				require.Equal(t, sorted, slices.Sorted(slices.Values(b)), "none lost")
			}
			// In order, and the other way.
			b := slices.Clone(sorted)
			require.Equal(t, sorted[n/3], geom.Nth(b, n/3))
			slices.Sort(b)
			slices.Reverse(b)
			require.Equal(t, sorted[n/3], geom.Nth(b, n/3))
		}
	}
}
