package bolt

import (
	"cmp"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// noiseKernel is the correlation of a scan's noise between two points of the surface at
// the distance d, mm: exp(-d/Length), or if Smooth exp(-d²/(2 Length²)). The zero value is
// independent noise.
type noiseKernel struct {
	Smooth bool
	Length float64 // mm; zero means independent noise
	// Second is the length of a second scale of the same shape, mm, and
	// SecondShare its share of the correlated variance.
	Second, SecondShare float64
	// White is the share of all variance that is independent from point to point.
	White float64
}

// At returns the correlation at the distance d, 1 at zero.
func (k noiseKernel) At(d float64) float64 {
	if d == 0 {
		return 1
	}
	one := func(length float64) float64 {
		switch {
		case length <= 0:
			return 0
		case k.Smooth:
			return math.Exp(-d * d / (2 * length * length))
		}
		return math.Exp(-d / length)
	}
	return (1 - k.White) * (one(k.Length) + k.SecondShare*(one(k.Second)-one(k.Length)))
}

// wallSpec describes the points of one hole about the z axis, its face in z = 0: rows of
// points round the wall, or a single row, its rim.
type wallSpec struct {
	Radius float64 // mm
	// Around is the number of points in a row, Rows the number of rows; zero
	// rows means 1.
	Around, Rows int
	// Depth is where the last row lies, mm below the face; the first is in it.
	Depth float64
	// Arc that is seen, and where it begins; zero Arc means all round.
	Arc, Start s1.Angle
	// Sigma is the standard deviation of the radius, mm, with the correlation
	// Kernel over the distance in space.
	Sigma  float64
	Kernel noiseKernel
}

// noisyWall draws the points of one hole again and again: make it once, draw many.
type noisyWall struct {
	ideal, out []r3.Vector   // points, and the direction of their noise
	root       *mat.TriDense // L of the noise's covariance L Lᵀ; nil for none
}

func newNoisyWall(spec wallSpec) (*noisyWall, error) {
	rows := cmp.Or(spec.Rows, 1)
	step := 2 * math.Pi / float64(spec.Around)
	if spec.Arc != 0 && spec.Arc != 2*math.Pi {
		step = spec.Arc.Radians() / float64(spec.Around-1)
	}
	w := &noisyWall{}
	for j := range rows {
		for i := range spec.Around {
			sin, cos := math.Sincos(spec.Start.Radians() + step*float64(i))
			out := r3.Vector{X: cos, Y: sin}
			w.out = append(w.out, out)
			w.ideal = append(w.ideal,
				out.Mul(spec.Radius).Sub(r3.Vector{Z: spec.Depth / float64(max(1, rows-1)) * float64(j)}))
		}
	}
	if spec.Sigma == 0 {
		return w, nil
	}
	v := mat.NewSymDense(len(w.ideal), nil)
	for i, p := range w.ideal {
		for j, q := range w.ideal[:i] {
			v.SetSym(i, j, spec.Sigma*spec.Sigma*spec.Kernel.At(p.Distance(q)))
		}
		v.SetSym(i, i, spec.Sigma*spec.Sigma*(1+1e-9)) // smooth noise is singular but for rounding
	}
	var chol mat.Cholesky
	if !chol.Factorize(v) {
		return nil, errors.New("the covariance is not positive definite")
	}
	w.root = &mat.TriDense{}
	chol.LTo(w.root)
	return w, nil
}

// Draw returns the points of one scan of the wall, row by row.
func (w *noisyWall) Draw(rng *rand.Rand) []r3.Vector {
	pts := slices.Clone(w.ideal)
	if w.root == nil {
		return pts
	}
	z, e := mat.NewVecDense(len(pts), nil), mat.NewVecDense(len(pts), nil)
	for i := range pts {
		z.SetVec(i, rng.NormFloat64())
	}
	e.MulVec(w.root, z)
	for i := range pts {
		pts[i] = pts[i].Add(w.out[i].Mul(e.AtVec(i)))
	}
	return pts
}

// Over many draws the products of two points of a wall have the kernel as their mean.
func TestNoisyWall(t *testing.T) {
	spec := wallSpec{Radius: 5, Around: 25, Rows: 4, Depth: 3, Arc: 224 * s1.Degree, Sigma: 0.03}
	for _, k := range []noiseKernel{{Length: 2.5}, {Smooth: true, Length: 2.5}, {Length: 1, Second: 5, SecondShare: 0.5, White: 0.1}} {
		spec.Kernel = k
		w, err := newNoisyWall(spec)
		require.NoError(t, err)
		const draws, a, b = 400, 33, 37
		rng := rand.New(rand.NewPCG(1, 9))
		var ca, cab float64
		for range draws {
			p := w.Draw(rng)
			da, db := math.Hypot(p[a].X, p[a].Y)-5, math.Hypot(p[b].X, p[b].Y)-5
			ca += da * da / draws
			cab += da * db / draws
		}
		// The product of two unit normals has the variance 1+ρ², so its mean the deviation
		// 0.07 at most; five of them, 6 checks: false alarm 4e-6.
		want := k.At(w.ideal[a].Distance(w.ideal[b]))
		assert.InDelta(t, 1, ca/(0.03*0.03), 5*math.Sqrt(2.0/draws))
		assert.InDelta(t, want, cab/(0.03*0.03), 5*math.Sqrt((1+want*want)/draws))
	}
}
