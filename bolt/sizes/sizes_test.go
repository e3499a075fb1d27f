package sizes

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func reference(t *testing.T, name string, into any) {
	t.Helper()
	data, err := os.ReadFile("../../testdata/references/table-" + name + ".json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, into))
}

// ISO 273:1979, BS 4186:1967, ASME B18.2.8-1999, ISO 2306:1972 and ISO 3:1973, as read in
// the sources that the files name.
func TestTables(t *testing.T) {
	var iso struct {
		Rows map[string][3]float64
		Also struct{ Rows map[string][3]float64 }
	}
	reference(t, "iso273-clearance", &iso)
	var taps struct{ Rows map[string][2]float64 }
	reference(t, "metric-coarse-tap-drills", &taps)
	rows := 0
	for _, f := range metric {
		if f.clear[0] == 0 {
			continue
		}
		rows++
		assert.Equal(t, fmt.Sprintf("M%g", f.diameter), f.name)
		assert.Equal(t, iso.Rows[f.name], f.clear, f.name)
		assert.Equal(t, taps.Rows[f.name][1], f.drill, f.name)
		for j, o := range f.old {
			if o == 0 {
				o = f.clear[j]
			}
			if bs, ok := iso.Also.Rows[f.name]; ok {
				assert.Equal(t, bs[j], o, f.name)
			}
		}
	}
	assert.Equal(t, len(iso.Rows), rows)

	var asme struct{ Rows map[string][3]string }
	reference(t, "asme-b18-2-8-inch", &asme)
	rows = 0
	for _, f := range inch {
		if f.clear[0] == 0 {
			continue
		}
		rows++
		for j, s := range asme.Rows[strings.TrimSuffix(f.name, " in")] {
			d, err := strconv.ParseFloat(strings.Fields(s)[0], 64)
			require.NoError(t, err)
			assert.Equal(t, d, f.clear[j], f.name)
		}
	}
	assert.Equal(t, len(asme.Rows), rows)

	var iso3 struct{ R5, R10, R20, R40 []string }
	reference(t, "iso3-preferred-numbers", &iso3)
	for series, want := range map[int][]string{5: iso3.R5, 10: iso3.R10, 20: iso3.R20, 40: iso3.R40} {
		var got []string
		for _, r := range renard {
			if r.series <= series {
				got = append(got, fmt.Sprintf("%.2f", r.number))
			}
		}
		assert.Equal(t, want, got, "R%d", series)
	}
}

// What a person who drills holes would say.
func TestNames(t *testing.T) {
	for _, c := range []struct {
		kind         Kind
		measured, u  float64
		size         float64
		first, other string
	}{
		{Hole, 6.61, 0.02, 6.6, "clearance for M6 (ISO 273 medium)", ""},
		{Hole, 5.0, 0.01, 5, "whole millimetre (ISO 3 R10)", "tapped M6 (drill of ISO 2306)"},
		{Hole, 6.8, 0.01, 6.8, "tapped M8 (drill of ISO 2306)", ""},
		{Hole, 9.02, 0.02, 9, "clearance for M8 (ISO 273 medium)", "whole millimetre (ISO 3 R20)"},
		{Hole, 14, 0.02, 14, "tapped M16 (drill of ISO 2306)", "clearance for M12 (BS 4186 medium)"},
		{Hole, 7.15, 0.02, 7.14502, "clearance for 1/4 in (ASME B18.2.8 normal)", "9/32 in (inch fraction)"},
		{Bore, 40.02, 0.01, 40, "whole millimetre (ISO 3 R5)", ""},
		{Bore, 50.81, 0.01, 50.8, "2 in (inch fraction)", ""},
		{Bore, 31.75, 0.01, 31.75, "1 1/4 in (inch fraction)", ""},
		{PitchDiameter, 95.01, 0.02, 95, "whole millimetre (ISO 3 R40)", ""},
		{PitchDiameter, 84.06, 0.01, 84, "whole millimetre", ""},
		{Thickness, 6.3, 0.01, 6.3, "tenth of a millimetre (ISO 3 R5)", "1/4 in (inch fraction)"},
		{PitchDiameter, 97.35, 0.005, 0, "no standard size", ""},
		{Hole, 6.15, 0.01, 0, "no standard size", ""},
		{Hole, 0.0061, 0.0001, 0, "no standard size", ""}, // a hole in metres
		{Bore, 64.2, 3, 0, "no standard size", ""},        // a scan that tells nothing
	} {
		list := Candidates(c.kind, c.measured, c.u)
		best := Best(list)
		assert.InDelta(t, c.size, best.Diameter, 1e-4, "%v", list)
		assert.Equal(t, c.first, best.Serves[0].String(), "%g", c.measured)
		sum, names := 0.0, ""
		for _, k := range list {
			sum += k.Probability
			names += k.String() + "; "
			if k.Name != None {
				assert.InDelta(t, (c.measured-k.Diameter)/c.u, k.Off, 1e-9)
			}
		}
		assert.Contains(t, names, c.other)
		assert.InDelta(t, 1, sum, 0.1)
	}
}

// A size is worth the less the farther it is, and a wider scan tells less.
func TestFartherIsLessProbable(t *testing.T) {
	p := func(d, u float64) float64 {
		b := Best(Candidates(Bore, d, u))
		if b.Diameter != 40 {
			return 0
		}
		return b.Probability
	}
	last := 1.0
	for _, d := range []float64{40, 40.03, 40.06, 40.1} {
		assert.Less(t, p(d, 0.01), last)
		last = p(d, 0.01)
	}
	assert.Greater(t, p(40.02, 0.01), p(40.02, 0.2))
}

// A drawing's circles have no uncertainty, which must not make numbers of no sense.
func TestExactSizes(t *testing.T) {
	for _, u := range []float64{0, 1e-12, -1} {
		list := Candidates(Hole, 6.5998, u)
		assert.Equal(t, 6.6, Best(list).Diameter)
		assert.InDelta(t, -0.2, list[0].Off, 1e-9)
	}
	for _, d := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		assert.Empty(t, Candidates(Hole, d, 0.01))
	}
	assert.Empty(t, Candidates(Hole, 6, math.NaN()))
	assert.Zero(t, Best(nil).Probability)
	for d := 1e-6; d < 1e7; d *= 3.7 {
		for _, u := range []float64{1e-4, 1, 1e5} {
			for _, c := range Candidates(Hole, d, u) {
				assert.False(t, math.IsNaN(c.Probability) || c.Probability > 1+1e-9, "%g +-%g: %v", d, u, c)
			}
		}
	}
}

// 3/32 in is 0.09375 in and printed as 0.0938 in: one size that serves as two things.
func TestSameSize(t *testing.T) {
	b := Best(Candidates(Hole, 2.382, 0.002))
	assert.Greater(t, len(b.Serves), 1)
	assert.Greater(t, b.Probability, b.Serves[0].Probability)
}

func TestUses(t *testing.T) {
	b := Best(Candidates(Hole, 5, 0.01))
	assert.True(t, b.Likely())
	assert.Equal(t, "whole millimetre (ISO 3 R10) or tapped M6 (drill of ISO 2306)", b.Uses())
	b = Best(Candidates(Hole, 6.61, 0.02))
	assert.Equal(t, "clearance for M6 (ISO 273 medium)", b.Uses(), "and hardly plain")
	assert.False(t, Best(Candidates(Hole, 6.6, 0.3)).Likely())
}

func TestInches(t *testing.T) {
	for v, want := range map[float64]string{2.984375: "2 63/64", 0.5: "1/2", 3: "3", 0.265625: "17/64", 1.996: "2"} {
		assert.Equal(t, want, Inches(v))
	}
}
