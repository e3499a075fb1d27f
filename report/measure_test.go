package report_test

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/scansim"
	"spotface/report"
	"spotface/report/internal/testpart"
	"spotface/report/plan"
)

func simulatedPort(t testing.TB) *mesh.Scan {
	t.Helper()
	s, _, err := scansim.Cloud(t.Context(), scansim.KettlePort(), scansim.CloudOptions{
		Seed: 3, Points: 20_000, Noise: 0.03, Outliers: 0.05,
	})
	require.NoError(t, err)
	s.Source.File = "kettle-port.xyz"
	return s
}

// The whole way on a simulated scan of the kettle port, whose third hole is 0.4
// degrees off clock on a pitch diameter of 84 mm.
func TestMeasureAndCheckASimulatedScan(t *testing.T) {
	s := simulatedPort(t)
	stages := map[string]bool{}
	rep, seg, err := report.MeasureSurfaces(t.Context(), s, report.MeasureOptions{Progress: func(stage string, done, total int) {
		stages[stage] = true
		assert.LessOrEqual(t, done, total)
	}})
	require.NoError(t, err)
	assert.True(t, stages["surfaces"])
	assert.True(t, stages["holes"])

	rep = judged(t, rep, testpart.Plan)
	text := textOf(t, rep)
	assert.Equal(t, report.Nonconforming, rep.Verdict, text)
	c := rep.MainCircle()
	require.NotNil(t, c)
	require.Len(t, c.Clocking, 6, text)
	assert.InDelta(t, 84, c.PitchDiameter, 0.1)
	require.NotNil(t, c.Standouts)
	require.Len(t, c.Standouts.Holes, 1, text)
	off := c.Standouts.Holes[0]
	assert.InDelta(t, 0.4, off.Deg, 2*off.DegU, "4 standard uncertainties, 6e-5")
	for _, r := range rep.Results {
		assert.NotEqual(t, report.Missing, r.Verdict, r.Feature)
	}

	// One label an item of the file, each a surface's id or "-".
	var b bytes.Buffer
	require.NoError(t, report.WriteLabels(&b, s, seg))
	lines := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
	assert.Len(t, lines, max(s.Len(), s.Source.Points))
	known := map[string]bool{"-": true}
	for _, p := range rep.Planes {
		known[p.ID] = true
	}
	for _, c := range rep.Cylinders {
		known[c.ID] = true
	}
	for _, c := range rep.Cones {
		known[c.ID] = true
	}
	for _, c := range rep.Spheres {
		known[c.ID] = true
	}
	for _, l := range lines {
		require.True(t, known[l], l)
	}

	// Measured again, by one worker: the same bytes.
	again, err := report.Measure(t.Context(), s, report.MeasureOptions{Jobs: 1})
	require.NoError(t, err)
	assert.Equal(t, jsonOf(t, rep), jsonOf(t, judged(t, again, testpart.Plan)))

	// So does the report that was saved and read back, what holes share included.
	require.NotNil(t, again.JointCovariance)
	back, err := report.ReadJSON(strings.NewReader(jsonOf(t, again)))
	require.NoError(t, err)
	assert.Equal(t, jsonOf(t, rep), jsonOf(t, judged(t, back, testpart.Plan)))

	// A plan drafted from it holds for it but for what is off.
	var draft bytes.Buffer
	require.NoError(t, plan.WriteDraft(&draft, again, plan.DraftOptions{}))
	for _, r := range judged(t, again, draft.String()).Results {
		if r.Verdict != report.Conforming {
			assert.Contains(t, r.Feature, c.Standouts.Holes[0].Hole, "%s %s", r.Feature, r.Characteristic)
		}
	}
}

func TestMeasureStops(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := report.Measure(ctx, simulatedPort(t), report.MeasureOptions{})
	assert.ErrorIs(t, err, context.Canceled)
}

func TestMeasureOfAnEmptyScan(t *testing.T) {
	rep, err := report.Measure(t.Context(), &mesh.Scan{}, report.MeasureOptions{})
	require.NoError(t, err)
	assert.Contains(t, textOf(t, rep), "No holes found")
}

// One scan may be measured from many goroutines: the race detector watches, and
// the scan is as before.
func TestMeasureDoesNotChangeTheScan(t *testing.T) {
	part := scansim.Flange(scansim.FlangeSpec{Diameter: 60, Thickness: 6, Bore: 20, PitchDiameter: 40, HoleDiameter: 6})
	for name, scan := range map[string]func() (*mesh.Scan, scansim.Truth, error){
		"cloud": func() (*mesh.Scan, scansim.Truth, error) {
			return scansim.Cloud(t.Context(), part, scansim.CloudOptions{Seed: 1, Points: 800, Noise: 0.02})
		},
		"mesh": func() (*mesh.Scan, scansim.Truth, error) {
			return scansim.Fused(t.Context(), part, scansim.FusedOptions{Seed: 1, Voxel: 3, Noise: 0.02})
		},
	} {
		s, _, err := scan()
		require.NoError(t, err)
		s.Warnings = append(slices.Clone(s.Warnings), "one", "two")[:1] // room to append to
		before := *s
		var text [2]string
		var wg sync.WaitGroup
		for i := range text {
			wg.Go(func() {
				rep, err := report.Measure(t.Context(), s, report.MeasureOptions{Jobs: 1})
				if assert.NoError(t, err) {
					text[i] = jsonOf(t, rep)
				}
			})
		}
		wg.Wait()
		assert.Equal(t, before, *s, name)
		assert.Len(t, slices.Compact(text[:]), 1, "%s: the same report each time", name)
	}
}

// A scan of a flange from above, its triangles turned at random, or mirrored
// without being turned. What cannot be known is asked about.
func TestTurnedTriangles(t *testing.T) {
	part := scansim.Flange(scansim.FlangeSpec{Diameter: 60, Thickness: 6, Bore: 20, PitchDiameter: 40, HoleDiameter: 6})
	s, _, err := scansim.Fused(t.Context(), part, scansim.FusedOptions{Seed: 1, Voxel: 0.9, Noise: 0.02})
	require.NoError(t, err)
	for name, c := range map[string]struct {
		mirror float64
		turned float64 // share of the triangles
		asked  bool
	}{
		"half turned":  {1, 0.5, false},
		"x against -x": {-1, 0, true},
	} {
		rng := rand.New(rand.NewPCG(1, 1))
		pts := make([]r3.Vector, s.Len())
		for i := range pts {
			pts[i] = s.Point(i)
			pts[i].X *= c.mirror
		}
		tris := slices.Clone(s.Triangles)
		for i, tr := range tris {
			if rng.Float64() < c.turned {
				tris[i] = [3]int32{tr[0], tr[2], tr[1]}
			}
		}
		scan, err := mesh.New(t.Context(), pts, nil, tris)
		require.NoError(t, err)
		rep, err := report.Measure(t.Context(), scan, report.MeasureOptions{})
		require.NoError(t, err)
		asked := slices.ContainsFunc(rep.Scan.Warnings, func(w string) bool { return strings.Contains(w, "inside out") })
		assert.Equal(t, c.asked, asked, "%s: %v", name, rep.Scan.Warnings)
		if !c.asked {
			assert.Len(t, rep.Holes, 6, name)
			assert.InDelta(t, c.turned*float64(len(tris)), rep.Scan.Removed.Rewound, 5*math.Sqrt(float64(len(tris))), name)
		}
	}
}
