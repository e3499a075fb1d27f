package sizes

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestLargestFastener(t *testing.T) {
	for _, c := range []struct {
		most   float64
		inches bool
		want   string
	}{
		{6.61, false, "M6"}, {6.61, true, "1/4 in"}, {6, false, "M5"},
		{7.5, false, "M6"}, {100, false, "M64"}, {5.3, true, "#10"},
	} {
		f, ok := LargestFastener(c.most, c.inches)
		assert.True(t, ok)
		assert.Equal(t, c.want, f.Name)
	}
	_, ok := LargestFastener(1.6, false)
	assert.False(t, ok)
	assert.True(t, Inch(7.14, 0.02), "9/32 in for 1/4 in")
	assert.False(t, Inch(6.61, 0.02), "6.6 for M6")
}

// ISO 273 medium and ISO 2306; ASME B18.2.8 normal.
func TestHolesOfAFastener(t *testing.T) {
	f, ok := FastenerOf(6.1, 0.25)
	assert.True(t, ok)
	clear, tap := f.Holes()
	assert.Equal(t, []float64{6.6, 5}, []float64{clear, tap}, f.Name)
	f, ok = FastenerOf(6.35, 0.01)
	assert.True(t, ok)
	clear, tap = f.Holes()
	assert.InDelta(t, 0.2813*25.4, clear, 1e-9, f.Name)
	assert.Zero(t, tap)
	_, ok = FastenerOf(6.2, 0.01)
	assert.False(t, ok)
}

func TestDrill(t *testing.T) {
	for _, c := range []struct {
		least  float64
		inches bool
		want   string
	}{
		{6.61, false, "6.7 mm"}, {6.6, false, "6.6 mm"}, {14.02, false, "14.5 mm"},
		{6.9, true, "9/32 in"}, {25.4, true, "1 in"},
	} {
		d, name := Drill(c.least, c.inches)
		assert.Equal(t, c.want, name)
		assert.GreaterOrEqual(t, d, c.least-1e-9)
	}
}
