package segment_test

import (
	"math"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
)

// Two lengths of a shaft whose radii differ by 4 %.
func nearlyEqualShaft() *scansim.Part {
	return part("radii 4 % apart", scansim.Union(bar("less", at(0, 0, 0), ex, 10, -20, 2), bar("more", at(0, 0, 0), ex, 10.4, 0, 20)),
		at(-21, -11, -11), at(21, 11, 11))
}

func lowStep() *scansim.Part {
	return scansim.Plate(scansim.PlateSpec{Name: "half a millimetre apart", Length: 50, Width: 36, Thickness: 6, StepLength: 22, StepDepth: 0.5})
}

// A sixth of a ring, both walls seen over 60 degrees.
func sixthOfRing() *scansim.Part {
	s, c := math.Sin(math.Pi/6), math.Cos(math.Pi/6)
	ring := scansim.Minus(scansim.Disc("top", "bottom", "outer", at(0, 0, 0), 40, 10), scansim.Rod("inner", at(0, 0, 0), ez, 24))
	wedge := scansim.Meet(scansim.HalfSpace("end1", at(0, 0, 0), at(-s, c, 0)), scansim.HalfSpace("end2", at(0, 0, 0), at(-s, -c, 0)))
	return part("arcs of 60 degrees", scansim.Meet(ring, wedge), at(19, -21, -11), at(41, 21, 1))
}

// Two bars that cross askew, one thinner.
func crossedBars() *scansim.Part {
	return part("crossing cylinders", scansim.Union(bar("one", at(0, 0, 0), ex, 9, -22, 22), bar("other", at(0, 0, 0), at(0.28, 0, 0.96), 7, -22, 22)),
		at(-24, -10, -24), at(24, 10, 24))
}

// A disc with a wide chamfer and a bore.
func chamfered() *scansim.Part {
	return scansim.Flange(scansim.FlangeSpec{Name: "chamfer", Diameter: 50, Thickness: 9, Chamfer: 4, Holes: -1, Bore: 14})
}

func wavyBlock() *scansim.Part {
	return wavy(part("freeform", scansim.Meet(scansim.Box("x", "bottom", "side", at(-25, -18, -12), at(25, 18, 20)), scansim.HalfSpace(freeform, at(0, 0, 0), ez)),
		at(-26, -19, -13), at(26, 19, 5)), 3, 34)
}

// plainFlange is the part that the harmful scans are of.
func plainFlange() *scansim.Part {
	return scansim.Flange(scansim.FlangeSpec{Name: "flange", Diameter: 60, Thickness: 8, HubDiameter: 24, HubHeight: 5, Bore: 14,
		PitchDiameter: 42, HoleDiameter: 8, Holes: 4})
}

// TestSurfacesComeApart asks of noisy scans of what is easily run together, and
// of what is no surface, that each true face has one region of the right kind,
// that no region is none, and that what a cloud tells is right within its
// uncertainty. Five of the scans are taken by default and all with -tags study.
//
// The bound of 5 standard uncertainties: some 60 normal deviates exceed it by
// chance with a probability of 4e-5.
func TestSurfacesComeApart(t *testing.T) {
	fused := scansim.FusedOptions{Seed: 31, Voxel: 0.5, Noise: 0.02, ShowHidden: true}
	coarse := fused
	coarse.Voxel = 0.6
	cloud := scansim.CloudOptions{Seed: 32, Points: 12_000, Noise: 0.02, ShowHidden: true}
	// The turntable's rim and underside have no label; the scan lacks them.
	below := func(p r3.Vector) bool { return p.Z < -8.6 }
	harmed := fused
	harmed.Turntable, harmed.Junk, harmed.Missing = 90, 6, 0.02
	harmed.ShowHidden, harmed.Drop = false, below
	strewn := cloud
	strewn.Turntable, strewn.Outliers, strewn.Points = 90, 0.1, 60_000
	strewn.ShowHidden, strewn.Drop = false, below
	cases := []struct {
		part  *scansim.Part
		scan  string
		mesh  *scansim.FusedOptions
		cloud *scansim.CloudOptions
		// What the part has, and a face narrower than five spacings, the limit
		// that the package states, which may be missing.
		cylinders, cones int
		narrow           string
		// slices of a freeform surface may pass for surfaces, as doc.go says: 12 in 12
		// scans of the waves, and 11 in 12 before the last change of the finder. Of one a
		// scan on average more than five are seen in fewer than 1 in 1,000 (Poisson).
		slices int
	}{
		{part: nearlyEqualShaft(), scan: "mesh", mesh: &fused, cylinders: 2},
		{part: chamfered(), scan: "cloud", cloud: &cloud, cylinders: 2, cones: 1},
		{part: crossedBars(), scan: "cloud", cloud: &cloud, cylinders: 2},
		{part: lowStep(), scan: "cloud", cloud: &cloud},
		{part: wavyBlock(), scan: "coarse mesh", mesh: &coarse},
		// These with -tags study.
		{part: wavyBlock(), scan: "mesh", mesh: &fused, slices: 5},
		{part: plainFlange(), scan: "turntable, junk, doubled and flipped triangles", mesh: &harmed, cylinders: 7},
		{part: nearlyEqualShaft(), scan: "cloud", cloud: &cloud, cylinders: 2, narrow: "more:from"},
		{part: lowStep(), scan: "mesh", mesh: &fused},
		{part: sixthOfRing(), scan: "mesh", mesh: &fused, cylinders: 2},
		{part: sixthOfRing(), scan: "cloud", cloud: &cloud, cylinders: 2},
		{part: crossedBars(), scan: "mesh", mesh: &fused, cylinders: 2},
		{part: chamfered(), scan: "mesh", mesh: &fused, cylinders: 2, cones: 1},
		{part: wavyBlock(), scan: "cloud", cloud: &cloud},
		{part: plainFlange(), scan: "turntable, points astray", cloud: &strewn, cylinders: 7},
	}
	for _, c := range cases[:min(len(cases), trials.Draws(5, len(cases)))] {
		t.Run(c.part.Name+"/"+c.scan, func(t *testing.T) {
			var s *mesh.Scan
			var tr scansim.Truth
			var err error
			if c.mesh == &harmed {
				s, tr, err = damagedScan(t, c.part, harmed, 0.05, 0.02)
			} else if c.mesh != nil {
				s, tr, err = scansim.Fused(t.Context(), c.part, *c.mesh)
			} else {
				s, tr, err = scansim.Cloud(t.Context(), c.part, *c.cloud)
			}
			require.NoError(t, err)
			s, err = mesh.EstimateNormals(t.Context(), s, nil, 0)
			require.NoError(t, err)
			seg, err := segment.Segment(t.Context(), s, segment.Options{})
			require.NoError(t, err)
			r := scoreOf(s, &tr, seg, 0)
			t.Logf("%d points, accuracy %.4f, worst Dice %.3f, %d faces", s.Len(), r.accuracy, r.worst, r.faces)
			for _, m := range r.missing {
				assert.True(t, c.narrow != "" && strings.Contains(m, c.narrow), "missing %s", m)
			}
			if c.slices > 0 {
				assert.LessOrEqual(t, len(r.wrong), c.slices, "%v", r.wrong)
				return
			}
			assert.Empty(t, r.wrong)
			assert.Equal(t, [3]int{c.cylinders, c.cones, 0}, [3]int{len(seg.Cylinders()), len(seg.Cones()), len(seg.Spheres())}, "cylinders, cones, spheres")
			if len(r.missing) == 0 {
				assert.Greater(t, r.worst, 0.9)
			}
			for _, e := range r.errors {
				if c.cloud != nil {
					assert.Less(t, math.Abs(e.z), 5.0, "%s off by %.4f", e.what, e.mm)
				} else if math.Abs(e.z) > 5 {
					t.Logf("%s off by %.4f, z %.1f", e.what, e.mm, e.z)
				}
			}
		})
	}
}
