package scanio

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"spotface/mesh"
)

// roleNames are what a column of a text cloud may hold: coordinates and
// normals.
var roleNames = []string{"x", "y", "z", "nx", "ny", "nz"}

// other is the role of a column that does not matter.
const other = -1

// layout is how the lines of a text cloud are built.
type layout struct {
	body    int64 // where the points start, behind header row and count
	roles   []int // of the columns up to the last that matters
	normals bool
	comma   bool  // the decimal sign is a comma
	hard    byte  // separator that may mean an empty field: , or ; or 0
	count   int64 // of points, where the file states it, else -1
	countAt int64 // where it states it
}

// layOut learns the layout of a text cloud from its first lines.
func (in *input) layOut() (*layout, error) {
	l := &layout{count: -1}
	var names []string          // of the columns, from a header row
	var comments, rows [][]byte // the last comments before the points, and the points
	namesAt, last := 0, 0       // places
	header := false             // the names are those of a row, not of a comment
	if int64(len(in.head)) < in.size {
		last = afterLines(in.head) // of a line that is cut short
	}
	for at, t := range in.headLines() {
		first := len(rows) == 0
		if len(rows) == layoutLines || !first && last > 0 && at >= last {
			break
		}
		switch {
		case isComment(t) && !(first && !header):
		case isComment(t):
			comments = append(comments, t)
		case first && !header && !startsNumber(t):
			if names = columnNames(t); names == nil {
				return nil, in.failAt(int64(at), "neither numbers nor column names x, y, z: "+quoted(t),
					"write numbers, or a header row that names x, y and z")
			}
			namesAt, header = at, true
		case first && header && in.unit == "" && unitOfRow(t) != "":
			in.unit = unitOfRow(t)
			in.said = string(in.unit)
		case first && l.count < 0 && wholeNumber.Match(t):
			n, _ := number(t)
			l.count, l.countAt = int64(n), int64(at)
		default:
			if first {
				l.body = int64(at)
			}
			rows = append(rows, t)
		}
	}
	if len(rows) == 0 {
		return nil, in.fail("the file holds no points", exportAgain)
	}
	if what, fix := l.separate(rows); what != "" {
		return nil, in.fail(what, fix)
	}
	if l.comma {
		in.warn("The numbers were read with a comma for the decimal sign.")
	}
	fields := l.fields(rows[0])
	for _, c := range comments[max(0, len(comments)-lastComments):] {
		n := columnNames(bytes.TrimLeft(c, "#;/%! \t"))
		if !header && len(n) == fields { // else it only looks like a header row
			names = n
		}
	}
	if names == nil {
		if fields < 2 || fields == 2 && !in.flat {
			return nil, in.failAt(l.body, mesh.Quantity(fields, "column")+
				" of numbers where x, y, z are needed: "+quoted(rows[0]),
				"export points with three coordinates")
		}
		names = roleNames[:min(fields, 3)]
		if c := l.normalColumn(rows, fields); c > 0 {
			names = slices.Concat(names, make([]string, c-3), roleNames[3:])
		}
	}
	return l, in.nameColumns(l, names, namesAt)
}

// nameColumns sets the roles of the columns by their names.
func (in *input) nameColumns(l *layout, names []string, at int) error {
	has := func(name string) bool { return slices.Contains(names, name) }
	l.normals = has("nx") && has("ny") && has("nz")
	if !has("z") && !in.flat {
		return in.failAt(int64(at), "the header row names no column z",
			"export points with three coordinates")
	}
	last := 0
	for i, n := range names {
		role := slices.Index(roleNames, n)
		if role >= 0 && slices.Contains(names[:i], n) {
			return in.failAt(int64(at), "the header row names "+n+" twice", "rename the other column")
		}
		if role >= 3 && !l.normals {
			role = other
		}
		if role != other {
			last = i
		}
		l.roles = append(l.roles, role)
	}
	l.roles = l.roles[:last+1]
	return nil
}

var (
	// wholeNumber is a row with a count of points.
	wholeNumber = regexp.MustCompile(`^[-+]?\d{1,18}$`)
	// tightComma finds a word with one comma, within it, next to another word.
	tightComma = regexp.MustCompile(`(?m)[ \t][^\s,]+,[^\s,]+([ \t]|$)|^[^\s,]+,[^\s,]+[ \t]`)
)

// separate finds out what separates columns and what the decimal sign is, or
// says what is wrong with them.
func (l *layout) separate(rows [][]byte) (what, fix string) {
	text := bytes.Join(rows, []byte{'\n'})
	has := func(b []byte, c byte) bool { return bytes.IndexByte(b, c) >= 0 }
	switch {
	case has(text, ';'):
		l.hard = ';'
		var both []byte
		points := false
		for _, f := range bytes.FieldsFunc(text, func(c rune) bool { return c == ';' || c == '\n' }) {
			if f = bytes.TrimSpace(f); len(bytes.Trim(f, "+-0123456789.,eE")) > 0 {
				continue // no number
			}
			if has(f, ',') && has(f, '.') {
				both = f
			}
			l.comma, points = l.comma || has(f, ','), points || has(f, '.')
		}
		if both == nil && l.comma && points {
			both = rows[0]
		}
		if both != nil {
			return "numbers hold both commas and points: " + quoted(both),
				"write decimal points, and nothing between thousands"
		}
	case has(text, ',') && !has(text, '.') && tightComma.Match(text):
		l.comma = true
	case has(text, ','):
		l.hard = ','
		if !has(text, '.') && decimalPairs(rows) {
			return "commas separate the columns and may be decimal signs as well: " + quoted(rows[0]),
				"write decimal points, or separate columns with semicolons"
		}
	}
	return "", ""
}

// decimalPairs reports whether rows of fields between commas look like
// numbers with decimal commas: an even number of fields, of which each second
// one has only digits, two or more and as many in every row.
func decimalPairs(rows [][]byte) bool {
	for digits := 2; digits <= maxDecimals; digits++ {
		pairs := regexp.MustCompile(fmt.Sprintf(`^([^,]*,\s*\d{%d}\s*(,|$)){2,}$`, digits))
		if !slices.ContainsFunc(rows, func(row []byte) bool { return !pairs.Match(row) }) {
			return true
		}
	}
	return false
}

// normalColumn returns the first of three columns that hold a unit vector in
// every row, or 0.
func (l *layout) normalColumn(rows [][]byte, fields int) int {
	for c := 3; c+3 <= min(fields, maxNormalColumn); c++ {
		some, all := false, true
		try := layout{comma: l.comma, hard: l.hard}
		try.roles = append(slices.Repeat([]int{other}, c), 3, 4, 5)
		for _, row := range rows {
			var v [6]float64
			if !try.point(&words{b: row, end: len(row)}, &v) {
				continue
			}
			n := math.Sqrt(v[3]*v[3] + v[4]*v[4] + v[5]*v[5])
			// Rounded to as little as two decimals; none known is zero or NaN.
			unit := math.Abs(n-1) < unitNormal
			some = some || unit
			all = all && (unit || n == 0 || math.IsNaN(n))
		}
		if some && all {
			return c
		}
	}
	return 0
}

// headerFields splits a header row.
func headerFields(t []byte, separators string) []string {
	return strings.FieldsFunc(string(t[:min(len(t), maxHeaderRow)]),
		func(c rune) bool { return strings.ContainsRune(separators, c) })
}

// columnNames splits a header row into names, nil if x and y are not among
// them.
func columnNames(t []byte) (names []string) {
	separators := ",;\t"
	if !bytes.ContainsAny(t, separators) {
		separators = " "
	}
	for _, f := range headerFields(t, separators) {
		if f = columnName(f); f != "" {
			names = append(names, f)
		}
	}
	if !slices.Contains(names, "x") || !slices.Contains(names, "y") {
		return nil
	}
	return names
}

// unitOfRow returns the unit where a row has nothing but one unit's name in its
// columns, as a row under a header row may.
func unitOfRow(t []byte) (u mesh.Unit) {
	for _, f := range headerFields(t, ",;\t ") {
		is := unitWords[strings.ToLower(strings.Trim(f, "[]()\""))]
		if is == "" || u != "" && is != u {
			return ""
		}
		u = is
	}
	return u
}

var (
	ignoredInName = regexp.MustCompile(`[\[(].*|[-_. :]`)
	axisName      = regexp.MustCompile(`^(?:p|pos|position|point|coord)?([xyz])` +
		`(?:mm|cm|m|in|inch|ft|coordinate|coord)?$`)
	normalName = regexp.MustCompile(`^(?:n|norm|normal)([xyz])$|^([xyz])normal$`)
)

// columnName reduces a name to x, y, z, nx, ny, nz where it means one of
// them: "X [mm]", "\"Normal_Y\"", "pos_z". A unit alone, split off by a space,
// is no name.
func columnName(f string) string {
	f = ignoredInName.ReplaceAllString(strings.ToLower(strings.Trim(f, " \"'\r")), "")
	f = axisName.ReplaceAllString(f, "$1")
	return normalName.ReplaceAllString(f, "n$1$2")
}
