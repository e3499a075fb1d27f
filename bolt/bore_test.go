package bolt

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/bolt/hole"
	"spotface/bolt/pattern"
	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/geom"
	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
)

// Where a bore meets the mounting face is known as well as a hole is, also where a
// collar keeps the bore's own mouth off that face.
//
// Errors over their standard uncertainty, two coordinates a part, are taken for normal.
// False-alarm rate: 1e-3.
func TestBoreMeetsTheFace(t *testing.T) {
	sum, n := 0.0, 0
	for seed := range uint64(trials.Of(2, 1)) {
		collar := 5 * float64(seed%2)
		spec := scansim.FlangeSpec{Diameter: 70, Thickness: 8, Bore: 24, PitchDiameter: 54, HoleDiameter: 6.6, Holes: 5}
		if collar > 0 {
			spec.HubDiameter, spec.HubHeight = 36, collar
		}
		s, seg, truth := simulate(t, scansim.Flange(spec), scansim.FusedOptions{Seed: 60 + seed, Voxel: 0.94, Noise: 0.02})
		m, err := Measure(t.Context(), s, seg, Options{})
		require.NoError(t, err)
		b := m.Bore
		require.NotNil(t, b)
		assert.Equal(t, m.Frame.Face, b.Face)
		assert.Equal(t, m.Frame.Axis, b.Wall)
		assert.Less(t, b.Centre.Distance(m.Frame.Origin), 1e-12)
		assert.InDelta(t, 1, b.Axis.Dot(m.Frame.Z), 1e-12)
		assert.InDelta(t, 24, b.Diameter, 4*b.DiameterU)
		off := b.Centre.Sub(truth.Patterns[0].Centre)
		x, y := geom.Basis(b.Axis)
		c := b.CentreCov
		dx, dy := off.Dot(x), off.Dot(y)
		sum += (c[1][1]*dx*dx - 2*c[0][1]*dx*dy + c[0][0]*dy*dy) / (c[0][0]*c[1][1] - c[0][1]*c[0][1])
		n += 2
	}
	low, high := trials.RMS(n, 1e-3)
	assert.Less(t, math.Sqrt(sum/float64(n)), high)
	assert.Greater(t, math.Sqrt(sum/float64(n)), low)
}

// The covariance of where a leaning axis meets the face against that of the axis by
// differences.
func TestBoreByAxis(t *testing.T) {
	axis := r3.Vector{X: 0.3, Y: -0.2, Z: 1}.Normalize()
	c := segment.Cylinder{Surface: segment.Surface{ID: "C1", Arc: 2 * math.Pi * s1.Radian}}
	c.Cylinder = fit.Cylinder{Point: r3.Vector{X: 3, Y: 4, Z: -6}, Axis: axis, Radius: 12}
	// A covariance: L Lᵀ of any L.
	l := [5][5]float64{{3e-3}, {1e-3, 2e-3}, {2e-4, -1e-4, 3e-4}, {-1e-4, 2e-4, 1e-4, 2e-4}, {1e-3, 1e-3, 0, 1e-4, 2e-3}}
	for i := range l {
		for j := range l {
			for k := range l {
				c.Cov[i][j] += l[i][k] * l[j][k]
			}
		}
	}
	sheet := newFlat(r3.Vector{Z: 2}, r3.Vector{Z: 1})
	f := &finder{scan: &mesh.Scan{}}
	h := f.boreByAxis(&arranged{mounting: &face{id: "P1", flat: sheet}, bore: &c})
	assert.InDelta(t, 2, h.Centre.Z, 1e-12)
	assert.InDelta(t, 0, h.Centre.Sub(c.Point).Cross(axis).Norm(), 1e-12)

	e1, e2 := geom.Basis(axis)
	moved := func(k int, by float64) r3.Vector {
		p, d := c.Point, axis
		switch k {
		case 0:
			p = p.Add(e1.Mul(by))
		case 1:
			p = p.Add(e2.Mul(by))
		case 2:
			d = d.Add(e1.Mul(by))
		case 3:
			d = d.Add(e2.Mul(by))
		}
		return meet(p, d, sheet)
	}
	var by [2][5]float64
	const step = 1e-6
	for k := range 5 {
		d := moved(k, step).Sub(moved(k, -step)).Mul(1 / (2 * step))
		x, y := geom.Basis(sheet.n)
		by[0][k], by[1][k] = d.Dot(x), d.Dot(y)
	}
	for i := range 2 {
		for j := range 2 {
			want := 0.0
			for k := range 5 {
				for m := range 5 {
					want += by[i][k] * by[j][m] * c.Cov[k][m]
				}
			}
			assert.InDelta(t, want, h.CentreCov[i][j], 1e-4*math.Sqrt(h.CentreCov[0][0]*h.CentreCov[1][1]))
		}
	}
}

// A bore of which little is seen says so; where it is too little to hold it perpendicular to the
// face, its own axis gives its place, with the correction of fusing.
func TestBorePoorlySeen(t *testing.T) {
	spec := scansim.FlangeSpec{Diameter: 60, Thickness: 8, Bore: 24, PitchDiameter: 46, HoleDiameter: 6.6, Holes: 5}
	for _, c := range []struct {
		to     float64 // rad, from -π
		square bool
	}{{-0.9, true}, {-2.25, false}} {
		s, seg, _ := simulate(t, scansim.Flange(spec), scansim.FusedOptions{Seed: 3, Voxel: 0.7, Noise: 0.02,
			Drop: func(q r3.Vector) bool { return math.Hypot(q.X, q.Y) < 16 && math.Atan2(q.Y, q.X) > c.to }})
		m, err := Measure(t.Context(), s, seg, Options{Bore: seg.Cylinders()[slices.IndexFunc(seg.Cylinders(), func(c segment.Cylinder) bool {
			return c.Internal && c.Radius > 10
		})].ID})
		require.NoError(t, err)
		require.NotNil(t, m.Bore)
		assert.Greater(t, m.Bore.UnseenU, 0.0)
		if c.square { // what labels make of a scan has no arc
			assert.Less(t, m.Bore.Arc.Degrees(), 180.0)
			assert.Contains(t, m.Warnings, fmt.Sprintf("The main bore %s, the frame's origin, shows only %.0f degrees of its circumference.", m.Bore.ID, m.Bore.Arc.Degrees()))
		}
		byAxis := slices.ContainsFunc(m.Warnings, func(w string) bool { return strings.Contains(w, "its own axis meets the face") })
		assert.Equal(t, !c.square, byAxis)
	}
}

// A cylinder that is not perpendicular to the mounting face is no bore of it.
func TestBoreNotSquare(t *testing.T) {
	spec := scansim.FlangeSpec{Diameter: 60, Thickness: 8, Bore: 24, PitchDiameter: 46, HoleDiameter: 6.6, Holes: 5}
	s, seg, _ := simulate(t, scansim.Flange(spec), scansim.FusedOptions{Seed: 4, Voxel: 0.9, Noise: 0.02})
	cross := seg.Cylinders()[0]
	cross.Axis = cross.Axis.Ortho()
	cross.ID, cross.Fit = "C99", cross.CylinderFit
	seg.Surfaces = append(seg.Surfaces, cross.Surface)
	_, err := Measure(t.Context(), s, seg, Options{Bore: "C99"})
	assert.ErrorContains(t, err, "bore C99: its axis is not square to the face P")
}

// Holes of one drill are one class, a bore is another, and where sizes go up in small
// steps there is none to divide at.
func TestByRadius(t *testing.T) {
	for name, c := range map[string]struct {
		radii []float64
		want  []int
	}{
		"bore":        {[]float64{12, 3.3, 3.31, 3.29}, []int{3, 1}},
		"two drills":  {[]float64{2.498, 2.5, 2.5, 4.99, 4.992, 4.998, 5.001, 5.003, 5.004}, []int{3, 6}},
		"alike":       {[]float64{2.5, 4.9}, []int{2}},
		"small steps": {[]float64{2, 2.3, 2.7, 3.1, 3.6, 4.1}, []int{6}},
		"none":        {nil, nil},
	} {
		var cs []*candidate
		for _, r := range c.radii {
			cs = append(cs, &candidate{series: series{of: hole.Circle(0, 0, r)}})
		}
		var got []int
		for _, class := range divide(cs, likeRadius, clearGap, (*candidate).seriesRadius) {
			got = append(got, len(class))
		}
		assert.Equal(t, c.want, got, name)
	}
}

// Of a flange of two holes the distance between them is stated, the bore half way is the main
// one, and X runs through the first hole. Four standard uncertainties: false-alarm rate 1e-4.
func TestTwoBoltFlange(t *testing.T) {
	p := scansim.Flange(scansim.FlangeSpec{Diameter: 60, Thickness: 8, Bore: 18, PitchDiameter: 40, HoleDiameter: 6.6, Holes: 2})
	s, seg, _ := simulate(t, p, scansim.FusedOptions{Seed: 3, Voxel: 0.6, Noise: 0.02})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	require.Len(t, m.Patterns, 1)
	g := m.Patterns[0]
	assert.Equal(t, pattern.Line, g.Kind)
	assert.Equal(t, []string{"H1", "H2"}, g.Holes)
	assert.InDelta(t, 40, g.Pitch[0], 4*g.PitchU[0])
	assert.Less(t, g.PitchU[0], 0.05)
	require.NotNil(t, m.Bore)
	assert.InDelta(t, 18, m.Bore.Diameter, 4*m.Bore.DiameterU)
	require.Len(t, m.Holes, 2, "the bore is none")
	assert.Equal(t, m.Bore.ID, m.Frame.Axis)
	assert.Equal(t, "H1", m.Frame.Clock)
	assert.InDelta(t, 0, m.Frame.In(m.Holes[0].Centre).Y, 1e-9)
}

// Two holes of a block's end, blind, do not make that its mounting face, nor a pattern.
func TestPairOfAnotherFace(t *testing.T) {
	var tools []*scansim.Solid
	for i, d := range []float64{5, 7, 9} {
		tools = append(tools, scansim.Drill(fmt.Sprint("hole:A", i), r3.Vector{X: -15 + 13*float64(i), Y: float64(i * i)}, r3.Vector{Z: 1}, d, 0))
		if i < 2 {
			tools = append(tools, scansim.Drill(fmt.Sprint("hole:B", i), r3.Vector{X: 26, Y: -7 + 14*float64(i), Z: -6}, r3.Vector{X: 1}, 6, 8))
		}
	}
	lo, hi := r3.Vector{X: -26, Y: -14, Z: -12}, r3.Vector{X: 26, Y: 14}
	part := scansim.NewPart("block", scansim.Minus(scansim.Box("mounting", "bottom", "side", lo, hi), tools...), lo, hi, nil)
	s, seg, _ := found(t, part, scansim.FusedOptions{Seed: 3, Voxel: 0.6, Noise: 0.02})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	assert.Len(t, m.Holes, 5)
	assert.Empty(t, m.Patterns)
	for _, h := range m.Holes {
		if h.Diameter > 6.5 {
			assert.InDelta(t, 1, math.Abs(m.Frame.Z.Dot(h.Axis)), 1e-3)
		}
	}
}

// X runs through the first stud as it does through the first hole.
func TestClockingStud(t *testing.T) {
	p := scansim.Plate(scansim.PlateSpec{Length: 44, Width: 26, Thickness: 4, Extras: scansim.Extras{
		Bosses: []scansim.BossSpec{{X: -13, Y: -3, Diameter: 8, Height: 8}, {X: 13, Y: 3, Diameter: 8, Height: 8}}}})
	s, seg, _ := simulate(t, p, scansim.FusedOptions{Seed: 3, Voxel: 0.6, Noise: 0.02})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	require.Len(t, m.Studs, 2)
	assert.Equal(t, "D1", m.Frame.Clock)
	assert.InDelta(t, 0, m.Frame.In(m.Studs[0].Centre).Y, 1e-9)
}
