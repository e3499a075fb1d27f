package fit

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"

	"spotface/mesh/geom"
)

// Every model's Jacobian against central differences of its residuals, on
// points near and far, for curved, flat and backward-curved states.
func TestJacobiansAgreeWithDifferences(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 0))
	state := func(k float64) arc {
		w := geom.Unit(r3.Vector{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()})
		n, tt := geom.Basis(w)
		return arc{at: r3.Vector{X: 0.1, Y: -0.2, Z: 0.05}, n: n, t: tt, w: w, k: k}
	}
	inPlane := func(k float64) arc {
		s, c := math.Sincos(6 * rng.Float64())
		return flatAt(r3.Vector{X: 0.1, Y: -0.2}, r3.Vector{X: c, Y: s}, r3.Vector{Z: 1}).bend(k)
	}
	for _, k := range []float64{2.5, 0.7, 1e-3, 1e-9, 0, -1e-4, -1.2} {
		a, flatA := state(k), inPlane(k)
		for _, row := range []struct {
			name string
			a    arc
			m    model
		}{
			{"circle", flatA, &round{form: circle2DForm, cur: flatA}},
			{"circle in space", a, &round{form: circleForm, cur: a}},
			{"sphere", a, &round{form: sphereForm, cur: a}},
			{"cylinder", a, &round{form: cylinderForm, cur: a}},
			{"cylinder along", a, &round{form: alongForm, cur: a}},
			{"cone", a, &round{form: coneForm, cur: a.open(0.6)}},
			{"flat cone", a, &round{form: coneForm, cur: a.open(-1.4)}},
		} {
			name, m := row.name, row.m
			c := &cloud{scale: 1}
			for len(c.x) < 40 {
				p := r3.Vector{X: 2*rng.Float64() - 1, Y: 2*rng.Float64() - 1, Z: 2*rng.Float64() - 1}
				// Near the axis the distance is no smooth function.
				if k != 0 && p.Sub(row.a.centre()).Cross(row.a.w).Norm() < 0.1 {
					continue
				}
				c.x, c.y, c.z = append(c.x, p.X), append(c.y, p.Y), append(c.z, p.Z)
			}
			n := len(c.x)
			at, hi, lo := newBlock(m, c), newBlock(m, c), newBlock(m, c)
			var zero [maxParams]float64
			m.try(&zero)
			m.rows(c, 0, n, &at)
			// Differences: error h²f'''/6 + ε/h, least near h = 1e-5.
			const h = 1e-5
			for p := range m.params() {
				var d [maxParams]float64
				d[p] = h
				m.try(&d)
				m.rows(c, 0, n, &hi)
				d[p] = -h
				m.try(&d)
				m.rows(c, 0, n, &lo)
				for i := range n * m.perPoint() {
					want := (hi.f[i] - lo.f[i]) / (2 * h)
					assert.InDelta(t, want, at.j[p][i], 3e-8*(1+math.Abs(want)), "%s k=%g parameter %d", name, k, p)
				}
			}
		}
	}
}

// The start is Taubin's fit to the digits that Chernov's test programs print
// (testdata/references, circle-ggs-1994-six-points).
func TestStartIsTaubinsFit(t *testing.T) {
	pts := [][2]float64{{1, 7}, {2, 6}, {5, 8}, {7, 7}, {9, 5}, {3, 7}}
	c := &cloud{scale: 1, n: len(pts)}
	for _, p := range pts { // about their mean, (4.5, 20/3)
		c.x, c.y, c.z = append(c.x, p[0]-4.5), append(c.y, p[1]-20.0/3), append(c.z, 0)
	}
	g := momentsOf(c)
	a := g.circleAbout(r3.Vector{Z: 1})
	assert.InDelta(t, 4.613933, a.centre().X+4.5, 5e-7)
	assert.InDelta(t, 2.795209, a.centre().Y+20.0/3, 5e-7)
	assert.InDelta(t, 4.879213, 1/a.k, 5e-7)
}

func (a arc) open(phi float64) arc {
	a.phi = phi
	return a
}

func (a arc) bend(k float64) arc {
	a.k = k
	return a
}

// The two forms of a residual agree where both are exact enough.
func TestArcResidualIsTheDistance(t *testing.T) {
	a := arcAt(r3.Vector{X: 3, Y: 1}, r3.Vector{Z: 1}, 2.5)
	m := &round{form: circle2DForm, cur: a}
	var zero [maxParams]float64
	m.try(&zero)
	c := &cloud{x: []float64{0, 1, 5, 3, -2}, y: []float64{0, 2, 3, 1, 7}, z: make([]float64, 5)}
	b := newBlock(m, c)
	m.rows(c, 0, 5, &b)
	for i := range 5 {
		assert.InDelta(t, math.Hypot(c.x[i]-3, c.y[i]-1)-2.5, b.f[i], 1e-14)
	}
}
