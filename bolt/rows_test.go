package bolt

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Means of the kernel over two rows by brute force.
func TestRowsOfAKernel(t *testing.T) {
	const fine, height = 400, 0.6
	for _, k := range []kernel{{length: 1}, {waves: waves{length: []float64{0.7}, share: []float64{1}}}} {
		for _, across := range []float64{0, 0.5, 2} {
			for lag := range 4 {
				var want float64
				for i := range fine {
					for j := range fine {
						d := height * (float64(lag) + float64(i-j)/fine)
						want += k.at(math.Hypot(across, d), 0) / (fine * fine)
					}
				}
				assert.InDelta(t, want, k.rowsAt(across, height, lag), 2e-3, "%v %d", across, lag)
			}
		}
	}
}

// The polynomials are those of Chebyshev's discrete kind (Abramowitz and Stegun,
// Handbook of mathematical functions, 22.17, from memory): of five points -2 ... 2 and
// 2, -1, -2, -1, 2.
func TestPolynomialsOverRows(t *testing.T) {
	p := polynomials(5)
	for i, want := range []float64{-2, -1, 0, 1, 2} {
		assert.InDelta(t, want/math.Sqrt(50), p[0][i], 1e-14)
	}
	for i, want := range []float64{2, -1, -2, -1, 2} {
		assert.InDelta(t, want/math.Sqrt(70), p[1][i], 1e-14)
	}
}

// What a wall's slope and bow have of noise of known kernel is what they state: the
// variance of their bins, by the cells' covariances.
func TestRowSeriesCovariance(t *testing.T) {
	const rows, height, radius = 5, 0.8, 4.0
	k := kernel{length: 1}
	laid := k.layRows(radius, height, rows, mostBins)
	for _, p := range polynomials(rows) {
		got := rowSeries{poly: p, height: height}.turns(laid)
		for _, step := range []int{0, 8, 24} {
			var want float64
			for i := range rows {
				for j := range rows {
					want += p[i] * p[j] * laid[max(i-j, j-i)][step]
				}
			}
			assert.InDelta(t, want, got[step], 1e-15)
		}
		assert.Less(t, got[0], 0.6*laid[0][0])
	}
}
