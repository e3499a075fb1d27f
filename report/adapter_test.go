package report_test

import (
	"math"
	"strings"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
)

// ringPattern is n holes of the diameter on a circle, the first on +x.
func ringPattern(name string, n int, pitch, hole float64) *report.Pattern {
	var ids []string
	var xy [][2]float64
	var d []float64
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		ids, xy, d = append(ids, string(rune('a'+i))), append(xy, [2]float64{pitch / 2 * cos, pitch / 2 * sin}), append(d, hole)
	}
	return report.NewPattern(name, ids, xy, d)
}

func adapter(t *testing.T, a, b *report.Pattern, opt report.AdapterOptions) (*report.Adapter, error) {
	t.Helper()
	up, err := report.NewBoltUp(t.Context(), a, b, report.BoltUpOptions{})
	require.NoError(t, err)
	return report.NewAdapter(a, b, up, report.BoltUpOptions{}, opt)
}

// Clearance holes of ISO 273 medium and drills for tapping of ISO 2306; the rest by hand.
func TestAdapter(t *testing.T) {
	port, sensor := ringPattern("port", 6, 84, 6.6), ringPattern("sensor", 4, 60, 5.5)
	port.Bore, sensor.Bore = &report.AdapterBore{Diameter: 40}, &report.AdapterBore{XY: [2]float64{1, 0}, Diameter: 39}
	ad, err := adapter(t, port, sensor, report.AdapterOptions{Thickness: 8})
	require.NoError(t, err)
	// The rings' angles are 30 degrees apart at most, so that 15 is the best: by the law of
	// cosines.
	assert.InDelta(t, math.Sqrt(42*42+30*30-2*42*30*math.Cos(math.Pi/12))-(5+4.2)/2, ad.Web, 1e-9)
	assert.InDelta(t, 15, math.Mod(ad.TurnDeg, 30), 1e-6)
	assert.InDelta(t, 2*(42+2.5+6), ad.Outside, 1e-9)
	// Circles of 40 and 39 whose centres are 1 apart share a circle of 38.5 at most.
	assert.InDelta(t, 38.5, ad.Bore.Diameter, 1e-9)
	require.Len(t, ad.Holes, 10)
	assert.Equal(t, report.AdapterHole{ID: "A/a", XY: [2]float64{42, 0}, Diameter: 5, Thread: "M6"}, ad.Holes[0])
	assert.Equal(t, "M5", ad.Holes[6].Thread)

	port.Thread = 6 // the port is tapped: its screws' heads lie under the sensor
	_, err = adapter(t, port, sensor, report.AdapterOptions{Thickness: 8})
	assert.ErrorContains(t, err, "9.5 mm at least")
	ad, err = adapter(t, port, sensor, report.AdapterOptions{Thickness: 10, Edge: 3, Web: 1})
	require.NoError(t, err)
	assert.InDelta(t, 6.6, ad.Holes[0].Diameter, 1e-9)
	assert.InDelta(t, 10.6, ad.Holes[0].Counterbore.Diameter, 1e-9) // a head of 10 with the play of the hole
	assert.InDelta(t, 6.5, ad.Holes[0].Counterbore.Depth, 1e-9)
	assert.InDelta(t, 2*(42+5.3+3), ad.Outside, 1e-9)
}

func TestAdapterRefuses(t *testing.T) {
	port, sensor := ringPattern("port", 6, 84, 6.6), ringPattern("sensor", 4, 80, 6.6)
	turn := s1.Angle(0)
	_, err := adapter(t, port, sensor, report.AdapterOptions{Thickness: 8, Turn: &turn})
	// Drills of 5 mm on circles whose radii are 2 mm apart.
	require.ErrorContains(t, err, "holes A/a and B/a would cut into each other by 3.00 mm, where at least 3.00 mm is asked")
	assert.Regexp(t, `the best turn \(--turn (15|45|75|105|\d\d\d)\.00\) leaves 5\.\d\d mm$`, err.Error())
	_, err = adapter(t, port, sensor, report.AdapterOptions{Thickness: 8, Web: 7})
	assert.ErrorContains(t, err, "no other turn leaves more. Thinner fasteners than M6 (--fastener) leave more")
	_, err = adapter(t, ringPattern("port", 12, 30, 6.6), ringPattern("sensor", 4, 80, 6.6), report.AdapterOptions{Thickness: 8})
	assert.ErrorContains(t, err, "no turn changes that", "two holes of one part")
	inch, err := adapter(t, ringPattern("port", 6, 84, 7.14375), ringPattern("sensor", 4, 60, 7.14375), report.AdapterOptions{Thickness: 8})
	require.NoError(t, err)
	assert.Contains(t, strings.Join(inch.Notes, " "), "The drill for a thread of 1/4 in is not known here: A/a and its like are clearance")
	thin, err := adapter(t, port, sensor, report.AdapterOptions{Thickness: 4})
	require.NoError(t, err)
	assert.Len(t, thin.Notes, 2, "what holds of both parts is said once")
	var text strings.Builder
	thin.Holes[0].XY[1] = -1e-9
	require.NoError(t, report.WriteAdapter(&text, thin))
	assert.NotContains(t, text.String(), "-0.000")
	_, err = adapter(t, port, sensor, report.AdapterOptions{})
	assert.ErrorContains(t, err, "thickness")
}

// Parts that bolt up by themselves share the plate's holes.
func TestAdapterOfOnePatternIsASpacer(t *testing.T) {
	ad, err := adapter(t, ringPattern("port", 6, 84, 6.6), ringPattern("lid", 6, 84, 7), report.AdapterOptions{Thickness: 8})
	require.NoError(t, err)
	require.Len(t, ad.Holes, 6)
	assert.InDelta(t, 6.6, ad.Holes[0].Diameter, 1e-9)
	var text strings.Builder
	require.NoError(t, report.WriteAdapter(&text, ad))
	assert.Contains(t, text.String(), "the same bolts go through\nall three")
}
