//go:build outside

package step_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
