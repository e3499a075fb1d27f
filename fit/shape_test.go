package fit

import (
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/geom"
)

func oneOfEachKind() []Shape {
	w := geom.Unit(r3.Vector{X: 0.2, Y: -0.3, Z: 0.9})
	return []Shape{
		Plane{r3.Vector{X: 1, Y: 2, Z: 3}, w},
		Cylinder{r3.Vector{X: 1, Y: 2, Z: 3}, w, 4},
		Sphere{r3.Vector{X: 1, Y: 2, Z: 3}, 4},
		Cone{r3.Vector{X: 1, Y: 2, Z: 3}, w, 25 * s1.Degree},
	}
}

// Normals and derivatives by the parameters, against central differences of
// Distance; the foot lies on the shape.
func TestShapesAgreeWithDifferences(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	const h = 1e-5
	for kind, s := range oneOfEachKind() {
		require.Equal(t, Kind(kind), s.Kind())
		for range 20 {
			q := s.anchor().Add(r3.Vector{X: 3 + rng.Float64(), Y: 4 + rng.Float64(), Z: 5 + 3*rng.Float64()})
			row := make([]float64, s.Kind().Params())
			d := s.Partials(q, row)
			assert.InDelta(t, s.Distance(q), d, 1e-14)
			n := s.NormalAt(q)
			assert.InDelta(t, 0, s.Distance(q.Sub(n.Mul(d))), 1e-14)
			for _, e := range []r3.Vector{{X: h}, {Y: h}, {Z: h}} {
				assert.InDelta(t, (s.Distance(q.Add(e))-s.Distance(q.Sub(e)))/2, n.Dot(e), 1e-10*h*1e5, "%v", s.Kind())
			}
			for p := range row {
				step := make([]float64, len(row))
				step[p] = h
				hi := s.Moved(step).Distance(q)
				step[p] = -h
				assert.InDelta(t, (hi-s.Moved(step).Distance(q))/(2*h), row[p], 1e-8, "%v parameter %d", s.Kind(), p)
			}
		}
	}
}

// From finds the shape again from one that is off, with the sense of its start,
// and To without a start.
func TestFitOfEveryKind(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 2))
	for _, s := range oneOfEachKind() {
		var pts []r3.Vector
		for len(pts) < 200 {
			q := s.anchor().Add(r3.Vector{X: 10 * rng.Float64(), Y: 10 * rng.Float64(), Z: 10 * rng.Float64()})
			if d := s.Distance(q); d > -3 && d < 3 {
				pts = append(pts, q.Sub(s.NormalAt(q).Mul(d)))
			}
		}
		step := []float64{0.1, -0.01, 0.01, 0.02, -0.02, 0.01}[:s.Kind().Params()]
		f, err := From(s.Moved(step), pts, Options{})
		require.NoError(t, err)
		g, err := To(s.Kind(), pts, Options{})
		require.NoError(t, err)
		q := r3.Vector{X: 5, Y: 6, Z: 7}
		for _, f := range []Fit{f, g} {
			assert.Equal(t, s.Kind(), f.Kind())
			assert.Less(t, f.Statistics().RMS, 1e-13)
			assert.InDelta(t, s.Distance(q), f.Distance(q), 1e-12)
		}
		assert.InDelta(t, 0, s.NormalAt(q).Sub(f.NormalAt(q)).Norm(), 1e-12)
	}
	_, err := From(nil, nil, Options{})
	assert.Error(t, err)
}
