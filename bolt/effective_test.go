package bolt

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Bins' means under a kernel: on a circle of 24 bins, the mean covariance of two
// bins of an exponential kernel by brute force.
func TestTurnsAreMeansOverBins(t *testing.T) {
	const radius, fine = 4.0, 400
	for _, k := range []kernel{{length: 1}, {length: 2, short: 0.5}, {waves: waves{length: []float64{1}, share: []float64{1}}}} {
		c := k.turns(radius, 0)
		for _, apart := range []int{0, 1, 5, 12} {
			var want float64
			for i := range fine {
				for j := range fine {
					a := 2 * math.Pi / mostBins * (float64(apart) + float64(i-j)/fine)
					want += k.at(2*radius*math.Abs(math.Sin(a/2)), 0) / (fine * fine)
				}
			}
			assert.InDelta(t, want, c[apart*2*turnSteps/mostBins], 8e-3)
		}
	}
}

// The mean of the exponential kernel over two rows' depth.
func TestKernelOverDepth(t *testing.T) {
	const fine = 2000
	k := kernel{length: 0.8}
	for _, across := range []float64{0, 0.3, 2} {
		var want float64
		for i := range fine {
			u := (float64(i) + 0.5) / fine
			want += 2 * (1 - u) * math.Exp(-math.Hypot(across, 5*u)/0.8) / fine
		}
		assert.InDelta(t, want, k.at(across, 5), 2e-3)
	}
}

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
