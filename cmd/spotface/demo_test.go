package main

import (
	"bytes"
	"context"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
)

// demoOnce runs "demo --keep" once for all tests that need a plan and a scan.
var demoOnce = sync.OnceValue(func() result {
	return spotfaceContext(context.Background(), "demo", "--keep", scratch, "--spacing", "0.5")
})

// savedOnce measures the demo's scan once for all tests that need its report, and returns
// where it is.
var savedOnce = sync.OnceValues(func() (string, result) {
	demoOnce()
	saved := filepath.Join(scratch, "saved.json")
	return saved, spotfaceContext(context.Background(), "measure", filepath.Join(scratch, demoScanName), "-o", saved)
})

// demoPair returns the demo's plan and scan.
func demoPair(t *testing.T) (plan, scan string) {
	t.Helper()
	r := demoOnce()
	require.Equal(t, exitConforming, r.code, r.stderr)
	return filepath.Join(scratch, demoPlanName), filepath.Join(scratch, demoScanName)
}

// The demo's truth: six holes at 60 degrees on 84 mm, the third 0.40 degrees
// off. What it keeps, the check judges the same way, and both must find that.
func TestDemoFindsTheHoleThatIsOff(t *testing.T) {
	plan, _ := demoPair(t)
	saved, r := savedOnce()
	require.Equal(t, exitConforming, r.code, r.stderr)
	r = spotface(t, "check", plan, saved, "--format", "json")
	require.Equal(t, exitNonconforming, r.code, r.stderr)
	rep := parse(t, r.stdout)
	v, err := report.NewView(&rep, report.ViewOptions{})
	require.NoError(t, err)
	var text bytes.Buffer
	require.NoError(t, report.WriteText(&text, report.TextOptions{}, v))
	assert.Contains(t, demoOnce().stdout, text.String(), "the same report as the demo's")
	assert.NotContains(t, text.String(), "texture", "the faces are flat: what they show is the scanner's")

	require.Len(t, rep.BoltCircles, 1)
	b := rep.BoltCircles[0]
	require.Len(t, b.Clocking, 6)
	require.NotNil(t, b.Nominal)
	assert.InDelta(t, 60, b.Nominal.SpacingDeg, 1e-9)
	assert.InDelta(t, 84, b.PitchDiameter, 0.05)
	assert.Equal(t, report.Nonconforming, rep.Verdict)
	off := 0
	for _, c := range b.Clocking {
		require.NotNil(t, c.FromOthersDeg)
		if *c.FromOthersDeg > 0.2 {
			off++
			assert.InDelta(t, 0.40, *c.FromOthersDeg, 0.04)
			assert.InDelta(t, 0.40*5/6, *c.DeviationDeg, 0.04)
			assert.Equal(t, report.Nonconforming, c.Verdict)
			continue
		}
		assert.InDelta(t, -0.40/6, *c.DeviationDeg, 0.04)
	}
	assert.Equal(t, 1, off)
	require.NotNil(t, rep.Surface)
	require.NotNil(t, rep.Surface.WithinBand)
	assert.InDelta(t, 0.9, *rep.Surface.WithinBand, 0.1, "most of the scan is within twice its noise")
}

func TestDemoSpeaks(t *testing.T) {
	for _, ext := range demoFiles {
		assert.FileExists(t, filepath.Join(scratch, "kettle-port"+ext))
	}
	for _, words := range []string{"simulated", "6 holes, 60 degrees apart", "degrees counter-clockwise",
		"NONCONFORMING", "A scan approves nothing", "spotface check"} {
		assert.Contains(t, demoOnce().stdout, words)
	}
	assert.Regexp(t, `0\.(39|40|41) degrees counter-clockwise`, demoOnce().stdout)
}
