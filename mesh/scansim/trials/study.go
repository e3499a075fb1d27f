//go:build study

package trials

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var asked = flag.Int("trials", 0, "trials of each row of a study, whose table is then only logged; "+
	"0 is the study's own number, and writes the table")

// Asked returns how many trials a row of a study takes: those asked for by -trials,
// or the study's own number.
func Asked(own int) int {
	if *asked > 0 {
		return *asked
	}
	return own
}

// Draws is how many draws a test takes that is its own study: those of the study.
func Draws(_, study int) int { return Asked(study) }

// Table is what a study found, of text only, so that the same numbers give the same
// bytes.
type Table struct {
	Title string
	About string // what was simulated, in full sentences, and the command that repeats it
	Head  []string
	Rows  [][]string
}

// Write logs the table, and puts it into the folder of studies, which lies at root,
// as name.md; not where other trials were asked for than the study's own.
func (tab Table) Write(t *testing.T, root, name string) {
	t.Helper()
	text := tab.String()
	t.Log("\n" + text)
	if *asked > 0 {
		return
	}
	dir := filepath.Join(root, "testdata", "studies")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".md"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// String is the table in Markdown.
func (tab Table) String() string {
	var b strings.Builder
	line := func(cells []string) { b.WriteString("| " + strings.Join(cells, " | ") + " |\n") }
	b.WriteString("# " + tab.Title + "\n\n" + tab.About + "\n\n")
	line(tab.Head)
	rule := make([]string, len(tab.Head))
	for i := range rule {
		rule[i] = "---"
	}
	line(rule)
	for _, row := range tab.Rows {
		line(row)
	}
	return b.String()
}
