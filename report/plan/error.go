package plan

import (
	"cmp"
	"fmt"
	"strings"
)

// Error says what is wrong in a plan, where, and how to mend it.
type Error struct {
	File string
	// Path is the value's place in the plan, as in "bolt_circles[0].count"; empty where the
	// line says it, or the whole plan is meant.
	Path         string
	Line, Column int // counted from 1; 0 where the whole file is meant
	Message      string
}

func (e *Error) Error() string {
	where := cmp.Or(e.File, "plan") + ": "
	switch {
	case e.Line > 0:
		where += fmt.Sprintf("line %d, column %d: ", e.Line, e.Column)
	case e.Path != "":
		where += e.Path + ": "
	}
	return where + e.Message
}

// suggest returns the name of known that is nearest to got, or "" where none is
// near: at most a third of its letters, and at least one, may differ.
func suggest(got string, known []string) string {
	best, least := "", 1+max(1, len(got)/3)
	plain := func(s string) string {
		return strings.NewReplacer("-", "_", " ", "_").Replace(strings.ToLower(s))
	}
	for _, k := range known {
		if d := editDistance(plain(got), k); d < least {
			best, least = k, d
		}
	}
	return best
}

// editDistance is the least number of letters to insert, delete, replace or
// swap with the next one that turns a into b (Damerau 1964, restricted form).
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	rows := make([][]int, len(x)+1)
	for i := range rows {
		rows[i] = make([]int, len(y)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(x); i++ {
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			d := min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				d = min(d, rows[i-2][j-2]+1)
			}
			rows[i][j] = d
		}
	}
	return rows[len(x)][len(y)]
}

// unknownKey is the message for a key that does not belong.
func unknownKey(got, where string, keys []key) string {
	var known []string
	for _, k := range keys {
		known = append(known, k.name)
	}
	if s := suggest(got, known); s != "" {
		return fmt.Sprintf("unknown key %q in %s: did you mean %q?", got, where, s)
	}
	return fmt.Sprintf("unknown key %q in %s: it takes %s", got, where, strings.Join(known, ", "))
}
