package report

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Data flows one way: a package imports only those to its left, tests apart. What
// draws or writes a heavy format lives below report, and what only the command
// needs stays out of the libraries.
func TestImportsKeepTheirDirection(t *testing.T) {
	order := []string{"mesh", "fit", "bolt", "report", "cmd"}
	rank := func(path string) int { // of a package of this module, -1 for others
		rest, ok := strings.CutPrefix(path, "spotface/")
		if !ok {
			return -1
		}
		top, _, _ := strings.Cut(rest, "/")
		return slices.Index(order, top)
	}
	// fit takes plain points: of it only fit/segment may see a scan.
	seen := 0
	for at, top := range order {
		err := filepath.WalkDir(filepath.Join("..", top), func(file string, d fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			if d.IsDir() || !strings.HasSuffix(file, ".go") || strings.HasSuffix(file, "_test.go") {
				return nil
			}
			f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
			if err != nil {
				return err
			}
			dir, err := filepath.Rel("..", filepath.Dir(file))
			if err != nil {
				return err
			}
			pkg := "spotface/" + filepath.ToSlash(dir)
			for _, im := range f.Imports {
				path, err := strconv.Unquote(im.Path.Value)
				if err != nil {
					return err
				}
				seen++
				assert.LessOrEqual(t, rank(path), at, "%s imports %s", file, path)
				if pkg == "spotface/fit" && path != "spotface/mesh/geom" && path != "spotface/mesh/parallel" {
					assert.False(t, strings.HasPrefix(path, "spotface/"), "%s imports %s: fit takes plain points", file, path)
				}
				if pkg == "spotface/report" && path != "spotface/report/budget" && path != "spotface/report/wording" {
					assert.False(t, strings.HasPrefix(path, "spotface/report/"), "%s imports %s: report stays light", file, path)
				}
				if top != "cmd" {
					assert.NotContains(t, path, "spf13/", "%s: the command's alone", file)
				}
				assert.NotContains(t, path, "testify", "%s: tests' alone", file)
			}
			return nil
		})
		require.NoError(t, err)
	}
	assert.Greater(t, seen, 50, "files were looked at")
}
