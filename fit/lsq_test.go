package fit

import (
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// curve is y = g(x, b1, b2), to try the solver itself.
type curve struct {
	cur, next [2]float64
	g         func(x float64, b [2]float64) (v, d1, d2 float64)
}

func (m *curve) params() int   { return 2 }
func (m *curve) perPoint() int { return 1 }
func (m *curve) held() uint    { return 0 }
func (m *curve) accept()       { m.cur = m.next }
func (m *curve) try(d *[maxParams]float64) bool {
	m.next = [2]float64{m.cur[0] + d[0], m.cur[1] + d[1]}
	return true
}

func (m *curve) rows(c *cloud, lo, hi int, b *block) {
	for i := range hi - lo {
		v, d1, d2 := m.g(c.x[lo+i], m.next)
		b.f[i], b.j[0][i], b.j[1][i] = v-c.y[lo+i], d1, d2
	}
}

// unscale brings the residuals near one, as columns does for points; a power of
// two, so it rounds nothing.
const unscale = 1024.0

type strd struct {
	Points [][2]float64
	Result map[string]string
	Starts [][2]float64
}

func loadStRD(t *testing.T, id string) (strd, *cloud) {
	b, err := os.ReadFile("../testdata/references/strd-" + id + ".json")
	require.NoError(t, err)
	var r strd
	require.NoError(t, json.Unmarshal(b, &r))
	c := &cloud{n: len(r.Points), scale: unscale}
	for _, p := range r.Points {
		c.x, c.y = append(c.x, p[0]), append(c.y, p[1]/unscale)
	}
	return r, c
}

func certified(t *testing.T, r strd, key string) float64 {
	v, err := strconv.ParseFloat(r.Result[key], 64)
	require.NoError(t, err)
	return v
}

// NIST Statistical Reference Datasets, nonlinear regression, Misra1a, lower
// difficulty: certified to 11 digits, from both of its starts.
func TestSolverMeetsMisra1a(t *testing.T) {
	r, c := loadStRD(t, "misra1a")
	require.Len(t, r.Starts, 2)
	for _, start := range r.Starts {
		m := &curve{cur: [2]float64{start[0] / unscale, start[1]}, g: func(x float64, b [2]float64) (v, d1, d2 float64) {
			e := math.Exp(-b[1] * x)
			return b[0] * (1 - e), 1 - e, b[0] * x * e
		}}
		s := solve(m, c, Options{})
		require.True(t, s.converged)
		sum, cov, _, ok := statistics(m, c, &s)
		require.True(t, ok)
		assert.InEpsilon(t, certified(t, r, "b1"), m.cur[0]*unscale, 5e-11)
		assert.InEpsilon(t, certified(t, r, "b2"), m.cur[1], 5e-11)
		assert.InEpsilon(t, certified(t, r, "rss"), s.f*unscale*unscale, 5e-10)
		assert.InEpsilon(t, certified(t, r, "residual_sd"), sum.Sigma, 5e-10)
		assert.InEpsilon(t, certified(t, r, "sd_b1"), math.Sqrt(cov[0][0])*unscale, 5e-9)
		assert.InEpsilon(t, certified(t, r, "sd_b2"), math.Sqrt(cov[1][1]), 5e-9)
	}
}

// NIST StRD, linear regression, Norris: certified to 15 digits, of which an
// intercept 1e-3 of the data's size keeps about 12.
func TestSolverMeetsNorris(t *testing.T) {
	r, c := loadStRD(t, "norris")
	m := &curve{g: func(x float64, b [2]float64) (v, d1, d2 float64) { return b[0] + b[1]*x, 1, x }}
	s := solve(m, c, Options{})
	require.True(t, s.converged)
	_, cov, _, ok := statistics(m, c, &s)
	require.True(t, ok)
	assert.InEpsilon(t, certified(t, r, "b0"), m.cur[0]*unscale, 1e-11)
	assert.InEpsilon(t, certified(t, r, "b1"), m.cur[1]*unscale, 1e-13)
	assert.InEpsilon(t, certified(t, r, "sd_b1"), math.Sqrt(cov[1][1])*unscale, 1e-9)
}

func TestNormalStepRefusesSingular(t *testing.T) {
	var s sums
	s.a[0][0], s.a[0][1], s.a[1][1] = 1, 1, 1
	var step [maxParams]float64
	assert.False(t, normalStep(&s, 2, 0, &step))
	assert.True(t, normalStep(&s, 2, 1e-3, &step))
}

func TestEigenSmallValuesKeepTheirDigits(t *testing.T) {
	// Q diag(1e-12, 1, 3) Q' with Q a turn by 0.3 about z then 0.7 about x.
	var q matrix
	a := quadric{n: 3, forms: 0, dirs: [3]r3.Vector{{X: 1}, {Y: 1}, {Z: 1}}}
	s, c := math.Sincos(0.3)
	s2, c2 := math.Sincos(0.7)
	q[0][0], q[0][1], q[0][2] = c, -s, 0
	q[1][0], q[1][1], q[1][2] = s*c2, c*c2, -s2
	q[2][0], q[2][1], q[2][2] = s*s2, c*s2, c2
	want := [3]float64{1e-12, 1, 3}
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				a.m[3*i+j] += q[i][k] * want[k] * q[j][k]
			}
		}
	}
	_, v, _, least := a.best()
	assert.InDelta(t, 1e-12, least, 1e-15)
	assert.InDelta(t, 1, math.Abs(q[0][0]*v.X+q[1][0]*v.Y+q[2][0]*v.Z), 1e-14)
}
