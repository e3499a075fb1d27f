package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
)

// facePart is a part whose face has noise of a kernel.
func facePart(t *testing.T, k scansim.Kernel) *coverPart {
	return newCoverPart(t, coverRow{kernel: k, arc: 360 * s1.Degree, holes: 1, face: true})
}

// drawWaves draws faces, bent by so much, and returns what those that show waves show.
func (p *coverPart) drawWaves(t *testing.T, faces int, bow float64) (out []waves) {
	rng := rand.New(rand.NewPCG(8, 2))
	for range faces {
		f := p.drawFace(rng)
		for i, q := range f.pts {
			f.height[i] += bow * q[0] * q[0] / 6400
		}
		w, err := wavesOf(t.Context(), f, grain{noise: coverSigma, spacing: 0.5}, 1)
		require.NoError(t, err)
		if len(w.length) > 0 {
			out = append(out, w)
		}
	}
	return out
}

// A face of 2,200 points shows its noise's waves, and none where it is white. Under
// white noise the 24 sums of products that are looked at pass three standard deviations
// in some 1 % of faces.
//
// What moves the centres of circles of 2, 4 and 8 mm, which is what waves are for, has a
// mean within 22 %: of one face it scatters by 11 %. Of waves of 2 mm the covariance at a
// quarter, a half and the whole of the length is right within 15 %. The study has other
// noise. A bow of 0.1 mm is no wave, and hides none. False-alarm rate: 1e-4.
func TestWavesOfAFace(t *testing.T) {
	faces := trials.Of(6, 3)
	for _, bow := range []float64{0, 0.1} {
		waved := facePart(t, scansim.Kernel{}).drawWaves(t, faces, bow)
		assert.LessOrEqual(t, len(waved), trials.Most(faces, 0.01, 1e-4), "bow of %g mm", bow)
	}
	k := scansim.Kernel{Shape: scansim.Gaussian, Length: 2}
	p := facePart(t, k)
	seen := p.drawWaves(t, faces, 0)
	require.Len(t, seen, faces)
	bowed := p.drawWaves(t, 3, 0.1)
	require.Len(t, bowed, 3)
	for i, w := range bowed { // of the same noise
		assert.InEpsilon(t, seen[i].reach(), w.reach(), 0.3)
	}
	for _, part := range []float64{0.25, 0.5, 1} {
		d := part * k.Length
		var mean float64
		for _, w := range seen {
			mean += w.at(d, 0) * w.ratio / (1 + w.ratio) / float64(faces)
		}
		assert.InEpsilon(t, k.At(d), mean, 0.15, "at %v", d)
	}
	for _, r := range []float64{2, 4, 8} {
		assert.InEpsilon(t, 1, meanMoved(seen, r, k), 0.22, "circle of %v", r)
	}
}

// meanMoved is the mean of what the waves that were seen move the centre of a circle of
// radius r by, over what noise of the kernel does.
func meanMoved(seen []waves, r float64, k scansim.Kernel) (mean float64) {
	for _, w := range seen {
		mean += centreVariance(r, func(d float64) float64 { return w.at(d, 0) }) / float64(len(seen))
	}
	return mean / centreVariance(r, k.At)
}

// centreVariance is, but for a factor, the variance of a least-squares centre's coordinate
// under a correlation by distance: its part in cos θ.
func centreVariance(r float64, at func(float64) float64) float64 {
	const steps = 2000
	v := (at(0) - at(2*r)) / (2 * steps)
	for i := 1; i < steps; i++ {
		a := math.Pi * float64(i) / steps
		v += math.Cos(a) * at(2*r*math.Sin(a/2)) / steps
	}
	return v
}

// Where a face that looks white is said to show waves of a length, those of a tenth of
// the noise are seen, in 189 of 200 faces of a study. False-alarm rate: 1e-4.
func TestWavesAreSeenWhereTheFaceShowsThem(t *testing.T) {
	white := newCoverPart(t, coverRow{arc: 360 * s1.Degree, holes: 1, face: true})
	w := white.waves(t, rand.New(rand.NewPCG(8, 3)))
	r := coverRadius / 4
	for !w.show(r) {
		r *= 1.01
	}
	faces := trials.Of(10, 3)
	seen := facePart(t, scansim.Kernel{Length: r, White: 0.9}).drawWaves(t, faces, 0)
	assert.GreaterOrEqual(t, len(seen), trials.Least(faces, 189.0/200, 1e-4), "of length %.2f mm", r)
}

// What a face without waves tells: nothing where it is small, and that a tenth of the
// noise is not shared over a hole's radius where it has the pairs to show it. White
// holes' noise is then said to be unseen, or is not; that of exponential noise of
// length r/4 never: holes show it themselves.
func TestUnseenWaves(t *testing.T) {
	white := newCoverPart(t, coverRow{arc: 360 * s1.Degree, holes: 6, face: true})
	rng := rand.New(rand.NewPCG(8, 3))
	seen := white.waves(t, rng)
	assert.True(t, seen.show(coverRadius))
	assert.False(t, seen.show(coverRadius/4), "few pairs are as near")
	assert.False(t, waves{}.show(coverRadius))
	for range 2 {
		cs, _ := white.draw(t, rng)
		assert.True(t, learn(t, cs, waves{}).unseen)
		assert.False(t, learn(t, cs, seen).unseen)
	}
	rough := newCoverPart(t, coverRow{kernel: scansim.Kernel{Length: 1}, arc: 360 * s1.Degree, holes: 6})
	for range 2 {
		cs, _ := rough.draw(t, rng)
		assert.False(t, learn(t, cs, waves{}).unseen)
	}
}

// A tenth of the noise shared over 8 mm, on a face of 60 mm: some 18 waves. What they move
// the centre of a wall of 4 mm radius, 6 mm deep, by has a mean of 1.17 of the truth, since
// what is too little does more harm, and scatters by 0.25 (study of 240 faces, of which the
// least was 0.65). False-alarm rate: 1e-4.
func TestLongWavesOfASmallFace(t *testing.T) {
	const side, sigma = 60.0, 0.02
	faces := trials.Of(6, 3)
	k := scansim.Kernel{Shape: scansim.Gaussian, Length: 0.6, Second: 8, SecondShare: 0.1}
	rng := rand.New(rand.NewPCG(6, 4))
	var pts [][2]float64
	for range 2200 {
		pts = append(pts, [2]float64{side * rng.Float64(), side * rng.Float64()})
	}
	v := mat.NewSymDense(len(pts), nil)
	for i, a := range pts {
		for j, b := range pts[:i] {
			v.SetSym(i, j, k.At(math.Hypot(a[0]-b[0], a[1]-b[1])))
		}
		v.SetSym(i, i, 1+1e-6)
	}
	var chol mat.Cholesky
	require.True(t, chol.Factorize(v))
	wall := func(w waves) float64 { return centreVariance(4, func(d float64) float64 { return w.at(d, 6) }) }
	want := wall(waves{length: []float64{0.6, 8}, share: []float64{0.9, 0.1}})
	var mean float64
	least := math.Inf(1)
	for range faces {
		z := mat.NewVecDense(len(pts), nil)
		for i := range pts {
			z.SetVec(i, sigma*rng.NormFloat64())
		}
		z.MulVec(chol.RawU().T(), z)
		f := &face{pts: pts, height: z.RawVector().Data, area: side * side}
		w, err := wavesOf(t.Context(), f, grain{noise: sigma, spacing: 0.35}, 1)
		require.NoError(t, err)
		got := wall(w) / want
		mean += got / float64(faces)
		least = min(least, got)
	}
	assert.InDelta(t, 1.17, mean, 0.25*trials.Mean(faces, 1e-4))
	assert.Greater(t, least, 0.5)
}
