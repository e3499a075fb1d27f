//go:build outside

package step_test

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/step"
)

// kernel reads a file with an independent CAD kernel (Open CASCADE, of Debian's packages
// libocct-*-dev) and returns what it holds, line by line.
func kernel(t *testing.T, bodies ...step.Body) []string {
	t.Helper()
	dir := t.TempDir()
	program, file := filepath.Join(dir, "kernel"), filepath.Join(dir, "part.step")
	build := exec.Command("g++", "-w", "-O1", "-I/usr/include/opencascade",
		filepath.FromSlash("../../testdata/step/kernel.cpp"), "-o", program, "-lTKSTEP", "-lTKXSBase",
		"-lTKTopAlgo", "-lTKBRep", "-lTKG3d", "-lTKMath", "-lTKernel")
	said, err := build.CombinedOutput()
	require.NoError(t, err, "%s", said)
	out, err := os.Create(file)
	require.NoError(t, err)
	require.NoError(t, step.Write(out, step.Header{Name: "kettle port ring"}, bodies...))
	require.NoError(t, out.Close())
	facts, err := exec.Command(program, file).CombinedOutput()
	require.NoError(t, err, "%s", facts)
	return strings.Split(strings.TrimSpace(string(facts)), "\n")
}

func TestTheKernelReadsASolid(t *testing.T) {
	facts := kernel(t, ring())
	want := []string{"complaints 0", "valid 1", "solids 1", "shells 1", "faces 17"}
	assert.Equal(t, want, facts[len(facts)-17-6:][:5])
	for _, fact := range facts {
		if v, ok := strings.CutPrefix(fact, "volume "); ok {
			var volume float64
			_, err := fmt.Sscan(v, &volume)
			require.NoError(t, err)
			assert.InEpsilon(t, ringVolume(), volume, 1e-6)
		}
	}
	assert.Contains(t, facts, fmt.Sprintf("cylinder %.12f %.12f %.12f", 3.3, 42.0, 0.0))
}

func TestTheKernelReadsAShell(t *testing.T) {
	b := ring()
	b.Floors = b.Floors[:1]
	facts := kernel(t, b)
	assert.Subset(t, facts, []string{"complaints 0", "valid 1", "solids 0", "shells 2"})
}

// An adapter plate with a counterbored hole on either side: the volume is that of cylinders.
func TestTheKernelReadsAnAdapter(t *testing.T) {
	b := step.Adapter(&report.Adapter{Thickness: 10, Outside: 100, Bore: &report.AdapterBore{Diameter: 30},
		Holes: []report.AdapterHole{
			{ID: "A/H1", XY: [2]float64{35, 0}, Diameter: 6.6, Counterbore: &report.Counterbore{Diameter: 10.6, Depth: 6.5}},
			{ID: "B/H1", XY: [2]float64{0, 30}, Diameter: 6.6, Counterbore: &report.Counterbore{Diameter: 10.6, Depth: 6.5}, Below: true},
			{ID: "B/H2", XY: [2]float64{0, -30}, Diameter: 5, Thread: "M6"}}})
	facts := kernel(t, b)
	assert.Subset(t, facts, []string{"complaints 0", "valid 1", "solids 1"})
	disc := func(d, h float64) float64 { return math.Pi / 4 * d * d * h }
	want := disc(100, 10) - disc(30, 10) - 2*(disc(10.6, 6.5)+disc(6.6, 3.5)) - disc(5, 10)
	assert.InEpsilon(t, want, volumeOf(&b), 1e-12)
	points, triangles, err := b.Triangles(0.005)
	require.NoError(t, err)
	assert.InEpsilon(t, want, requireClosed(t, points, triangles), 1e-3)
	for _, fact := range facts {
		if v, ok := strings.CutPrefix(fact, "volume "); ok {
			var volume float64
			_, err := fmt.Sscan(v, &volume)
			require.NoError(t, err)
			assert.InEpsilon(t, want, volume, 1e-6)
		}
	}
}
