package scansim

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestDamage(t *testing.T) {
	opt := FusedOptions{Seed: 8, Voxel: 1}
	whole, _, err := Fused(t.Context(), KettlePort(), opt)
	require.NoError(t, err)
	opt.Damage = Damage{Doubled: 0.1, Rewound: 0.05}
	s, truth, err := Fused(t.Context(), KettlePort(), opt)
	require.NoError(t, err)
	require.Len(t, truth.Labels, len(s.Triangles))
	n := float64(len(whole.Triangles))
	// Binomial, five deviations: false alarm 6e-7 each.
	assert.InDelta(t, 0.1*n, float64(len(s.Triangles))-n, 5*math.Sqrt(0.1*0.9*n))
	rewound := 0
	for i := range whole.Triangles {
		if whole.Triangles[i] != s.Triangles[i] {
			rewound++
		}
	}
	assert.InDelta(t, 0.05*n, float64(rewound), 5*math.Sqrt(0.05*0.95*n))

	area := func() (sum float64) {
		for i := range s.Triangles {
			_, _, a := triangle(s, i)
			sum += a
		}
		return sum
	}
	s = whole
	before := area()
	s, _ = Damage{Rewound: 1}.Apply(whole, nil, 1)
	for i, c := range whole.Triangles {
		require.Equal(t, [3]int32{c[0], c[2], c[1]}, s.Triangles[i])
	}
	s, _ = Damage{TJunctions: 0.2}.Apply(whole, nil, 1)
	assert.InDelta(t, 0.2*n, float64(len(s.Triangles))-n, 5*math.Sqrt(0.2*0.8*n))
	assert.InEpsilon(t, before, area(), 1e-6, "cutting a triangle keeps its area")
	assert.Equal(t, s.Len()-whole.Len(), len(s.Triangles)-len(whole.Triangles))
}

func TestJitter(t *testing.T) {
	s, _, err := Fused(t.Context(), KettlePort(), FusedOptions{Voxel: 2})
	require.NoError(t, err)
	moved := Jitter(s, 0.01, 1)
	far := 0.0
	for i := range s.Len() {
		far = max(far, moved.Point(i).Distance(s.Point(i)))
	}
	assert.Less(t, far, 0.01*math.Sqrt(3)+1e-5)
	assert.Greater(t, far, 0.014)
}

func TestDust(t *testing.T) {
	for _, clusters := range []int{0, 8} {
		pts := Dust(1, 2000, clusters, 100)
		require.Len(t, pts, 2000)
		assert.Equal(t, pts, Dust(1, 2000, clusters, 100))
		assert.NotEqual(t, pts, Dust(2, 2000, clusters, 100))
		// The eight octants, and nearest neighbours: uniform points lie evenly,
		// with 12 mm / 2 between neighbours; those of clusters do not.
		octants := map[[3]bool]int{}
		for _, p := range pts {
			octants[[3]bool{p.X > 0, p.Y > 0, p.Z > 0}]++
		}
		most := 0
		for _, n := range octants {
			most = max(most, n)
		}
		// 250 expected, 14.8 the standard deviation.
		assert.Equal(t, clusters == 0, most < 250+5*15)
	}
}

func TestThinKeepsTheSurface(t *testing.T) {
	p := Flange(FlangeSpec{Diameter: 80, Bore: 30, PitchDiameter: 56, HoleDiameter: 7})
	s, truth, err := Fused(t.Context(), p, FusedOptions{Seed: 2, Voxel: 1, ShowHidden: true})
	require.NoError(t, err)
	thin, labels := Thin(s, truth.Labels, 0.05)
	require.Len(t, labels, len(thin.Triangles))
	assert.InDelta(t, 0.05*float64(len(s.Triangles)), float64(len(thin.Triangles)), 2)
	// Closed, as it was: every edge once each way.
	half := map[[2]int32]int{}
	volume := [2]float64{}
	for i, c := range thin.Triangles {
		for k := range 3 {
			half[[2]int32{c[k], c[(k+1)%3]}]++
		}
		mid, n, a := triangle(thin, i)
		volume[1] += mid.Sub(s.Origin).Dot(n) * a / 3
		if f := truth.Face(labels[i]); f.ID != 0 {
			require.Greater(t, n.Dot(f.Normal(mid)), 0.5, "%v: no triangle is turned over", f.Role)
		}
	}
	for e, n := range half {
		require.Equal(t, 1, n)
		require.Equal(t, 1, half[[2]int32{e[1], e[0]}])
	}
	largest := 0.0
	for i := range s.Triangles {
		mid, n, a := triangle(s, i)
		volume[0] += mid.Sub(s.Origin).Dot(n) * a / 3
		largest = max(largest, a)
	}
	// Twenty chords round a hole of radius r leave (1 - sin(2π/20)/(2π/20)), 1.6 %,
	// of its area; of all holes' and the rim's that is half a percent here.
	assert.InEpsilon(t, volume[0], volume[1], 0.006)
	flat := 0.0 // largest triangle of the mounting face
	for i, l := range labels {
		if l == truth.Holes[0].Face {
			_, _, a := triangle(thin, i)
			flat = max(flat, a)
		}
	}
	assert.Greater(t, flat, 20*largest)
	// Vertices stay where the surface was, but for edges that smoothing rounded.
	off := 0.0
	for i := range thin.Len() {
		off = max(off, math.Abs(p.solid.at(truth.Pose.Inverse().Apply(thin.Point(i)))))
	}
	assert.Less(t, off, 0.8)
}

func TestThinHoldsBoundaries(t *testing.T) {
	p := Flange(FlangeSpec{Diameter: 60, Bore: 20, Holes: -1})
	s, truth, err := Fused(t.Context(), p, FusedOptions{Seed: 2, Voxel: 0.8, InPlace: true, ShowHidden: true,
		Drop: func(p r3.Vector) bool { return p.Z < -0.5 }})
	require.NoError(t, err)
	thin, _ := Thin(s, truth.Labels, 0.05)
	reach := func(i int) float64 { q := thin.Point(i); return math.Hypot(q.X, q.Y) }
	most, least := 0.0, 100.0
	for i := range thin.Len() {
		most, least = max(most, reach(i)), min(least, reach(i))
	}
	assert.InDelta(t, 30, most, 0.5)
	assert.InDelta(t, 10, least, 0.5)
}
