//go:build study

package trials

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestTableIsWritten(t *testing.T) {
	root := t.TempDir()
	tab := Table{Title: "Title", About: "About.", Head: []string{"a", "b"}, Rows: [][]string{{"1", "2"}}}
	assert.Equal(t, "# Title\n\nAbout.\n\n| a | b |\n| --- | --- |\n| 1 | 2 |\n", tab.String())
	tab.Write(t, root, "title")
	text, err := os.ReadFile(filepath.Join(root, "testdata", "studies", "title.md"))
	if *asked > 0 {
		assert.ErrorIs(t, err, os.ErrNotExist)
		return
	}
	require.NoError(t, err)
	assert.Equal(t, tab.String(), string(text))
}
