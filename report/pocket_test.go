package report_test

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
	"spotface/report"
)

// pocketCorners scans plates with pockets, one a seed, and returns the holes that were
// invented and missed.
func pocketCorners(t *testing.T, seeds ...uint64) (invented, missed int) {
	p := scansim.Plate(scansim.PlateSpec{Length: 100, Width: 80, Thickness: 6, Extras: scansim.Extras{
		Holes: []scansim.HoleSpec{{X: -40, Y: -30, Diameter: 6}, {X: 40, Y: 30, Diameter: 5}, {X: -40, Y: 30, Diameter: 9},
			{X: 20, Y: -25, Diameter: 4}, {X: -15, Y: 25, Diameter: 7}},
		Pockets: []scansim.PocketSpec{{X: 0, Y: 0, Length: 8, Width: 8, Corner: 3}, {X: 20, Y: 0, Length: 12, Width: 12, Corner: 4},
			{X: -20, Y: 0, Length: 7, Width: 7, Corner: 2.5}, {X: 40, Y: 0, Length: 10, Width: 10, Corner: 4},
			{X: -42, Y: 0, Length: 10, Width: 10, Corner: 3}, {X: 10, Y: 20, Length: 8, Width: 8, Corner: 3},
			{X: 25, Y: 22, Length: 12, Width: 8, Corner: 3.5}},
	}})
	missed = 5 * len(seeds)
	for _, seed := range seeds {
		voxel := 0.3 + 0.05*float64((seed-500)%3)
		if testing.Short() {
			voxel *= 1.15
		}
		s, truth, err := scansim.Fused(t.Context(), p, scansim.FusedOptions{Seed: seed, Voxel: voxel,
			Noise: 0.02, Missing: 0.05})
		require.NoError(t, err)
		rep, err := report.Measure(t.Context(), s, report.MeasureOptions{})
		require.NoError(t, err)
		for _, h := range rep.Holes {
			centre := r3.Vector{X: h.Centre[0], Y: h.Centre[1], Z: h.Centre[2]}
			if h.Kind == "rectangle" {
				continue // a pocket is one
			}
			right := false
			for _, q := range truth.Holes {
				right = right || q.Kind == h.Kind && q.Centre.Distance(centre) < 0.3
			}
			if right {
				missed--
			} else {
				invented++
				t.Logf("%s of %.2f mm, %.0f degrees, by %s", h.Kind, h.Diameter+h.Width, h.ArcDeg, h.From)
			}
		}
	}
	return invented, missed
}

// The walls of a pocket's rounded corners are a quarter of a circle each, as the wall of
// a hole of which a quarter was seen; but beyond their ends the pocket's sides go on.
// In this scan a corner once passed for a hole. By the study of 40 scans, one of 280
// pockets does, and 2 % of holes are not found, where a gap runs into them.
// False-alarm rate: 1e-3 for each.
func TestCornersOfPocketsAreNoHoles(t *testing.T) {
	invented, missed := pocketCorners(t, 506)
	assert.LessOrEqual(t, invented, trials.Most(7, 1.0/280, 1e-3))
	assert.LessOrEqual(t, missed, trials.Most(5, 0.02, 1e-3))
}
