package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// layFace throws points on the face, fewer than a scan has.
func (p *coverPart) layFace(t testing.TB) {
	const n, side = 2200, 80.0
	rng := rand.New(rand.NewPCG(3, 1))
	for range n {
		p.face.pts = append(p.face.pts, [2]float64{side * rng.Float64(), side * rng.Float64()})
	}
	if p.row.kernel == (noiseKernel{}) {
		return // white
	}
	v := mat.NewSymDense(n, nil)
	for i, a := range p.face.pts {
		for j, b := range p.face.pts[:i] {
			v.SetSym(i, j, p.row.kernel.At(math.Hypot(a[0]-b[0], a[1]-b[1])))
		}
		v.SetSym(i, i, 1+1e-6)
	}
	p.heights = new(mat.Cholesky)
	require.True(t, p.heights.Factorize(v))
}

// drawFace draws the face's heights with the noise.
func (p *coverPart) drawFace(rng *rand.Rand) *face {
	z := mat.NewVecDense(len(p.face.pts), nil)
	for i := range p.face.pts {
		z.SetVec(i, coverSigma*rng.NormFloat64())
	}
	if p.heights != nil {
		z.MulVec(p.heights.RawU().T(), z)
	}
	return &face{pts: p.face.pts, height: z.RawVector().Data, area: 80 * 80}
}

// shown is what a face drawn with the noise tells of it.
func (p *coverPart) shown(rng *rand.Rand) faceNoise {
	if !p.row.face {
		return faceNoise{}
	}
	return noiseOf(p.drawFace(rng), grain{noise: coverSigma, spacing: 0.5})
}
