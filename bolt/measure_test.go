package bolt

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
)

// The kettle port: six holes, one of them 0.40 degrees off, found, named and
// placed within what is stated. A right program's deviation exceeds 4 of its
// standard uncertainties with a chance of 6e-5; 6 deviations, 6 radii and a
// pitch diameter make less than 1e-3.
func TestMeasureKettlePort(t *testing.T) {
	s, seg, truth := simulate(t, scansim.KettlePort(), scansim.FusedOptions{Seed: 3, Voxel: 0.6, Noise: 0.02, Missing: 0.04})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	byID, missed := matched(t, m, truth)
	require.Empty(t, missed)
	require.Len(t, m.Circles, 1)
	c := m.Circles[0]
	assert.Equal(t, 6, c.Nominal.Positions)
	assert.True(t, c.Nominal.Full)
	assert.InDelta(t, 60, c.Nominal.Step.Degrees(), 1e-9)
	want := truth.Patterns[0]
	assert.InDelta(t, want.FitPitchDiameter, c.PitchDiameter, 4*c.PitchU)
	require.Len(t, c.Clocking, 6)
	var worst Clocking
	for _, k := range c.Clocking {
		i := slices.IndexFunc(want.Holes, func(h int) bool { return truth.Holes[h].Name == byID[k.Hole].Name })
		require.GreaterOrEqual(t, i, 0)
		assert.InDelta(t, want.BestFit[i].Degrees(), k.Deviation.Degrees(), 4*k.U.Degrees(), k.Hole)
		assert.Less(t, k.U.Degrees(), 0.05)
		if math.Abs(k.FromOthers.Degrees()) > math.Abs(worst.FromOthers.Degrees()) {
			worst = k
		}
	}
	assert.Equal(t, "A3", byID[worst.Hole].Name, "the culprit is the third hole")
	assert.InDelta(t, 0.4, worst.FromOthers.Degrees(), 4*worst.FromOthersU.Degrees())
	for _, h := range m.Holes {
		assert.NotEqual(t, Rim, h.From, "its wall is seen")
		assert.InDelta(t, byID[h.ID].Diameter, h.Diameter, 4*h.DiameterU, h.ID)
	}

	// Frame: Z along the true axis, origin in the bore, X through the first hole.
	require.NotNil(t, m.Frame)
	require.NotNil(t, m.Bore)
	bore := seg.Cylinders()[slices.IndexFunc(seg.Cylinders(), func(c segment.Cylinder) bool { return c.ID == m.Bore.Wall })]
	assert.InDelta(t, 20, bore.Radius, 1e-9, "the bore, not the collar")
	assert.Equal(t, m.Bore.ID, m.Frame.Axis)
	assert.Less(t, m.Bore.Centre.Distance(m.Frame.Origin), 1e-9)
	assert.Equal(t, c.Clocking[0].Hole, m.Frame.Clock)
	first := m.Frame.In(m.Holes[0].Centre)
	assert.InDelta(t, 0, first.Y, 1e-9)
	assert.Greater(t, first.X, 40.0)
	assert.Less(t, m.Frame.Out(first).Distance(m.Holes[0].Centre), 1e-9)
	assert.InDelta(t, 1, m.Frame.Z.Dot(want.Axis), 1e-6)
	assert.Less(t, m.Frame.X.Cross(m.Frame.Y).Distance(m.Frame.Z), 1e-12)

	// The command's choices, of a coarser scan.
	s, seg, _ = simulate(t, scansim.KettlePort(), scansim.FusedOptions{Seed: 3, Voxel: 1.35, Noise: 0.02})
	m, err = Measure(t.Context(), s, seg, Options{Clock: "H3"})
	require.NoError(t, err)
	assert.Equal(t, "H3", m.Circles[0].Clocking[0].Hole)
	assert.Equal(t, "H3", m.Frame.Clock)
	_, err = Measure(t.Context(), s, seg, Options{Clock: "H9"})
	assert.ErrorContains(t, err, "H9")
	_, err = Measure(t.Context(), s, seg, Options{Face: "P77"})
	assert.ErrorContains(t, err, "P77")
	_, err = Measure(t.Context(), s, seg, Options{Bore: "C77"})
	assert.ErrorContains(t, err, "C77")
	m, err = Measure(t.Context(), s, seg, Options{Only: []string{"H2"}})
	require.NoError(t, err)
	assert.Len(t, m.Circles, 1, "the circle of a hole that is kept stays, with its holes")
}

// Sheet metal: no wall was scanned, only rims, which read large.
func TestMeasureRimsOnly(t *testing.T) {
	p := scansim.Flange(scansim.FlangeSpec{Diameter: 90, Thickness: 1.5, Bore: 50, PitchDiameter: 70, HoleDiameter: 6.6,
		Holes: 8, Clocking: []s1.Angle{0, 0, 0, 0.3 * s1.Degree}})
	s, seg, truth := simulate(t, p, scansim.FusedOptions{Seed: 5, Voxel: 0.3, Smooth: 0.7, Noise: 0.02,
		Drop: func(q r3.Vector) bool { return q.Z < -0.3 }})
	withoutWalls(seg, s)
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	require.NotNil(t, m.Bore)
	assert.InDelta(t, 50, m.Bore.Diameter, 4*m.Bore.DiameterU)
	m.keepOnly([]string{"B1"})
	byID, missed := matched(t, m, truth)
	require.Empty(t, missed)
	require.Len(t, m.Circles, 1)
	want := truth.Patterns[0]
	for _, k := range m.Circles[0].Clocking {
		i := slices.IndexFunc(want.Holes, func(h int) bool { return truth.Holes[h].Name == byID[k.Hole].Name })
		assert.InDelta(t, want.BestFit[i].Degrees(), k.Deviation.Degrees(), 4*k.U.Degrees(), k.Hole)
		assert.Less(t, k.U.Degrees(), 0.05)
	}
	for _, h := range m.Holes {
		assert.Equal(t, Rim, h.From)
		assert.Empty(t, h.Wall)
		assert.InDelta(t, byID[h.ID].Diameter, h.Diameter, 4*h.DiameterU, h.ID)
		assert.Less(t, h.DiameterU, 0.1, "not a guess")
		assert.Greater(t, h.RimDiameter, h.Diameter, "rims read large")
	}
	require.Len(t, m.Warnings, 1)
	assert.Contains(t, m.Warnings[0], "only the rim")
	// The simulator smooths by 0.7 voxels.
	assert.InDelta(t, 0.7*0.3, m.EdgeWidth, 0.1)
}

// A plate scanned so coarsely that its edges are as round as it is thick: what its rims
// read is off by more than a millimetre, and stated to be.
func TestRimOfACoarseScan(t *testing.T) {
	p := scansim.Flange(scansim.FlangeSpec{Diameter: 150, Thickness: 3, PitchDiameter: 110, HoleDiameter: 5.5, Holes: 6})
	s, seg, truth := found(t, p, scansim.FusedOptions{Seed: 5, Voxel: 1.1, Noise: 0.02})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	byID, missed := matched(t, m, truth)
	require.Empty(t, missed)
	for _, h := range m.Holes {
		assert.InDelta(t, byID[h.ID].Diameter, h.Diameter, 3*h.DiameterU, h.ID)
	}
}

// Slots, pockets with rounded corners, bosses and gaps are not round holes;
// countersunk, blind and small holes are.
func TestMeasureCallsOnlyHolesRound(t *testing.T) {
	p := scansim.Plate(scansim.PlateSpec{Length: 90, Width: 70, Thickness: 6, Corner: 6, StepLength: 6, StepDepth: 3, Extras: scansim.Extras{
		Holes: []scansim.HoleSpec{
			{X: -35, Y: -25, Diameter: 5}, {X: 35, Y: -25, Diameter: 5}, {X: 35, Y: 25, Diameter: 5}, {X: -33, Y: 25, Diameter: 5},
			{X: 0, Y: 20, Diameter: 8, SinkDiameter: 10}, {X: 20, Y: 0, Diameter: 4}},
		Slots:   []scansim.SlotSpec{{X: -10, Y: 0, Width: 6, Length: 9, Angle: 0.4}, {X: 0, Y: -25, Width: 6, Length: 20}},
		Pockets: []scansim.PocketSpec{{X: -28, Y: 5, Length: 12, Width: 12, Corner: 4}, {X: 20, Y: 15, Length: 8, Width: 8, Corner: 3}},
		Bosses:  []scansim.BossSpec{{X: 20, Y: -18, Diameter: 9, Height: 5}},
	}})
	s, seg, truth := simulate(t, p, scansim.FusedOptions{Seed: 2, Voxel: 0.55, Noise: 0.02, Missing: 0.05})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	_, missed := matched(t, m, truth)
	assert.Empty(t, missed)
	assert.Len(t, m.Holes, len(truth.Holes)+2, "and two pockets")
	require.Len(t, m.Studs, 1)
	assert.InDelta(t, 9, m.Studs[0].Diameter, 0.1)
	assert.Equal(t, "D1", m.Studs[0].ID)
	assert.Nil(t, m.Bore)
}

// The same of a cloud.
func TestMeasureCallsOnlyHolesRoundInACloud(t *testing.T) {
	p := scansim.Plate(scansim.PlateSpec{Length: 80, Width: 60, Thickness: 6, Extras: scansim.Extras{
		Holes:   []scansim.HoleSpec{{X: -30, Y: -20, Diameter: 5}, {X: 30, Y: 20, Diameter: 5}, {X: 0, Y: 20, Diameter: 8, SinkDiameter: 12}},
		Slots:   []scansim.SlotSpec{{X: -10, Y: 0, Width: 6, Length: 9, Angle: 0.4}, {X: 0, Y: -20, Width: 6, Length: 20}},
		Pockets: []scansim.PocketSpec{{X: 20, Y: 0, Length: 12, Width: 12, Corner: 4}},
	}})
	s, truth, err := scansim.Cloud(t.Context(), p, scansim.CloudOptions{Seed: 6, Points: 80_000, Noise: 0.04, Normals: true})
	require.NoError(t, err)
	seg, err := labelled(s, truth)
	require.NoError(t, err)
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	_, missed := matched(t, m, truth)
	assert.Empty(t, missed)
}

// Without the walls' cylinders the rims must do, and still tell slots: of noisy scans, and
// of those that show each edge only down to a ragged line a voxel below the face. No slot
// or pocket with rounded corners is called a round hole. Of round holes 139 of 144 are
// found, with other seeds. False-alarm rate: 1e-3.
func TestMeasureRimsCutOffAmongPockets(t *testing.T) {
	p := scansim.Plate(scansim.PlateSpec{Length: 100, Width: 80, Thickness: 3, Extras: scansim.Extras{
		Holes: []scansim.HoleSpec{{X: -40, Y: -30, Diameter: 6}, {X: 40, Y: 30, Diameter: 5}, {X: -40, Y: 30, Diameter: 9}},
		Slots: []scansim.SlotSpec{{X: 20, Y: -25, Width: 6, Length: 8}, {X: -15, Y: 25, Width: 6, Length: 16, Angle: 0.5},
			{X: 0, Y: -25, Width: 8, Length: 10, Angle: 1}},
		Pockets: []scansim.PocketSpec{{X: 0, Y: 0, Length: 8, Width: 8, Corner: 3}, {X: 20, Y: 0, Length: 12, Width: 12, Corner: 4},
			{X: -20, Y: 0, Length: 7, Width: 7, Corner: 2.5}, {X: 40, Y: 0, Length: 10, Width: 10, Corner: 4},
			{X: -42, Y: 0, Length: 10, Width: 10, Corner: 3}},
	}})
	found, scans := 0, trials.Of(2, 1)
	for _, seed := range []uint64{2, 5}[:scans] {
		voxel := 0.3 + 0.05*float64(seed%3)
		opt := scansim.FusedOptions{Seed: seed, Voxel: voxel, Noise: 0.04, Missing: 0.03}
		if seed < 5 {
			opt.Noise = 0.02
			opt.Drop = func(q r3.Vector) bool { return q.Z < -voxel }
		}
		s, seg, truth := simulate(t, p, opt)
		withoutWalls(seg, s)
		m, err := Measure(t.Context(), s, seg, Options{})
		require.NoError(t, err)
		_, missed := matched(t, m, truth) // fails for what is no hole
		found += 3 - len(missed)
	}
	assert.GreaterOrEqual(t, found, trials.Least(3*scans, 139.0/144, 1e-3))
}

func TestMeasurePatterns(t *testing.T) {
	for name, c := range map[string]struct {
		spec      scansim.FlangeSpec
		positions int
		full      bool
		missing   int
		studs     int
	}{
		"six, one missing": {spec: scansim.FlangeSpec{Diameter: 90, Thickness: 5, Bore: 30, PitchDiameter: 64, HoleDiameter: 7,
			Missing: []int{2}}, positions: 6, full: true, missing: 1},
		"three at 60 degrees, one odd hole, a boss": {spec: scansim.FlangeSpec{Diameter: 100, Thickness: 5, Bore: 44, PitchDiameter: 76,
			HoleDiameter: 7, Holes: 3, Spacing: 60 * s1.Degree, Extras: scansim.Extras{
				Holes: []scansim.HoleSpec{{X: -36, Y: 8, Diameter: 11}}, Bosses: []scansim.BossSpec{{X: -20, Y: -32, Diameter: 12, Height: 6}}}},
			positions: 3, studs: 1},
		"countersunk": {spec: scansim.FlangeSpec{Diameter: 80, Thickness: 8, PitchDiameter: 56, HoleDiameter: 6, Holes: 4, SinkDiameter: 11},
			positions: 4, full: true},
	} {
		t.Run(name, func(t *testing.T) {
			s, seg, truth := simulate(t, scansim.Flange(c.spec), scansim.FusedOptions{Seed: 8, Voxel: 0.7, Noise: 0.02})
			m, err := Measure(t.Context(), s, seg, Options{})
			require.NoError(t, err)
			byID, missed := matched(t, m, truth)
			assert.Empty(t, missed)
			require.Len(t, m.Circles, 1)
			got := m.Circles[0].Nominal
			assert.Equal(t, c.positions, got.Positions)
			assert.Equal(t, c.full, got.Full)
			assert.Len(t, got.Missing, c.missing)
			assert.Len(t, m.Studs, c.studs)
			for _, id := range m.Circles[0].Holes {
				assert.InDelta(t, c.spec.HoleDiameter, byID[id].Diameter, 1e-9)
			}
		})
	}
}

// Points alone: walls of a cloud with outliers.
func TestMeasureCloud(t *testing.T) {
	s, truth, err := scansim.Cloud(t.Context(), scansim.KettlePort(), scansim.CloudOptions{Seed: 1, Points: 60_000, Noise: 0.04, Outliers: 0.2})
	require.NoError(t, err)
	seg, err := labelled(s, truth)
	require.NoError(t, err)
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	byID, missed := matched(t, m, truth)
	require.Empty(t, missed)
	require.Len(t, m.Circles, 1)
	want := truth.Patterns[0]
	for _, k := range m.Circles[0].Clocking {
		i := slices.IndexFunc(want.Holes, func(h int) bool { return truth.Holes[h].Name == byID[k.Hole].Name })
		assert.InDelta(t, want.BestFit[i].Degrees(), k.Deviation.Degrees(), 4*k.U.Degrees(), k.Hole)
	}
}

// A scan without holes, or without a face, says so.
func TestMeasureNothing(t *testing.T) {
	s, seg, _ := simulate(t, scansim.Plate(scansim.PlateSpec{Length: 30, Width: 20, Thickness: 4}), scansim.FusedOptions{Seed: 1, Voxel: 0.5})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	assert.Empty(t, m.Holes)
	assert.Empty(t, m.Circles)
	require.NotNil(t, m.Frame)
	require.Len(t, m.Warnings, 1)
	assert.Contains(t, m.Warnings[0], "No holes")

	m, err = Measure(t.Context(), &mesh.Scan{}, &segment.Segmentation{}, Options{})
	require.NoError(t, err)
	assert.Nil(t, m.Frame)
	assert.Contains(t, m.Warnings[0], "No flat face")
}

func TestNumbering(t *testing.T) {
	for name, c := range map[string]struct {
		axis, first r3.Vector
	}{
		"looks along Z":  {r3.Vector{Z: 1}, r3.Vector{X: 1}},
		"looks along -Z": {r3.Vector{Z: -1}, r3.Vector{X: 1}},
		"looks along X":  {r3.Vector{X: 1}, r3.Vector{Y: 1}},
		"looks along -X": {r3.Vector{X: -1}, r3.Vector{Y: 1}},
		"looks along Y":  {r3.Vector{Y: 1}, r3.Vector{X: 1}},
	} {
		t.Run(name, func(t *testing.T) {
			second := c.axis.Cross(c.first) // a quarter turn counter-clockwise
			var holes []*candidate
			for _, deg := range []float64{200, 100, 359, 10} {
				sin, cos := math.Sincos(deg * math.Pi / 180)
				holes = append(holes, &candidate{slot: &Hole{Centre: c.first.Mul(cos).Add(second.Mul(sin)), Axis: c.axis, Diameter: deg}})
			}
			var got []float64
			for _, h := range inTurn(holes, r3.Vector{}, c.axis) {
				got = append(got, h.slot.Diameter)
			}
			assert.Equal(t, []float64{10, 100, 200, 359}, got)
		})
	}
}

// Six holes in bosses of six heights make one ring.
func TestHolesAtSeveralHeights(t *testing.T) {
	up := r3.Vector{Z: 1}
	body := []*scansim.Solid{scansim.Disc("mounting", "bottom", "outer", r3.Vector{}, 45, 6)}
	tools := []*scansim.Solid{scansim.Drill("bore", r3.Vector{}, up, 20, 0)}
	var holes []scansim.Hole
	for i := range 6 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 3)
		top := r3.Vector{X: 30 * cos, Y: 30 * sin, Z: 1 + 0.7*float64(i)}
		name := fmt.Sprint("boss", i)
		body = append(body, scansim.Disc(name+"_top", name+"_foot", name, top, 7, 3+top.Z))
		tools = append(tools, scansim.Drill("hole:"+name, top, up, 6.6, 0))
		holes = append(holes, scansim.Hole{Name: name, Kind: "round", Centre: top, Axis: up, Diameter: 6.6})
	}
	part := scansim.NewPart("bosses", scansim.Minus(scansim.Union(body...), tools...),
		r3.Vector{X: -45, Y: -45, Z: -6}, r3.Vector{X: 45, Y: 45, Z: 5}, holes)
	s, seg, truth := simulate(t, part, scansim.FusedOptions{Seed: 5, Voxel: 0.5, Noise: 0.02})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	_, missed := matched(t, m, truth)
	assert.Empty(t, missed)
	require.Len(t, m.Circles, 1)
	c := m.Circles[0]
	assert.Len(t, c.Holes, 6)
	assert.InDelta(t, 60, c.PitchDiameter, 4.5*c.PitchU)
	for _, k := range c.Clocking {
		assert.InDelta(t, 0, k.Deviation.Radians(), 4.5*k.U.Radians())
	}
}

// A plate that is bowed by twenty times the noise lies on a flat table: its holes are found,
// and no studs, be it a disc or one with round corners.
func TestBowedPlateOnATurntable(t *testing.T) {
	square := scansim.PlateSpec{Length: 50, Width: 40, Thickness: 5, Corner: 4}
	for _, x := range []float64{-15, 15} {
		for _, y := range []float64{-10, 10} {
			square.Holes = append(square.Holes, scansim.HoleSpec{X: x, Y: y, Diameter: 5.5})
		}
	}
	disc := scansim.FlangeSpec{Diameter: 50, Thickness: 5, PitchDiameter: 36, HoleDiameter: 5.5, Holes: 4}
	for name, p := range map[string]*scansim.Part{"disc": scansim.Flange(disc), "plate": scansim.Plate(square)} {
		p = scansim.WithForm(p, scansim.Bow(0.1, 20, 0.4), "*")
		s, seg, truth := found(t, p, scansim.FusedOptions{Seed: 5, Voxel: 0.68, Noise: 0.005, Turntable: 100})
		m, err := Measure(t.Context(), s, seg, Options{})
		require.NoError(t, err)
		_, missed := matched(t, m, truth)
		assert.Empty(t, missed, name)
		assert.Len(t, m.Holes, 4, name)
		assert.Empty(t, m.Studs, name)
	}
}

// Holes drilled a degree and a half off the perpendicular: their centres are where their axes
// meet the face, not those of their middles, 0.13 mm aside. The others have no tilt.
func TestTiltedHoles(t *testing.T) {
	up := r3.Vector{Z: 1}
	body := scansim.Box("mounting", "bottom", "side", r3.Vector{X: -30, Y: -20, Z: -10}, r3.Vector{X: 30, Y: 20})
	var tools []*scansim.Solid
	var holes []scansim.Hole
	for i := range 4 {
		at := r3.Vector{X: 20 * float64(i%2*2-1), Y: 12 * float64(i/2*2-1)}
		axis := up
		if i < 2 {
			axis = r3.Vector{X: math.Sin(1.5 * math.Pi / 180), Z: math.Cos(1.5 * math.Pi / 180)}
		}
		name := fmt.Sprint("A", i+1)
		tools = append(tools, scansim.Drill("hole:"+name, at, axis, 7, 0))
		holes = append(holes, scansim.Hole{Name: name, Kind: "round", Centre: at, Axis: axis, Diameter: 7})
	}
	part := scansim.NewPart("tilted", scansim.Minus(body, tools...), r3.Vector{X: -30, Y: -20, Z: -10}, r3.Vector{X: 30, Y: 20, Z: 1}, holes)
	s, seg, truth := simulate(t, part, scansim.FusedOptions{Seed: 5, Voxel: 0.54, Noise: 0.02})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	byID, missed := matched(t, m, truth)
	require.Empty(t, missed)
	for _, h := range m.Holes {
		want := byID[h.ID]
		off := h.Centre.Sub(want.Centre)
		off = off.Sub(h.Axis.Mul(off.Dot(h.Axis)))
		assert.Less(t, off.Norm(), 4*math.Sqrt(h.CentreCov[0][0]+h.CentreCov[1][1]), want.Name)
		assert.Less(t, off.Norm(), 0.06, want.Name)
		if want.Name < "A3" {
			assert.InDelta(t, 1.5, h.Tilt.Degrees(), 0.4, want.Name)
		} else {
			assert.Zero(t, h.Tilt, want.Name)
		}
	}
}

// Of a sheet no walls are seen: the opening in the middle of the pattern is the bore all
// the same, and one of the holes.
func TestBoreSeenByItsRim(t *testing.T) {
	part := scansim.Flange(scansim.FlangeSpec{Diameter: 70, Thickness: 1.2, Bore: 30, PitchDiameter: 50, HoleDiameter: 5})
	s, seg, _ := simulate(t, part, scansim.FusedOptions{Seed: 6, Voxel: 0.5, Noise: 0.02,
		Drop: func(q r3.Vector) bool { return q.Z < -0.4 }})
	withoutWalls(seg, s)
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	require.Len(t, m.Circles, 1)
	require.NotNil(t, m.Bore)
	assert.Len(t, m.Holes, 7)
	assert.Equal(t, m.Holes[6].ID, m.Bore.ID)
	assert.Equal(t, m.Bore.ID, m.Frame.Axis)
	assert.InDelta(t, 30, m.Bore.Diameter, 4.5*m.Bore.DiameterU)
	assert.Less(t, m.Bore.DiameterU, 0.2)
}

// A pattern that is asked for keeps its holes, as a circle does.
func TestAPatternKeepsItsHoles(t *testing.T) {
	m := Measurement{Holes: []Hole{{ID: "H1"}, {ID: "H2"}, {ID: "H3"}},
		Patterns: []Pattern{{ID: "G1", Holes: []string{"H1", "H2"}}, {ID: "G2", Holes: []string{"H3"}}}}
	m.keepOnly([]string{"G1"})
	assert.Len(t, m.Patterns, 1)
	assert.Equal(t, []Hole{{ID: "H1"}, {ID: "H2"}}, m.Holes)
}
