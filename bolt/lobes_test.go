package bolt

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A square of rounded corners stands out from its circle by c (|cos t| + |sin t|), c its
// half side less the corners' radius: the Fourier series of |cos t| is 2/π + 4/π Σ
// (-1)^(k+1) cos 2kt / (4k² - 1) (textbook, from memory), so that its four lobes are
// 8c/15π high.
func TestLobesOfARoundedSquare(t *testing.T) {
	for _, c := range []float64{0, 0.2, 1} {
		var pts [][2]float64
		d := disc{r: 4 + 4*c/math.Pi}
		for i := range 360 {
			sin, cos := math.Sincos(float64(i) * math.Pi / 180)
			r := 4 + c*(math.Abs(cos)+math.Abs(sin))
			pts = append(pts, [2]float64{r * cos, r * sin})
			d.weight = append(d.weight, 1)
		}
		assert.InDelta(t, 8*c/(15*math.Pi), d.lobes(pts), 1e-4*c+1e-9)
	}
}

// Of an arc, what it does not show does not count: at most its own amplitude.
func TestLobesOfAnArc(t *testing.T) {
	var pts [][2]float64
	d := disc{r: 4}
	for i := range 120 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 180)
		r := 4 + 0.1*math.Cos(2*float64(i)*math.Pi/180)
		pts = append(pts, [2]float64{r * cos, r * sin})
		d.weight = append(d.weight, 1)
	}
	assert.Less(t, d.lobes(pts), 0.15)
}

// A long opening that is no slot to be measured is told of, not passed over.
func TestSlotThatCannotBeMeasured(t *testing.T) {
	fc := &face{id: "P7"}
	end := func(x, r float64) *candidate {
		c := &candidate{face: fc, x: x, r: r, series: arcSeries{radius: r}}
		for k := range 3 {
			c.cov[k][k] = 1e-6
		}
		return c
	}
	s := slot{ends: [2]*candidate{end(-4, 3), end(4, 3.5)}}
	_, ok := s.hole()
	assert.False(t, ok)
	assert.Contains(t, s.warning(), "about 6.5 mm wide in face P7 at 0.0, 0.0, 0.0")
	_, ok = (&slot{ends: [2]*candidate{{face: fc}, {face: fc}}}).hole()
	assert.False(t, ok, "no covariance")
}
