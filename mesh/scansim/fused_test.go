package scansim

import (
	"context"
	"math"
	"runtime"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// count returns how many triangles or points each face has; count[0] is of edges.
func count(t Truth) []int {
	n := make([]int, len(t.Faces)+1)
	for _, l := range t.Labels {
		if l != LabelOutlier {
			n[l]++
		}
	}
	return n
}

// residuals returns the mean and standard deviation of the vertices of the
// triangles labelled with f about f, and their number.
func residuals(s *mesh.Scan, t *Truth, f Face) (mean, sd float64, n int) {
	var sum, sum2 float64
	seen := make([]bool, s.Len())
	for i, l := range t.Labels {
		if l != f.ID {
			continue
		}
		for _, v := range s.Triangles[i] {
			if seen[v] {
				continue
			}
			seen[v] = true
			d := f.Signed(s.Point(int(v)))
			sum += d
			sum2 += d * d
			n++
		}
	}
	mean = sum / float64(n)
	return mean, math.Sqrt(sum2/float64(n) - mean*mean), n
}

// triangle returns middle, unit normal and area of triangle i.
func triangle(s *mesh.Scan, i int) (mid, normal r3.Vector, area float64) {
	t := s.Triangles[i]
	a, b, c := s.Point(int(t[0])), s.Point(int(t[1])), s.Point(int(t[2]))
	n := b.Sub(a).Cross(c.Sub(a))
	return a.Add(b).Add(c).Mul(1.0 / 3), n.Normalize(), n.Norm() / 2
}

// smallPort has the faces of KettlePort and a third of its surface.
func smallPort() *Part {
	return Flange(FlangeSpec{Diameter: 60, Thickness: 6, Chamfer: 1, HubDiameter: 30, HubHeight: 5, Bore: 20,
		PitchDiameter: 46, Holes: 4})
}

func TestFusedWithoutNoiseLiesOnTheFaces(t *testing.T) {
	// Two passes of a filter of 3 samples, along three axes, and a cell's
	// diagonal: beyond 3 sqrt(3) voxels from an edge nothing sees it.
	const voxel = 0.45
	s, truth, err := Fused(t.Context(), smallPort(), FusedOptions{Seed: 3, Voxel: voxel, EdgeMargin: voxel * 5.2})
	require.NoError(t, err)
	require.NotEmpty(t, s.Triangles)
	for _, f := range truth.Faces {
		mean, sd, n := residuals(s, &truth, f)
		if n == 0 {
			assert.Contains(t, []string{"bottom", "chamfer"}, f.Role, "hidden, or narrower than the margins")
			continue
		}
		if f.Shape == Plane {
			// Smoothing and surface nets keep a plane; float32 rounds at 1e-5.
			assert.InDelta(t, 0, mean, 1e-5, f.Role)
			assert.Less(t, sd, 1e-5, f.Role)
			continue
		}
		// A Gaussian of s moves a wall of radius r by s²/(2r) toward its axis
		// (the Laplacian of the distance is 1/r): half a unit of h²/r. Cut
		// points lie on chords of up to a voxel's diagonal, so their means are
		// some tenth of a unit further in.
		shift := voxel * voxel / f.Radius
		side := -1.0
		if f.Internal {
			side = 1
		}
		assert.InDelta(t, 0.6*shift, side*mean, 0.1*shift, f.Role)
		assert.Less(t, sd, 0.1*shift, f.Role)
	}
}

// turned is a disc with a round groove in its face and a wavy underside.
func turned() *Part {
	z := r3.Vector{Z: 1}
	body := Meet(
		HalfSpace("mounting", r3.Vector{}, z),
		Rod("outer", r3.Vector{}, z, 30),
		HalfSpace("wavy", r3.Vector{Z: -12}, z.Mul(-1)),
	)
	groove := Ring("groove", r3.Vector{}, z, 20, 4)
	p := NewPart("turned", Minus(body, groove), r3.Vector{X: -30, Y: -30, Z: -14}, r3.Vector{X: 30, Y: 30}, nil)
	const k = 2 * math.Pi / 20
	return WithForm(p, Form{Kind: "waves", Max: 1.5, Slope: 1.5 * k, Height: func(q, _ r3.Vector) float64 {
		return 1.5 * math.Sin(k*q.X) * math.Sin(k*q.Y)
	}}, "wavy")
}

func TestBlendsFused(t *testing.T) {
	p := turned()
	s, truth, err := Fused(t.Context(), p, FusedOptions{Seed: 1, Voxel: 0.6, ShowHidden: true, Smooth: -1})
	require.NoError(t, err)
	for _, f := range truth.Faces {
		mean, sd, n := residuals(s, &truth, f)
		require.Greater(t, n, 500, f.Role)
		if f.Role == "wavy" {
			assert.InDelta(t, 1.5/2, sd, 0.03, "rms of a product of two sines of amplitude 1.5 mm")
			continue
		}
		// Nets sag by some tenth of h²/r; the tightest radius is 4 mm.
		assert.InDelta(t, 0, mean, 0.3*0.6*0.6/4, f.Role)
		assert.Less(t, sd, 0.2*0.6*0.6/4, f.Role)
	}
	for i, l := range truth.Labels {
		if l != LabelEdge {
			q := truth.Pose.Inverse().Apply(s.Point(int(s.Triangles[i][0])))
			require.InDelta(t, 0, p.solid.at(q), 0.03, "curvature of at most 1/4 mm, chords of a voxel")
		}
	}
}

func TestFusedIsClosedAndLooksOut(t *testing.T) {
	p := Flange(FlangeSpec{Thickness: 6, HubDiameter: 54, HubHeight: 5, Bore: 40})
	s, truth, err := Fused(t.Context(), p, FusedOptions{Seed: 5, Voxel: 0.65, Smooth: -1, ShowHidden: true})
	require.NoError(t, err)
	half := map[[2]int32]int{}
	volume, area := 0.0, 0.0
	for i, c := range s.Triangles {
		for k := range 3 {
			half[[2]int32{c[k], c[(k+1)%3]}]++
		}
		mid, n, a := triangle(s, i)
		area += a
		volume += mid.Sub(s.Origin).Dot(n) * a / 3
	}
	for e, n := range half {
		if half[[2]int32{e[1], e[0]}] != n {
			require.Fail(t, "an edge is open or its sides wind apart", "%v", e)
		}
	}
	// By hand: disc + hub - bore - six holes. Surface nets round an edge like a
	// fillet of about a voxel, r: (1-π/4) r² of volume and (2-π/2) r of area a
	// mm of its 1500 mm: 0.2 % and 1.8 % here.
	quarter := math.Pi / 4
	want := quarter * (110*110*6 + 54*54*5 - 40*40*11 - 6*6.6*6.6*6)
	assert.InEpsilon(t, want, volume, 0.003)
	wantArea := 2*quarter*(110*110-40*40-6*6.6*6.6) + math.Pi*(110*6+54*5+40*11+6*6.6*6)
	assert.InEpsilon(t, wantArea, area, 0.027)
	assert.Positive(t, count(truth)[p.FaceNamed("bottom").ID])
}

func TestFusedNoiseAsAsked(t *testing.T) {
	const sigma, voxel = 0.02, 0.45
	s, truth, err := Fused(t.Context(), smallPort(), FusedOptions{
		Seed: 11, Voxel: voxel, Noise: sigma, NoiseShare: [3]float64{1}, EdgeMargin: voxel * 5.2,
	})
	require.NoError(t, err)
	for _, f := range truth.Faces {
		mean, sd, n := residuals(s, &truth, f)
		if n < 1000 {
			continue
		}
		// The sum of squares of n values whose squares correlate over an area of
		// π L², L = 1.6 voxels, has 2 n / (π L² density) degrees of freedom, with
		// 1.5 vertices a voxel² on average over orientations; five deviations
		// of sd = sigma sqrt(1/(2 dof)) : false alarm 6e-7 a face. A wall's
		// smoothing adds less than h²/r (see above) to the mean.
		dof := float64(n) / (math.Pi * 1.6 * 1.6 * 1.5)
		assert.InEpsilon(t, sigma, sd, 5*math.Sqrt(1/(2*dof)), f.Role)
		// The mean's variance is twice that: the noise itself correlates over 2π L².
		bound := 5 * sigma * math.Sqrt(2/dof)
		if f.Shape == Cylinder {
			bound += voxel * voxel / f.Radius
		}
		assert.InDelta(t, 0, mean, bound, f.Role)
	}
}

func TestFusedLabels(t *testing.T) {
	p := workshop()
	const voxel = 0.65
	s, truth, err := Fused(t.Context(), p, FusedOptions{Seed: 2, Voxel: voxel, EdgeMargin: 1.4, Noise: 0.01, Turntable: 130, Junk: 5})
	require.NoError(t, err)
	require.Len(t, truth.Labels, len(s.Triangles))
	outliers, edges := 0, 0
	for i, l := range truth.Labels {
		mid, n, _ := triangle(s, i)
		switch l {
		case LabelOutlier:
			outliers++
			q := truth.Pose.Inverse().Apply(mid)
			assert.Greater(t, p.solid.at(q), 2*voxel, "junk floats")
		case LabelEdge:
			edges++
		default:
			f := truth.Face(l)
			if f.ID == 0 || math.Abs(f.Signed(mid)) > 0.24*voxel || n.Dot(f.Normal(mid)) < 0.8 {
				require.Fail(t, "a wrong label", "%s of %s, off by %v", f.Role, p.Name, f.Signed(mid))
			}
		}
	}
	assert.Positive(t, outliers, "junk")
	assert.Equal(t, edges, count(truth)[0])
	assert.Less(t, edges, len(s.Triangles)/2)
	for _, f := range truth.Faces {
		switch f.Role {
		case "bottom": // hidden
			assert.Zero(t, count(truth)[f.ID], f.Role)
		default:
			assert.Positive(t, count(truth)[f.ID], f.Role)
		}
	}
	// Truth itself: centres on the face, walls about the axes.
	for _, h := range truth.Holes {
		assert.InDelta(t, 0, truth.Face(h.Face).Signed(h.Centre), 1e-9)
		assert.InDelta(t, 1, h.Axis.Dot(truth.Face(h.Face).Axis), 1e-12)
		if h.Kind == "round" {
			assert.InDelta(t, h.Diameter/2, truth.Face(h.Wall).Signed(h.Centre), 1e-9)
		}
	}
}

func TestDeepWallsAreHidden(t *testing.T) {
	const voxel = 0.7
	p := Plate(PlateSpec{Length: 24, Width: 24, Thickness: 40, Extras: Extras{Holes: []HoleSpec{{Diameter: 8}}}})
	s, truth, err := Fused(t.Context(), p, FusedOptions{Seed: 1, Voxel: voxel, InPlace: true})
	require.NoError(t, err)
	// The steepest ray: a view from 70 degrees, turned 12 aside. It reaches the
	// far wall diameter * tan of its elevation down, and nothing sees deeper.
	deepest := 8 * math.Tan(math.Asin(math.Sin(70*math.Pi/180)*math.Cos(12*math.Pi/180)))
	wall, seen := p.FaceNamed("hole:X1").ID, 0
	least := 0.0
	for i, l := range truth.Labels {
		if l != wall {
			continue
		}
		mid, _, _ := triangle(s, i)
		least = min(least, mid.Z)
		if mid.Z > -4 && mid.Z < -3 {
			seen++
		}
	}
	assert.Greater(t, least, -deepest-2*voxel)
	assert.Less(t, least, -0.5*deepest, "the wall is seen to some depth")
	// A full ring, 1 mm high, at two to three triangles a voxel².
	assert.Greater(t, float64(seen), 0.9*2*math.Pi*8/(voxel*voxel))
	assert.Zero(t, count(truth)[p.FaceNamed("bottom").ID])

	_, truth, err = Fused(t.Context(), p, FusedOptions{Seed: 1, Voxel: 1.2, ShowHidden: true})
	require.NoError(t, err)
	assert.Positive(t, count(truth)[p.FaceNamed("bottom").ID])
}

func TestMissingPatches(t *testing.T) {
	whole, _, err := Fused(t.Context(), smallPort(), FusedOptions{Seed: 8, Voxel: 1.1})
	require.NoError(t, err)
	for _, missing := range []float64{0.03, 0.6} {
		s, truth, err := Fused(t.Context(), smallPort(), FusedOptions{Seed: 8, Voxel: 1.1, Missing: missing})
		require.NoError(t, err)
		assert.Len(t, truth.Labels, len(s.Triangles))
		// Counted in vertices; triangles across a patch's edge go too.
		got := 1 - float64(len(s.Triangles))/float64(len(whole.Triangles))
		assert.InDelta(t, missing, got, 0.06)
	}
}

func TestFusedSameAtAnyProcs(t *testing.T) {
	opt := FusedOptions{Seed: 9, Voxel: 2, Noise: 0.03, Missing: 0.1, Turntable: 70, Junk: 4}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	one, truth1, err := Fused(t.Context(), smallPort(), opt)
	require.NoError(t, err)
	for _, procs := range []int{5} {
		runtime.GOMAXPROCS(procs)
		two, truth2, err := Fused(t.Context(), smallPort(), opt)
		require.NoError(t, err)
		assert.Equal(t, one, two)
		assert.Equal(t, truth1, truth2)
	}
	opt.Seed++
	other, _, err := Fused(t.Context(), smallPort(), opt)
	require.NoError(t, err)
	assert.NotEqual(t, one, other)
}

func TestFusedRefuses(t *testing.T) {
	for name, opt := range map[string]FusedOptions{
		"voxel below zero":    {Voxel: -1},
		"voxel not a size":    {Voxel: math.NaN()},
		"voxel far too small": {Voxel: 1e-4},
		"noise below zero":    {Noise: -0.1},
		"noise not a size":    {Noise: math.NaN()},
		"all missing":         {Missing: 1},
		"wide smoothing":      {Smooth: 3},
		"nothing seen":        {Voxel: 2, Drop: func(r3.Vector) bool { return true }},
	} {
		_, _, err := Fused(t.Context(), KettlePort(), opt)
		assert.Error(t, err, name)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, _, err := Fused(ctx, KettlePort(), FusedOptions{})
	assert.ErrorIs(t, err, context.Canceled)
}

func BenchmarkFused(b *testing.B) {
	p := KettlePort()
	n := 0
	for b.Loop() {
		s, _, err := Fused(b.Context(), p, FusedOptions{Noise: 0.02, Missing: 0.03})
		require.NoError(b, err)
		n = len(s.Triangles)
	}
	b.ReportMetric(float64(n), "triangles")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/triangle")
}
