package main

import (
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Data flows one way: each package may import only those named here, of this
// module, and nothing that only the command needs.
func TestPackagesImportOneWay(t *testing.T) {
	allowed := map[string][]string{
		"spotface/mesh/parallel":    {},
		"spotface/mesh/geom":        {},
		"spotface/mesh":             {},
		"spotface/mesh/scansim":     {"spotface/mesh"},
		"spotface/mesh/scanio":      {"spotface/mesh", "spotface/mesh/parallel"},
		"spotface/fit":              {"spotface/fit/noise"},
		"spotface/fit/noise":        {},
		"spotface/fit/robust":       {"spotface/fit"},
		"spotface/fit/form":         {"spotface/fit", "spotface/fit/noise"},
		"spotface/fit/zone":         {"spotface/fit"},
		"spotface/fit/segment":      {"spotface/mesh", "spotface/fit", "spotface/fit/noise"},
		"spotface/bolt":             {"spotface/mesh", "spotface/fit", "spotface/fit/noise", "spotface/fit/segment", "spotface/bolt/hole", "spotface/bolt/pattern"},
		"spotface/bolt/hole":        {"spotface/mesh"},
		"spotface/bolt/pattern":     {"spotface/fit"},
		"spotface/bolt/sizes":       {},
		"spotface/report":           {"spotface/mesh", "spotface/fit", "spotface/fit/form", "spotface/fit/segment", "spotface/bolt", "spotface/bolt/pattern", "spotface/bolt/sizes", "spotface/report/budget", "spotface/report/wording"},
		"spotface/report/budget":    {},
		"spotface/report/wording":   {},
		"spotface/report/plan":      {"spotface/mesh", "spotface/bolt/sizes", "spotface/report", "spotface/report/budget", "spotface/report/wording"},
		"spotface/report/check":     {"spotface/mesh", "spotface/bolt", "spotface/bolt/pattern", "spotface/report", "spotface/report/plan", "spotface/report/budget", "spotface/report/wording"},
		"spotface/report/forecast":  {"spotface/mesh", "spotface/mesh/scansim", "spotface/report", "spotface/report/plan", "spotface/report/check", "spotface/report/budget", "spotface/report/wording"},
		"spotface/report/batch":     {"spotface/report", "spotface/report/plan", "spotface/report/check", "spotface/report/wording"},
		"spotface/report/step":      {"spotface/report", "spotface/report/wording"},
		"spotface/report/drawing":   {"spotface/report", "spotface/report/wording"},
		"spotface/report/deviation": {"spotface/mesh", "spotface/mesh/scanio", "spotface/fit", "spotface/fit/segment", "spotface/report", "spotface/report/wording"},
		"spotface/report/page":      {"spotface/mesh", "spotface/fit", "spotface/fit/segment", "spotface/report", "spotface/report/batch", "spotface/report/deviation", "spotface/report/drawing", "spotface/report/wording"},

		"spotface/mesh/scansim/trials":        {}, // bounds of tests
		"spotface/mesh/scansim/formed":        {"spotface/mesh", "spotface/mesh/scansim"},
		"spotface/report/internal/testreport": {"spotface/mesh", "spotface/fit/segment", "spotface/bolt", "spotface/report", "spotface/report/internal/testpart"},
		"spotface/report/internal/testpart":   {"spotface/mesh", "spotface/fit", "spotface/fit/segment", "spotface/bolt", "spotface/bolt/pattern"},
	}
	// What every package may use.
	common := []string{"spotface/mesh/geom", "spotface/mesh/parallel"}
	list := exec.CommandContext(t.Context(), "go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "spotface/...")
	out, err := list.Output()
	require.NoError(t, err)
	for line := range strings.Lines(string(out)) {
		fields := strings.Fields(line)
		pkg, imports := fields[0], fields[1:]
		if pkg == "spotface/cmd/spotface" {
			continue // the end of the way: it may use all
		}
		may, ok := allowed[pkg]
		require.True(t, ok, "%s is new: say here what it may import", pkg)
		if !slices.Contains(common, pkg) {
			may = append(may, common...)
		}
		for _, imp := range imports {
			if strings.HasPrefix(imp, "spotface/") {
				assert.Contains(t, may, imp, "%s imports %s", pkg, imp)
			}
			if pkg != "spotface/cmd/spotface" {
				assert.NotContains(t, imp, "spf13/", "%s imports what only the command needs", pkg)
			}
			if !strings.Contains(pkg, "/test") && !strings.HasSuffix(pkg, "/trials") {
				assert.NotContains(t, imp, "testify", "%s imports what only tests need", pkg)
			}
		}
	}
}
