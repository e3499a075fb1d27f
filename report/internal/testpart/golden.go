package testpart

import (
	"flag"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "rewrite the files in testdata/golden")

var numberIn = regexp.MustCompile(`[-+]?[0-9]+(\.[0-9]+)?([eE][-+]?[0-9]+)?`)

// Golden compares got with a file of testdata/golden: the words exactly, columns
// but for their width, each number within tolerance or its 1e-9th part, since
// the last digits differ between processors.
func Golden(t testing.TB, name, got string, tolerance float64) {
	t.Helper()
	path := filepath.Join("testdata", "golden", name)
	if *update {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
		return
	}
	b, err := os.ReadFile(path)
	require.NoError(t, err, "write it with: go test -update, in the package")
	want := string(b)
	if got == want {
		return
	}
	words := func(s string) string {
		return strings.Join(strings.Fields(numberIn.ReplaceAllString(s, "0")), " ")
	}
	gl, wl := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range min(len(gl), len(wl)) {
		require.Equal(t, words(wl[i]), words(gl[i]), "%s, line %d\nwas  %s\nis   %s", name, i+1,
			wl[i], gl[i])
	}
	require.Equal(t, len(wl), len(gl), "%s: lines", name)
	g, w := numberIn.FindAllString(got, -1), numberIn.FindAllString(want, -1)
	for i := range w {
		a, _ := strconv.ParseFloat(g[i], 64)
		b, _ := strconv.ParseFloat(w[i], 64)
		assert.InDelta(t, b, a, tolerance+1e-9*math.Abs(b), "%s: number %d", name, i)
	}
}
