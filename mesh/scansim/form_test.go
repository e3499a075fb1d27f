package scansim

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// bentRing is a ring whose face is a saddle and whose rim is oval, as by hand in
// the tests.
func bentRing() *Part {
	p := Flange(FlangeSpec{Diameter: 80, Thickness: 14, Bore: 30, PitchDiameter: 56, HoleDiameter: 7, Holes: 5})
	saddle := Form{Kind: "saddle", Max: 0.2, Slope: 0.01, Height: func(p, n r3.Vector) float64 {
		return n.Z * standsOff("mounting", p)
	}}
	p = WithForm(p, saddle, "mounting", "bottom")
	return WithForm(p, Lobes(2, 0.1, r3.Vector{}, 50*s1.Degree), "outer")
}

// standsOff is how far a point of bentRing's face or rim is from its ideal one.
func standsOff(role string, q r3.Vector) float64 {
	r, a := math.Hypot(q.X, q.Y), math.Atan2(q.Y, q.X)
	if role == "mounting" {
		return 0.2 * (r / 40) * (r / 40) * math.Cos(2*(a-20*math.Pi/180))
	}
	return 0.1 * math.Cos(2*(a-50*math.Pi/180))
}

func TestCloudShowsForm(t *testing.T) {
	s, truth, err := Cloud(t.Context(), bentRing(), CloudOptions{Seed: 3, Points: 4000, Normals: true, InPlace: true})
	require.NoError(t, err)
	n := 0
	for i, l := range truth.Labels {
		f := truth.Face(l)
		if f.Role != "mounting" && f.Role != "outer" {
			continue
		}
		n++
		q := s.Point(i)
		require.InDelta(t, standsOff(f.Role, q), f.Signed(q), 1e-5, "float32 rounds at 1e-5")
		// The normal leans by the slope of the form, to within its own rounding.
		lean := f.Normal(q).Sub(s.Normal(i)).Norm()
		require.Less(t, lean, 0.011, "2 x 0.2/40 at most")
		if f.Role == "mounting" && math.Hypot(q.X, q.Y) > 35 {
			require.Greater(t, lean, 0.008)
		}
	}
	assert.Greater(t, n, 2500)
}

func TestFusedMeshShowsForm(t *testing.T) {
	s, truth, err := Fused(t.Context(), bentRing(), FusedOptions{Seed: 3, Voxel: 0.9, EdgeMargin: 0.9 * 5.2, InPlace: true})
	require.NoError(t, err)
	seen := map[string]int{}
	for i, l := range truth.Labels {
		f := truth.Face(l)
		if f.Role != "mounting" && f.Role != "outer" {
			continue
		}
		seen[f.Role]++
		q := s.Point(int(s.Triangles[i][0]))
		// Smoothing moves a wall inward by half a voxel's square over the radius
		// (see TestFusedWithoutNoiseLiesOnTheFaces): 0.013 mm.
		require.InDelta(t, standsOff(f.Role, q), f.Signed(q), 0.016, f.Role)
	}
	assert.Greater(t, seen["mounting"], 3000)
	assert.Greater(t, seen["outer"], 200)
}

func TestFormBounds(t *testing.T) {
	for name, f := range map[string]Form{
		"lobes": Lobes(5, 0.07, r3.Vector{}, 1), "bow": Bow(0.3, 40, 1), "texture": Texture(1, 0.2, 2, 5),
		"dents": Dents(Dent{Centre: r3.Vector{X: 20}, Radius: 5, Depth: 0.3}, Dent{Centre: r3.Vector{X: 24}, Radius: 5, Depth: 0.2, Rim: 0.1}),
	} {
		for range 1000 {
			a, r := rand.Float64()*7, rand.Float64()*40
			foot := r3.Vector{X: r * math.Cos(a), Y: r * math.Sin(a)}
			require.LessOrEqual(t, math.Abs(f.Height(foot, r3.Vector{Z: 1})), f.Max+1e-12, name)
		}
	}
}

// Points lie on the formed face, and nowhere else.
func TestPointsOfFormedFaces(t *testing.T) {
	p := bentRing()
	for _, role := range []string{"mounting", "outer"} {
		f := p.FaceNamed(role)
		pts := p.Points(f.ID, 3000)
		require.Len(t, pts, 3000)
		for _, q := range pts {
			require.InDelta(t, standsOff(role, q), f.Signed(q), 1e-9, role)
			require.InDelta(t, 0, p.solid.at(q), 1e-9, role)
		}
	}
	assert.Empty(t, p.Points(200, 10))
}

func TestTexture(t *testing.T) {
	f := Texture(4, 0.25, 1, 5)
	// Over 20 x 20 mm: within its peak, near it somewhere, mean near zero;
	// neighbours 0.1 mm apart agree, points 1 mm apart do so in part.
	var sum, square, near, far float64
	n := 0.0
	top := 0.0
	for i := range 100 {
		for k := range 100 {
			p := r3.Vector{X: float64(i) * 0.6, Y: float64(k) * 0.6}
			h := f.Height(p, r3.Vector{Z: 1})
			top = max(top, math.Abs(h))
			sum += h
			square += h * h
			near += h * f.Height(p.Add(r3.Vector{X: 0.1}), r3.Vector{})
			far += h * f.Height(p.Add(r3.Vector{X: 20}), r3.Vector{})
			n++
		}
	}
	assert.LessOrEqual(t, top, 0.25)
	assert.Greater(t, top, 0.2)
	assert.InDelta(t, 0, sum/n, 0.04)
	assert.InDelta(t, 0.1, math.Sqrt(square/n), 0.02)
	assert.Greater(t, near/square, 0.95)
	assert.Less(t, math.Abs(far/square), 0.3)
}

func TestFormNeedsAFace(t *testing.T) {
	_, _, err := Cloud(t.Context(), WithForm(KettlePort(), Bow(0.1, 50, 0), "rim"), CloudOptions{})
	require.ErrorContains(t, err, "bow")
}
