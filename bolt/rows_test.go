package bolt

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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

// The slopes of a wall's bins are those of lines of least squares through their rows,
// 1, 2, ... 5 and noise-free here, in units of which the squares sum to 1/5; and their
// covariance is that of the rows' covariances.
func TestSlopesOfAWall(t *testing.T) {
	const rows, height, radius = 5, 0.8, 4.0
	s := arcSeries{radius: radius, depth: rows * height, rows: rows}
	for b := range arcBins {
		for i := range rows {
			s.cells = append(s.cells, cell{theta: (float64(b) + 0.5) * 2 * math.Pi / arcBins, y: 0.01 * float64(b/2) * float64(i), n: 3, row: i})
		}
	}
	w, ok := s.slopes()
	require.True(t, ok)
	k := kernel{length: 1}
	laid := k.layRows(radius, height, rows, mostBins)
	got := w.turns(laid)
	for b, y := range w.y {
		assert.InDelta(t, 0.01*float64(b)*10/math.Sqrt(50), y, 1e-12)
		assert.InDelta(t, 6*5, w.n[b], 1e-9, "as many points as the mean has")
	}
	line := []float64{-2, -1, 0, 1, 2}
	for _, step := range []int{0, 8, 24} {
		var want float64
		for i, p := range line {
			for j, q := range line {
				want += p * q / 50 * laid[max(i-j, j-i)][step]
			}
		}
		assert.InDelta(t, want, got[step], 1e-14)
	}
}
