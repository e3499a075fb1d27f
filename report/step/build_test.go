package step_test

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
	"spotface/report"
	"spotface/report/step"
)

// plate is a measured plate with a bore and a countersunk hole, whose walls end a little
// before its faces, as scanned ones do, and lean a little.
func plate() *report.Report {
	return &report.Report{
		Scan:  report.Scan{File: "plate.stl"},
		Frame: &report.Frame{X: report.Vec{1}, Y: report.Vec{0, 1}, Z: report.Vec{0, 0, 1}, Face: "P1"},
		Planes: []report.Plane{
			{ID: "P1", Normal: report.Vec{0, 0, 1}, Area: 8000},
			{ID: "P2", Point: report.Vec{1, 2, -10}, Normal: report.Vec{0.001, 0, -1}, Area: 8000},
		},
		Cylinders: []report.Cylinder{
			// Its centroid is not its middle.
			{ID: "C1", Side: report.External, Point: report.Vec{0, 0, -2}, Axis: report.Vec{0, 0, 1}, Diameter: 108, Extent: [2]float64{-7.5, 1.5}, ArcDeg: 360},
			{ID: "C2", Side: report.Internal, Point: report.Vec{0.01, 0, -5.1}, Axis: report.Vec{0, 0.01, 1}, Diameter: 40, Extent: [2]float64{-4.6, 4.6}, ArcDeg: 200},
			{ID: "C3", Side: report.Internal, Point: report.Vec{42, 0, -6.5}, Axis: report.Vec{0, 0, 1}, Diameter: 6.6, Extent: [2]float64{-3.2, 3.2}, ArcDeg: 360},
		},
		Cones: []report.Cone{{ID: "K1", Side: report.Internal, Apex: report.Vec{42, 0, -6.3}, Axis: report.Vec{0, 0, 1}, Point: report.Vec{42, 0, -1.5}, HalfAngleDeg: 45, Length: 2.8}},
		Holes: []report.Hole{{ID: "H1", Kind: "round", Centre: report.Vec{42, 0, 0}, Axis: report.Vec{0, 0, 1}, Diameter: 6.6, Wall: "C3"}},
	}
}

func TestAMeasuredPlateIsASolid(t *testing.T) {
	body, missing, err := step.Of(plate(), step.Options{})
	require.NoError(t, err)
	assert.Empty(t, body.Open())
	require.Len(t, missing, 2)
	assert.Equal(t, "Drawn whole, but seen in part: C2 over 200 degrees.", missing[0])
	disc := func(r, h float64) float64 { return math.Pi * r * r * h }
	frustum := math.Pi * (6.3*6.3 + 6.3*3.3 + 3.3*3.3)
	assert.InEpsilon(t, disc(54, 10)-disc(20, 10)-disc(3.3, 7)-frustum, volumeOf(&body), 1e-12)
}

// By hand: of two faces, of an outside and of a countersunk hole, each area times its own
// standard uncertainty; half of an expanded one, and a twelfth root of the form.
func TestUncertaintyOfAVolume(t *testing.T) {
	rep, flat := plate(), 0.03
	rep.Planes[0].Uncertainty.Offset = 0.004
	rep.Planes[1].Flatness = &flat
	rep.Cylinders[0].Uncertainty.Diameter = 0.02
	rep.Holes[0].Uncertainty.Diameter = 0.04
	body, missing, err := step.Of(rep, step.Options{})
	require.NoError(t, err)
	disc := func(r float64) float64 { return math.Pi * r * r }
	upper, lower := disc(54)-disc(20)-disc(6.3), disc(54)-disc(20)-disc(3.3)
	want := math.Sqrt(math.Pow(0.002*upper, 2) + math.Pow(0.03*lower, 2)/12 +
		math.Pow(0.005*2*math.Pi*54*10, 2) + math.Pow(0.01*2*math.Pi*3.3*7, 2) + math.Pow(0.01*math.Pi*9.6*3, 2))
	_, u := body.Volume()
	assert.InEpsilon(t, want, u, 1e-9)
	assert.Equal(t, "The solid's volume is 78.58 +-0.14 cm3; +- is k = 2, from its planes and cylinders, "+
		"without rounded edges.", missing[len(missing)-1])

	rep.Cylinders = append(rep.Cylinders, report.Cylinder{ID: "C9", Axis: report.Vec{1, 0, 0}})
	_, missing, err = step.Of(rep, step.Options{})
	require.NoError(t, err)
	assert.Contains(t, missing[len(missing)-1], "cm3, without what was left out;")
}

func TestWhatWasNotScannedIsSaid(t *testing.T) {
	oneSide := plate()
	oneSide.Planes = oneSide.Planes[:1]
	body, missing, err := step.Of(oneSide, step.Options{})
	require.NoError(t, err)
	assert.ElementsMatch(t, []string{"H1", "C1", "C2"}, body.Open())
	assert.Contains(t, strings.Join(missing, " "), "a shell and no solid")

	body, missing, err = step.Of(oneSide, step.Options{Thickness: 10})
	require.NoError(t, err)
	assert.Empty(t, body.Open())
	assert.Contains(t, missing[0], "the thickness that was given")

	onTable := plate()
	onTable.Planes[1].Normal = report.Vec{0, 0, 1}
	body, missing, err = step.Of(onTable, step.Options{})
	require.NoError(t, err)
	assert.Empty(t, body.Open())
	assert.Contains(t, missing[0], "P2, which the part seems to stand on")
	body, missing, err = step.Of(onTable, step.Options{Thickness: 7})
	require.NoError(t, err)
	assert.Empty(t, body.Open())
	assert.Contains(t, missing[0], "P2, which the part seems to stand on, and not where the thickness")

	_, _, err = step.Of(&report.Report{Frame: &report.Frame{}}, step.Options{})
	require.ErrorIs(t, err, step.ErrNoFaces)
	_, _, err = step.Of(&report.Report{}, step.Options{})
	require.ErrorIs(t, err, report.ErrNoFrame)
}

func TestFlatSidesAreAnOutline(t *testing.T) {
	block := plate()
	block.Cylinders = block.Cylinders[1:2]
	block.Cones, block.Holes = nil, nil
	for i, n := range []report.Vec{{1, 0, 0}, {0, 1, 0}, {-1, 0, 0}, {0, -1, 0}} {
		block.Planes = append(block.Planes, report.Plane{ID: string(rune('a' + i)),
			Point: report.Vec{60 * n[0], 40 * n[1], -5}, Normal: n, Area: 100})
	}
	body, _, err := step.Of(block, step.Options{})
	require.NoError(t, err)
	assert.Empty(t, body.Open())
	assert.InEpsilon(t, 120*80*10-math.Pi*400*10, volumeOf(&body), 1e-12)

	block.Planes = slices.Delete(block.Planes, 1, 2)
	body, _, err = step.Of(block, step.Options{Thickness: 10})
	require.NoError(t, err)
	assert.Empty(t, body.Open())
	assert.InEpsilon(t, 120*80*10-math.Pi*400*10, volumeOf(&body), 1e-12)
}

// A disc cut off 15 mm from its axis, through its bore of 40: the segments of both circles are
// gone. A disc that was seen beyond the flat is not cut: that is the side of a pocket.
func TestAFlatSideCutsTheOutline(t *testing.T) {
	disc := plate()
	disc.Cones, disc.Holes = nil, nil
	disc.Planes = append(disc.Planes, report.Plane{ID: "P3", Point: report.Vec{7, -15, -4}, Normal: report.Vec{0, -1, 0}})
	disc.Cylinders = disc.Cylinders[:2]
	const radius = 54.0
	disc.Cylinders[0].ArcDeg = 360 - 2*math.Acos(15/radius)*180/math.Pi
	body, missing, err := step.Of(disc, step.Options{})
	require.NoError(t, err)
	assert.Empty(t, body.Open())
	assert.Len(t, missing, 1, "its volume alone")
	kept := func(r float64) float64 {
		half := math.Acos(15 / r)
		return math.Pi*r*r - r*r*(half-math.Sin(half)*math.Cos(half))
	}
	assert.InEpsilon(t, 10*(kept(radius)-kept(20)), volumeOf(&body), 1e-12)

	disc.Cylinders[0].ArcDeg = 360
	body, missing, err = step.Of(disc, step.Options{})
	require.NoError(t, err)
	assert.InEpsilon(t, 10*math.Pi*(radius*radius-400), volumeOf(&body), 1e-12)
	assert.Contains(t, strings.Join(missing, " "), "Left out with what they bound")
}

// A flange that was scanned from one side, as the whole way measures it: the volume is that of
// the part within 0.1 % almost without noise, and with noise within twice the stated expanded
// uncertainty: of two scans none is beyond four standard ones, but for 1 in 8,000 times.
func TestVolumeOfASimulatedScan(t *testing.T) {
	part := scansim.Flange(scansim.FlangeSpec{Name: "flange", Diameter: 108, Thickness: 8, HubDiameter: 54, HubHeight: 5, Bore: 40,
		PitchDiameter: 84, HoleDiameter: 6.6, Holes: 6})
	for _, noise := range []float64{0.005, 0.05} {
		scan, _, err := scansim.Fused(t.Context(), part, scansim.FusedOptions{Seed: 1, Voxel: 0.7, Noise: noise})
		require.NoError(t, err)
		rep, err := report.Measure(t.Context(), scan, report.MeasureOptions{})
		require.NoError(t, err)
		body, missing, err := step.Of(rep, step.Options{Thickness: 8})
		require.NoError(t, err)
		assert.Empty(t, body.Open(), missing)
		disc := func(d, h float64) float64 { return math.Pi * d * d / 4 * h }
		want := disc(108, 8) + disc(54, 5) - disc(40, 13) - 6*disc(6.6, 8)
		volume, u := body.Volume()
		if noise < 0.01 {
			assert.InEpsilon(t, want, volume, 1e-3)
		}
		assert.InDelta(t, want, volume, 4*u, "%v", missing)
		assert.Less(t, 2*u, 5e-3*want)
		var file bytes.Buffer
		require.NoError(t, step.Write(&file, step.Header{Name: "flange"}, body))
		assert.Less(t, file.Len(), 20_000)
	}
}
