package mesh

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// The reference is gonum's symmetric eigenvalue decomposition.
func TestSmallestEigenAgreesWithReference(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for trial := range 20_000 {
		// A random scatter, of any flatness and size.
		scale := math.Pow(10, 8*rng.Float64()-4)
		thin := math.Pow(10, -8*rng.Float64())
		turn := randomTurn(rng)
		l := [3]float64{scale * (1 + rng.Float64()), scale * (0.1 + 0.8*rng.Float64()), scale * 0.09 * thin}
		m := mat.NewSymDense(3, nil)
		for i := range 3 {
			for j := i; j < 3; j++ {
				sum := 0.0
				for k := range 3 {
					sum += l[k] * turn[i][k] * turn[j][k]
				}
				m.SetSym(i, j, sum)
			}
		}
		v, lambda, ok := smallestEigen(m.At(0, 0), m.At(1, 1), m.At(2, 2), m.At(0, 1), m.At(0, 2), m.At(1, 2))
		require.True(t, ok, "trial %d", trial)
		var eig mat.EigenSym
		require.True(t, eig.Factorize(m, true))
		var vecs mat.Dense
		eig.VectorsTo(&vecs)
		w := [3]float64{vecs.At(0, 0), vecs.At(1, 0), vecs.At(2, 0)}
		c := cross(v, w)
		assert.Less(t, math.Sqrt(dot(c, c)), 1e-9, "trial %d: angle, %v", trial, l)
		assert.InDelta(t, eig.Values(nil)[0], lambda, 1e-12*scale, "trial %d", trial)
	}
}

// randomTurn returns the columns of a random rotation or reflection.
func randomTurn(rng *rand.Rand) (m [3][3]float64) {
	unit := func(v [3]float64) [3]float64 {
		l := 1 / math.Sqrt(dot(v, v))
		return [3]float64{v[0] * l, v[1] * l, v[2] * l}
	}
	a := unit([3]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()})
	b := unit(cross(a, unit([3]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()})))
	c := cross(a, b)
	for i := range 3 {
		m[i] = [3]float64{a[i], b[i], c[i]}
	}
	return m
}

func TestSmallestEigenSaysWhereThereIsNoPlane(t *testing.T) {
	for name, m := range map[string][6]float64{
		"one place": {},
		"a line":    {1, 0, 0, 0, 0, 0},
		"a ball":    {1, 1, 1, 0, 0, 0},
		"NaN":       {math.NaN(), 1, 1, 0, 0, 0},
	} {
		_, _, ok := smallestEigen(m[0], m[1], m[2], m[3], m[4], m[5])
		assert.False(t, ok, name)
	}
}
