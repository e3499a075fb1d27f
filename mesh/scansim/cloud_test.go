package scansim

import (
	"context"
	"math"
	"runtime"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

func TestCloudCoversByArea(t *testing.T) {
	const n = 50_000
	p := Flange(FlangeSpec{
		Diameter: 108, Thickness: 6, Chamfer: 1, HubDiameter: 54, HubHeight: 5, Bore: 40, SinkDiameter: 10,
	})
	_, truth, err := Cloud(t.Context(), p, CloudOptions{Seed: 1, Points: n, ShowHidden: true, EdgeMargin: 1e-9})
	require.NoError(t, err)
	// Areas by hand. A sink of 10 mm in 6.6 mm at 90 degrees: the frustum
	// π (5² - 3.3²) / sin 45°, 1.7 mm deep. The chamfer: π (54² - 53²) / sin 45°.
	frustum := func(r1, r2 float64) float64 { return math.Pi * math.Abs(r1*r1-r2*r2) * math.Sqrt2 }
	disc := func(r float64) float64 { return math.Pi * r * r }
	want := map[string]float64{
		"mounting": disc(53) - disc(27) - 6*disc(5),
		"bottom":   disc(54) - disc(20) - 6*disc(3.3),
		"outer":    2 * math.Pi * 54 * 5,
		"chamfer":  frustum(54, 53),
		"hub":      2 * math.Pi * 27 * 5,
		"hub_top":  disc(27) - disc(20),
		"bore":     2 * math.Pi * 20 * 11,
	}
	for _, h := range p.Holes {
		want["hole:"+h.Name] = 2 * math.Pi * 3.3 * 4.3
		want["sink:"+h.Name] = frustum(5, 3.3)
	}
	total := 0.0
	for _, a := range want {
		total += a
	}
	require.Len(t, truth.Faces, len(want))
	chi2 := 0.0
	for _, f := range truth.Faces {
		e := n * want[f.Role] / total
		require.NotZero(t, e, f.Role)
		chi2 += (float64(count(truth)[f.ID]) - e) * (float64(count(truth)[f.ID]) - e) / e
	}
	// 19 faces, 18 degrees of freedom: above 50 with the probability 8e-5.
	assert.Less(t, chi2, 50.0)
	assert.Less(t, count(truth)[0], 5)
}

func TestBlendsAreCoveredByArea(t *testing.T) {
	p := turned()
	const n = 30_000
	_, truth, err := Cloud(t.Context(), p, CloudOptions{Seed: 12, Points: n, ShowHidden: true, EdgeMargin: 1e-9})
	require.NoError(t, err)
	// By hand: the groove is the lower half of a torus, by Pappus π 4 * 2π 20
	// (the section's centroid stays at 20 mm). The wavy face is covered as the
	// plane that it waves about.
	want := map[string]float64{
		"mounting": math.Pi * (30*30 - 24*24 + 16*16),
		"groove":   math.Pi * 4 * 2 * math.Pi * 20,
		"wavy":     math.Pi * 30 * 30,
	}
	// The side's lower edge waves: leave it out and compare the other three.
	total, seen := 0.0, 0.0
	for role, a := range want {
		total += a
		seen += float64(count(truth)[p.FaceNamed(role).ID])
	}
	chi2 := 0.0
	for role, a := range want {
		e := seen * a / total
		d := float64(count(truth)[p.FaceNamed(role).ID]) - e
		chi2 += d * d / e
	}
	// 2 degrees of freedom: above 20 with the probability 5e-5.
	assert.Less(t, chi2, 20.0)
}

func TestCloudNoiseAsAsked(t *testing.T) {
	for _, p := range []*Part{KettlePort(), workshop()} {
		const sigma = 0.05
		s, truth, err := Cloud(t.Context(), p, CloudOptions{
			Seed: 5, Points: 15_000, Noise: sigma, Tangential: 0.015, Normals: true, NormalNoise: 3 * s1.Degree,
		})
		require.NoError(t, err)
		type sums struct{ n, d, d2, tilt2 float64 }
		by := make([]sums, len(truth.Faces)+1)
		for i, l := range truth.Labels {
			f := truth.Face(l)
			if f.ID == 0 {
				continue
			}
			q := s.Point(i)
			d := f.Signed(q)
			c := s.Normal(i).Cross(f.Normal(q)).Norm()
			k := &by[l]
			k.n++
			k.d += d
			k.d2 += d * d
			k.tilt2 += c * c
			if s.Normal(i).Dot(f.Normal(q)) < 0 {
				require.Fail(t, "a normal looks into the material", f.Role)
			}
		}
		for _, f := range truth.Faces {
			k := by[f.ID]
			if k.n < 200 {
				continue
			}
			// Independent: the variance of n values has the relative deviation
			// sqrt(2/n), the mean sigma/sqrt(n); five of them: 6e-7 a face.
			// Tangential noise on a radius adds t²/(2r), below 4e-5 mm.
			assert.InDelta(t, sigma*sigma, k.d2/k.n, 5*sigma*sigma*math.Sqrt(2/k.n)+1e-5, f.Role)
			assert.InDelta(t, 0, k.d/k.n, 5*sigma/math.Sqrt(k.n)+5e-5, f.Role)
			// Two axes: the mean square tilt is 2 (3°)², its relative deviation 1/sqrt(n).
			// The sine and the turn of the true normal along the noise, t/r, come on top.
			tilt := 2 * math.Pow(3*math.Pi/180, 2)
			assert.InEpsilon(t, tilt, k.tilt2/k.n, 5/math.Sqrt(k.n)+0.02, f.Role)
		}
		assert.Zero(t, count(truth)[p.FaceNamed("bottom").ID])
	}
}

func TestCloudOutliers(t *testing.T) {
	const n, share = 20_000, 0.2
	s, truth, err := Cloud(t.Context(), KettlePort(), CloudOptions{Seed: 6, Points: n, Noise: 0.05, Outliers: share, InPlace: true})
	require.NoError(t, err)
	require.Equal(t, n, s.Len())
	p := KettlePort()
	outliers, near := 0, 0
	for i, l := range truth.Labels {
		if l != LabelOutlier {
			continue
		}
		outliers++
		if d := math.Abs(p.solid.at(s.Point(i))); d < 2 {
			near++
		}
	}
	// Binomial, five deviations: 6e-7.
	assert.InDelta(t, share*n, float64(outliers), 5*math.Sqrt(n*share*(1-share)))
	// Half lie near; of the others some by chance.
	assert.Greater(t, float64(near), 0.45*float64(outliers))
	lo, hi := s.Bounds()
	size := p.Hi.Sub(p.Lo)
	assert.Less(t, hi.Sub(lo).X, 1.2*size.X)
	assert.Greater(t, hi.Sub(lo).X, 1.05*size.X)
}

// A face at the angle a to the laser catches cos a of the points that it would
// catch perpendicular to it.
func TestByViewThinsSteepFaces(t *testing.T) {
	p := Plate(PlateSpec{Length: 60, Width: 60, Thickness: 30})
	density := func(byView bool) (top, side float64) {
		_, truth, err := Cloud(t.Context(), p, CloudOptions{Seed: 3, Points: 60_000, ByView: byView, EdgeMargin: 1e-9})
		require.NoError(t, err)
		for i, n := range count(truth)[1:] {
			switch truth.Faces[i].Role {
			case "mounting":
				top += float64(n) / (60 * 60)
			case "edge:side":
				side += float64(n) / (4 * 60 * 30)
			}
		}
		return top, side
	}
	top, side := density(false)
	assert.InEpsilon(t, 1, side/top, 0.05) // 20,000 points or more each: deviation 0.01
	top, side = density(true)
	// Laser and camera are 12 degrees to either side of each of 12 stops a turn, 70,
	// 45 or 25 degrees up. The top sees both at every stop; a side, here that toward
	// +x, where both are within 75 degrees of its normal.
	var wantTop, wantSide float64
	sin12, cos12 := math.Sincos(12 * math.Pi / 180)
	for _, up := range []float64{70, 45, 25} {
		sin, cos := math.Sincos(up * math.Pi / 180)
		for stop := range 12 {
			s, c := math.Sincos(float64(stop) * math.Pi / 6)
			a, b := cos*c*cos12-s*sin12, cos*c*cos12+s*sin12
			wantTop += sin * cos12
			if min(a, b) > math.Cos(75*math.Pi/180) {
				wantSide += (a + b) / 2
			}
		}
	}
	// Some 10,000 points on the sides: deviation 0.011; their lower edge is blocked by
	// nothing.
	assert.InEpsilon(t, wantSide/wantTop, side/top, 0.06)
}

func TestCloudSameAtAnyProcs(t *testing.T) {
	opt := CloudOptions{Seed: 4, Points: 9_000, Noise: 0.03, Outliers: 0.1, Normals: true, Turntable: 150}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	one, truth1, err := Cloud(t.Context(), KettlePort(), opt)
	require.NoError(t, err)
	for _, procs := range []int{5} {
		runtime.GOMAXPROCS(procs)
		two, truth2, err := Cloud(t.Context(), KettlePort(), opt)
		require.NoError(t, err)
		assert.Equal(t, one, two)
		assert.Equal(t, truth1, truth2)
	}
	assert.Positive(t, count(truth1)[len(truth1.Faces)], "turntable")
}

func TestPoseMovesEverything(t *testing.T) {
	opt := CloudOptions{Seed: 7, Points: 2000, Noise: 0.02, Normals: true}
	moved, truth, err := Cloud(t.Context(), KettlePort(), opt)
	require.NoError(t, err)
	opt.InPlace = true
	still, truth0, err := Cloud(t.Context(), KettlePort(), opt)
	require.NoError(t, err)
	require.Equal(t, Identity(), truth0.Pose)
	require.Equal(t, truth0.Labels, truth.Labels)
	for i := range still.Offsets {
		q := truth.Pose.Apply(still.Point(i))
		require.Less(t, q.Distance(moved.Point(i)), 2e-5) // float32
		require.Less(t, truth.Pose.Turn(still.Normal(i)).Distance(moved.Normal(i)), 1e-6)
	}
	for i, h := range truth.Holes {
		assert.Less(t, h.Centre.Distance(truth.Pose.Apply(truth0.Holes[i].Centre)), 1e-12)
	}
	b, b0 := truth.Patterns[0], truth0.Patterns[0]
	assert.Less(t, b.FitCentre.Distance(truth.Pose.Apply(b0.FitCentre)), 1e-9)
	inDeltas(t, degrees(b0.BestFit), degrees(b.BestFit), 1e-9, "moved ring")
}

func TestDrop(t *testing.T) {
	drop := func(q r3.Vector) bool { return q.Y < 0 }
	cloud, _, err := Cloud(t.Context(), KettlePort(), CloudOptions{Points: 2000, Drop: drop, InPlace: true})
	require.NoError(t, err)
	fused, _, err := Fused(t.Context(), KettlePort(), FusedOptions{Voxel: 2, Drop: drop, InPlace: true})
	require.NoError(t, err)
	for _, s := range []*mesh.Scan{cloud, fused} {
		for i := range s.Len() {
			require.GreaterOrEqual(t, s.Point(i).Y, -1e-5)
		}
	}
}

func TestCloudRefuses(t *testing.T) {
	for name, opt := range map[string]CloudOptions{
		"points below zero": {Points: -1},
		"noise below zero":  {Noise: -1},
		"outliers past one": {Outliers: 1.5},
		"nothing seen":      {Points: 10, Drop: func(r3.Vector) bool { return true }},
	} {
		_, _, err := Cloud(t.Context(), KettlePort(), opt)
		assert.Error(t, err, name)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, _, err := Cloud(ctx, KettlePort(), CloudOptions{})
	assert.ErrorIs(t, err, context.Canceled)
}

// A ball seen whole: no side of it has more points.
func TestCloudOfABall(t *testing.T) {
	p := NewPart("ball", Ball("ball", r3.Vector{X: 3}, 10), r3.Vector{X: -7, Y: -10, Z: -10}, r3.Vector{X: 13, Y: 10, Z: 10}, nil)
	s, _, err := Cloud(t.Context(), p, CloudOptions{Seed: 2, Points: 20_000, ShowHidden: true, InPlace: true})
	require.NoError(t, err)
	var m r3.Vector
	for i := range s.Len() {
		q := s.Point(i).Sub(r3.Vector{X: 3})
		require.InDelta(t, 10, q.Norm(), 1e-5)
		m = m.Add(q.Mul(1.0 / 20_000))
	}
	// Each component has the variance 100/3: the mean's deviation is 0.041.
	assert.Less(t, m.Norm(), 5*0.041*math.Sqrt(3))
}

func BenchmarkCloud(b *testing.B) {
	p := KettlePort()
	const n = 250_000
	for b.Loop() {
		_, _, err := Cloud(b.Context(), p, CloudOptions{Points: n, Noise: 0.05, Outliers: 0.2})
		require.NoError(b, err)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/pt")
}
