package fit_test

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/mesh/geom"
)

// What is left to the optimum, computed to 60 digits: gradient and normal
// equations of the orthogonal distance in plain centre and axis form at the
// float64 answer, points taken as exact, one Newton-like step from there. The
// sizes asked are those of published acceptance tests of institutes for fitting
// software (sets of 8 to 50 points at some hundred millimetres; from memory):
// 1e-10 mm, 1e-11 rad, 1e-7 mm for a cone's apex.
const prec = 200

func bf(x float64) *big.Float        { return new(big.Float).SetPrec(prec).SetFloat64(x) }
func add(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(prec).Add(a, b) }
func sub(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(prec).Sub(a, b) }
func mul(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(prec).Mul(a, b) }
func quo(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(prec).Quo(a, b) }
func sqrt(a *big.Float) *big.Float   { return new(big.Float).SetPrec(prec).Sqrt(a) }

type bv [3]*big.Float

func bvec(v r3.Vector) bv { return bv{bf(v.X), bf(v.Y), bf(v.Z)} }
func (a bv) dot(b bv) *big.Float {
	return add(add(mul(a[0], b[0]), mul(a[1], b[1])), mul(a[2], b[2]))
}
func (a bv) sub(b bv) bv         { return bv{sub(a[0], b[0]), sub(a[1], b[1]), sub(a[2], b[2])} }
func (a bv) mul(s *big.Float) bv { return bv{mul(a[0], s), mul(a[1], s), mul(a[2], s)} }
func (a bv) unit() bv            { return a.mul(quo(bf(1), sqrt(a.dot(a)))) }

// axial is a surface of revolution f = ρ cos φ - z sin φ - d about an axis:
// a cylinder (φ = 0, d = r) or a cone from its apex (d = 0). correction returns
// the step in (u, v, a, b, last), and for a cone w: last is d or φ.
func correction(pts []r3.Vector, at, axis r3.Vector, phi, d float64, cone bool) []float64 {
	w := bvec(axis).unit()
	e1f, e2f := geom.Basis(axis)
	// A frame perpendicular to w to all digits.
	e1 := bvec(e1f)
	e1 = e1.sub(w.mul(e1.dot(w))).unit()
	e2 := bvec(e2f)
	e2 = e2.sub(w.mul(e2.dot(w)))
	e2 = e2.sub(e1.mul(e2.dot(e1))).unit()
	sinF, cosF := math.Sincos(phi)
	// cos and sin made consistent: tan from the two floats is a half angle
	// within rounding of phi, which is all phi says.
	norm := sqrt(add(mul(bf(sinF), bf(sinF)), mul(bf(cosF), bf(cosF))))
	sin, cos := quo(bf(sinF), norm), quo(bf(cosF), norm)
	o := bvec(at)
	np := 5
	if cone {
		np = 6
	}
	a := make([][]float64, np)
	for i := range a {
		a[i] = make([]float64, np)
	}
	g := make([]*big.Float, np)
	for i := range g {
		g[i] = bf(0)
	}
	for _, p := range pts {
		q := bvec(p).sub(o)
		x, y, z := q.dot(e1), q.dot(e2), q.dot(w)
		rho := sqrt(add(mul(x, x), mul(y, y)))
		cx, cy := quo(x, rho), quo(y, rho)
		f := sub(sub(mul(rho, cos), mul(z, sin)), bf(d))
		// Tilts about at: x moves by -az, z by ax.
		lean := add(mul(z, cos), mul(rho, sin))
		row := []*big.Float{
			mul(bf(-1), mul(cx, cos)), mul(bf(-1), mul(cy, cos)),
			mul(bf(-1), mul(cx, lean)), mul(bf(-1), mul(cy, lean)), bf(-1),
		}
		if cone {
			row[4] = sub(bf(0), add(mul(rho, sin), mul(z, cos)))
			row = append(row, sin)
		}
		for i := range row {
			g[i] = add(g[i], mul(row[i], f))
			ri, _ := row[i].Float64()
			for j := range row {
				rj, _ := row[j].Float64()
				a[i][j] += ri * rj
			}
		}
	}
	rhs := make([]float64, np)
	for i := range g {
		v, _ := g[i].Float64()
		rhs[i] = -v
	}
	return gauss(a, rhs)
}

// gauss solves a small system with pivots.
func gauss(a [][]float64, b []float64) []float64 {
	n := len(b)
	for c := range n {
		p := c
		for r := c; r < n; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[p][c]) {
				p = r
			}
		}
		a[c], a[p], b[c], b[p] = a[p], a[c], b[p], b[c]
		for r := c + 1; r < n; r++ {
			m := a[r][c] / a[c][c]
			for k := c; k < n; k++ {
				a[r][k] -= m * a[c][k]
			}
			b[r] -= m * b[c]
		}
	}
	for r := n - 1; r >= 0; r-- {
		for k := r + 1; k < n; k++ {
			b[r] -= a[r][k] * b[k]
		}
		b[r] /= a[r][r]
	}
	return b
}

// acceptance draws a set of 8 to 50 points at some hundred millimetres.
func acceptance(rng *rand.Rand) pose {
	p := pose{w: randomUnit(rng), size: 5 + 100*rng.Float64()}
	p.u, p.v = geom.Basis(p.w)
	p.at = r3.Vector{X: 800 * (rng.Float64() - 0.5), Y: 800 * (rng.Float64() - 0.5), Z: 800 * (rng.Float64() - 0.5)}
	return p
}

func TestCylinderIsTheOptimumToTheLastDigits(t *testing.T) {
	var worst [3]float64
	for i := range 50 {
		rng := rand.New(rand.NewPCG(6, uint64(i)))
		p := acceptance(rng)
		n := 8 + rng.IntN(43)
		var pts []r3.Vector
		for range n {
			pts = append(pts, p.point(2*math.Pi*rng.Float64(), 1+0.002*rng.NormFloat64(), 3*rng.Float64()-1.5))
		}
		f, err := fit.CylinderTo(pts, fit.Options{})
		require.NoError(t, err)
		d := correction(pts, f.Point, f.Axis, 0, f.Radius, false)
		across, tilt, r := math.Hypot(d[0], d[1]), math.Hypot(d[2], d[3]), math.Abs(d[4])
		worst = [3]float64{max(worst[0], across), max(worst[1], tilt), max(worst[2], r)}
		require.Less(t, across, 1e-10, "axis, mm")
		require.Less(t, tilt, 1e-11, "direction, rad")
		require.Less(t, r, 1e-10, "radius, mm")
	}
	t.Logf("worst: axis %.1e mm, direction %.1e rad, radius %.1e mm", worst[0], worst[1], worst[2])
}

func TestConeIsTheOptimumToTheLastDigits(t *testing.T) {
	var worst [3]float64
	for i := range 50 {
		rng := rand.New(rand.NewPCG(7, uint64(i)))
		p := acceptance(rng)
		n := 8 + rng.IntN(43)
		half := s1.Angle(5+75*rng.Float64()) * s1.Degree
		sin, cos := math.Sincos(half.Radians())
		var pts []r3.Vector
		for range n {
			l, e := 0.3+2*rng.Float64(), 0.0005*rng.NormFloat64()
			pts = append(pts, p.point(2*math.Pi*rng.Float64(), l*sin+e*cos, l*cos-e*sin))
		}
		f, err := fit.ConeTo(pts, fit.Options{})
		require.NoError(t, err)
		d := correction(pts, f.Apex, f.Axis, f.HalfAngle.Radians(), 0, true)
		apex := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[5]*d[5])
		tilt, phi := math.Hypot(d[2], d[3]), math.Abs(d[4])
		worst = [3]float64{max(worst[0], apex), max(worst[1], tilt), max(worst[2], phi)}
		require.Less(t, apex, 1e-7, "apex, mm")
		require.Less(t, tilt, 1e-11, "direction, rad")
		require.Less(t, phi, 1e-11, "half angle, rad")
	}
	t.Logf("worst: apex %.1e mm, direction %.1e rad, half angle %.1e rad", worst[0], worst[1], worst[2])
}
