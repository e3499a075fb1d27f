package budget

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func reference(t *testing.T, name string, into any) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "budget", name))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

type reference1 struct {
	Result     map[string]string `json:"result"`
	Recomputed map[string]string `json:"recomputed"`
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

func half(t *testing.T, a float64, d Distribution) Standard {
	t.Helper()
	s, err := FromHalfWidth(a, d)
	require.NoError(t, err)
	return s
}

// sources lines up values and uncertainties with the sensitivities of f.
func sources(f func([]float64) float64, in ...Source) []Source {
	var x, u []float64
	for _, s := range in {
		x, u = append(x, s.Value), append(u, s.U)
	}
	for i, c := range sensitivities(f, x, u) {
		in[i].Sensitivity = c
	}
	return in
}

// JCGM 100:2008, H.1: calibration of a 50 mm end gauge, nm.
func TestGUMH1EndGauge(t *testing.T) {
	var ref reference1
	reference(t, "gum-h1-end-gauge.json", &ref)
	// H.1.3.2: the difference d from repeated observations, the comparator's
	// random effects and its systematic ones.
	d := Combined([]Source{
		{Name: "observations", Standard: Standard{U: 5.8, DoF: 24}, Sensitivity: 1},
		{Name: "comparator, random", Standard: Standard{U: 3.9, DoF: 5}, Sensitivity: 1},
		{Name: "comparator, systematic", Standard: Standard{U: 6.7, DoF: 8}, Sensitivity: 1},
	})
	assert.Equal(t, ref.Result["u_d"], strconv.FormatFloat(d.U, 'f', 1, 64))
	assert.InDelta(t, number(t, ref.Recomputed["u_d"]), d.U, 1e-12)
	assert.InDelta(t, number(t, ref.Recomputed["nu_d"]), d.DoF, 1e-9)
	// The printed 25.6 follows from the printed u(d).
	assert.Equal(t, ref.Result["nu_d"], strconv.FormatFloat(d.DoF*math.Pow(9.7/d.U, 4), 'f', 1, 64))

	// H.1.3.4: the bed's temperature swings by 0.5 K about a mean known to 0.2 K.
	theta := math.Hypot(0.2, half(t, 0.5, Arcsine).U)
	limits := func(a float64, dof float64) Standard {
		s := half(t, a, Rectangular)
		s.DoF = dof
		return s
	}
	// Equation H.3: l = ls + d - ls (δα θ + αs δθ).
	l := func(x []float64) float64 { return x[0] + x[1] - x[0]*(x[4]*x[3]+x[2]*x[5]) }
	b := sources(l,
		Source{Name: "standard", Value: 50000623, Standard: Standard{U: 25, DoF: 18}},
		Source{Name: "difference", Value: 215, Standard: d},
		Source{Name: "expansion", Value: 11.5e-6, Standard: half(t, 2e-6, Rectangular)},
		Source{Name: "temperature", Value: -0.1, Standard: Standard{U: theta, Distribution: Arcsine}},
		Source{Name: "difference of expansions", Value: 0, Standard: limits(1e-6, 50)},
		Source{Name: "difference of temperatures", Value: 0, Standard: limits(0.05, 2)},
	)
	got := Combined(b)
	assert.Equal(t, ref.Result["u_c"], strconv.FormatFloat(got.U, 'f', 0, 64))
	assert.InEpsilon(t, number(t, ref.Recomputed["u_c"]), got.U, 1e-8)
	assert.InEpsilon(t, number(t, ref.Recomputed["nu_eff_unrounded"]), got.DoF, 1e-8)
	assert.Equal(t, ref.Result["nu_eff"], strconv.Itoa(int(got.DoF)), "cut to a whole number")
	t99 := Coverage(0.99, math.Floor(got.DoF))
	assert.Equal(t, ref.Result["t99(16)"], strconv.FormatFloat(t99, 'f', 2, 64))
	assert.InDelta(t, number(t, ref.Recomputed["t99(16)"]), t99, 1e-9)
	assert.InEpsilon(t, number(t, ref.Recomputed["U99_unrounded"]), t99*got.U, 1e-8)
	// The printed 93 is the product of the printed factors.
	assert.Equal(t, ref.Result["U99"], strconv.FormatFloat(math.Round(t99*100)/100*math.Round(got.U), 'f', 0, 64))
	// The standard's own uncertainty is most of it.
	assert.InDelta(t, 25, b[0].Contribution(), 1e-6)
	assert.Zero(t, math.Round(1e3*b[2].Contribution()/got.U), "no first-order part of the expansion itself (H.1.3)")
}

// NIST TN 1900, example E13: coefficient of thermal expansion from two lengths and
// two temperatures.
func TestTN1900E13Thermal(t *testing.T) {
	var ref struct {
		reference1
		Inputs map[string][2]float64 `json:"inputs"`
	}
	reference(t, "nist-tn1900-e13-thermal.json", &ref)
	in := func(name string) Source {
		return Source{Name: name, Value: ref.Inputs[name][0], Standard: Standard{U: ref.Inputs[name][1]}}
	}
	a := func(x []float64) float64 { return (x[1] - x[0]) / (x[0] * (x[3] - x[2])) }
	b := sources(a, in("L0"), in("L1"), in("T0"), in("T1"))
	got := Combined(b)
	assert.InDelta(t, number(t, ref.Result["A"]), a([]float64{b[0].Value, b[1].Value, b[2].Value, b[3].Value}), 0.5e-9)
	assert.InDelta(t, number(t, ref.Result["u_A"]), got.U, 0.5e-8)
	assert.InEpsilon(t, number(t, ref.Recomputed["u_A"]), got.U, 1e-8)
	assert.Zero(t, got.DoF)
	assert.Equal(t, 2.0, got.CoverageFactor())
}

// JCGM 100:2008, table G.2, which NIST TN 1297 reprints as table B.1. One printed
// entry is off by a unit of its last digit: 35 degrees of freedom, 90 %.
func TestGUMTableG2(t *testing.T) {
	var ref struct {
		P    []string `json:"p_exact"`
		Rows []struct {
			Nu         any      `json:"nu"`
			Published  []string `json:"published"`
			Recomputed []string `json:"recomputed"`
		} `json:"rows"`
	}
	reference(t, "table-student-t-coverage.json", &ref)
	checked := 0
	for _, row := range ref.Rows {
		nu, ok := row.Nu.(float64)
		if !ok {
			nu = math.Inf(1)
		}
		for i, p := range ref.P {
			got := Coverage(number(t, p), nu)
			assert.InEpsilon(t, number(t, row.Recomputed[i]), got, 1e-8, "nu %v, p %s", row.Nu, p)
			published := number(t, row.Published[i])
			if nu == 35 && i == 1 {
				continue
			}
			_, decimals, _ := strings.Cut(row.Published[i], ".")
			assert.InDelta(t, published, got, 0.501*math.Pow(10, -float64(len(decimals))), "nu %v, p %s", row.Nu, p)
			checked++
		}
	}
	assert.Greater(t, checked, 100)
}

// sensitivities returns ∂f/∂x at x for each source, by central differences over
// its uncertainty u (JCGM 100:2008, 5.1.3 note 2, to fourth order: ±u/2 and ±u);
// zero where u is zero. f must be defined there and not keep its argument.
func sensitivities(f func(x []float64) float64, x, u []float64) []float64 {
	out := make([]float64, len(x))
	at := slices.Clone(x)
	for i := range x {
		if u[i] == 0 {
			continue
		}
		step := func(d float64) float64 {
			at[i] = x[i] + d
			y := f(at)
			at[i] = x[i]
			return y
		}
		h := u[i] / 2
		out[i] = (8*(step(h)-step(-h)) - (step(2*h) - step(-2*h))) / (12 * h)
	}
	return out
}
