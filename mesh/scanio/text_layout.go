package scanio

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"

	"spotface/mesh"
)

// What a column of a text cloud holds.
const (
	roleX = iota
	roleY
	roleZ
	roleNX
	roleNY
	roleNZ
	roleOther
	xyzRoles
)

// xyzLayout is how the lines of a text cloud are built.
type xyzLayout struct {
	body      int64 // where the points start, behind header row and count
	bodyLine  int
	roles     []uint8 // of the columns up to the last that matters
	normals   bool
	comma     bool  // the decimal sign is a comma
	hard      byte  // separator that may stand for an empty field: , or ; or 0
	count     int64 // of points, where the file states it, else -1
	countLine int   // where it states it
}

// textRow is a line of the file's start and where it stands.
type textRow struct {
	at   int
	text []byte
}

// layOutXYZ learns the layout of a text cloud from its first lines.
func (in *input) layOutXYZ() error {
	l := &xyzLayout{count: -1, body: int64(in.body), bodyLine: 1}
	in.xyz = l
	var names []string // of the columns, from a header row
	namesAt := 0
	header := false              // the names are those of a row, not of a comment
	var comments, rows []textRow // the last comments before the points, and the points
	number := 0                  // of the line
	for at, line := range in.headLines() {
		t := bytes.Trim(line, " \t\r\v\f\x1a")
		next := at + len(line) + 1
		number++
		if len(rows) == layoutLines || next > len(in.head) && int64(len(in.head)) < in.size &&
			len(rows) > 0 {
			break // enough, or cut short
		}
		switch {
		case len(t) == 0:
			continue
		case isComment(t):
			if len(rows) == 0 && !header {
				comments = append(comments, textRow{at, t})
				comments = comments[max(0, len(comments)-lastComments):]
			}
			continue
		case len(rows) == 0 && !header && !startsNumber(t):
			if names = columnNames(t); names == nil {
				return in.failHead(at, "neither numbers nor column names x, y, z: "+quoted(t),
					"write numbers, or a header row that names x, y and z")
			}
			namesAt, header = at, true
		case len(rows) == 0 && header && in.unit == "" && unitOfRow(t) != "":
			in.unit = unitOfRow(t)
			in.said = string(in.unit)
		case len(rows) == 0 && l.count < 0 && isCount(t):
			l.count, _, _ = whole(t, 0)
			l.countLine = number
		default:
			rows = append(rows, textRow{at, t})
			continue
		}
		l.body, l.bodyLine = int64(min(next, len(in.head))), number+1
	}
	if len(rows) == 0 {
		return in.fail("the file holds no points", "export it again")
	}
	if what, fix := l.separate(rows); what != "" {
		return in.fail(what, fix)
	}
	if l.comma {
		in.warn("The numbers were read with a comma for the decimal sign.")
	}
	fields := l.fields(rows[0].text)
	for _, c := range slices.Backward(comments) {
		if names != nil {
			break
		}
		n := columnNames(bytes.TrimLeft(c.text, "#;/%! \t"))
		if len(n) == fields { // else it only looks like a header row
			names, namesAt = n, c.at
		}
	}
	if names != nil {
		return in.nameColumns(names, namesAt)
	}
	if fields < 2 || fields == 2 && !in.flat {
		return in.failHead(rows[0].at, fmt.Sprintf("%s of numbers where x, y, z are needed: %s",
			quantity(fields, "column"), quoted(rows[0].text)), "export points with three coordinates")
	}
	l.roles = []uint8{roleX, roleY, roleZ}[:min(fields, 3)]
	if c := l.normalColumn(rows, fields); c > 0 {
		l.normals = true
		for len(l.roles) < c {
			l.roles = append(l.roles, roleOther)
		}
		l.roles = append(l.roles, roleNX, roleNY, roleNZ)
	}
	return nil
}

// isCount reports whether a line is a whole number and nothing else.
func isCount(t []byte) bool {
	_, i, ok := whole(t, 0)
	return ok && i == len(t)
}

// separate finds out what separates columns and what the decimal sign is, or
// says what is wrong with them.
func (l *xyzLayout) separate(rows []textRow) (what, fix string) {
	var semicolon, comma, dot, gap, tight bool
	for _, row := range rows {
		semicolon = semicolon || bytes.IndexByte(row.text, ';') >= 0
		dot = dot || bytes.IndexByte(row.text, '.') >= 0
		comma = comma || bytes.IndexByte(row.text, ',') >= 0
		if words := bytes.Fields(row.text); len(words) > 1 {
			gap = true
			for _, w := range words { // 1,5 between spaces
				i := bytes.IndexByte(w, ',')
				tight = tight || i > 0 && i < len(w)-1 && bytes.Count(w, []byte{','}) == 1
			}
		}
	}
	switch {
	case semicolon:
		l.hard = ';'
		commas, points, both := decimalSigns(rows)
		if both == nil && commas && points {
			both = rows[0].text
		}
		if both != nil {
			return "commas and points both stand in numbers: " + quoted(both),
				"write decimal points, and nothing between thousands"
		}
		l.comma = commas
	case comma && gap && tight && !dot:
		l.comma = true
	case comma:
		l.hard = ','
		if !dot && decimalPairs(rows) {
			return "commas separate the columns and may be decimal signs as well: " +
					quoted(rows[0].text),
				"write decimal points, or separate columns with semicolons"
		}
	}
	return "", ""
}

// decimalSigns reports whether the numbers between semicolons have commas or
// points in them, and a number that has both.
func decimalSigns(rows []textRow) (commas, points bool, both []byte) {
	for _, row := range rows {
		for f := range bytes.SplitSeq(row.text, []byte{';'}) {
			f = bytes.TrimSpace(f)
			if len(bytes.Trim(f, "+-0123456789.,eE")) > 0 {
				continue // no number
			}
			comma, point := bytes.IndexByte(f, ',') >= 0, bytes.IndexByte(f, '.') >= 0
			if comma && point {
				both = f
			}
			commas, points = commas || comma, points || point
		}
	}
	return commas, points, both
}

// decimalPairs reports whether rows of fields between commas look like
// numbers with decimal commas: an even number of fields, of which each second
// one has only digits, two or more and as many in every row.
func decimalPairs(rows []textRow) bool {
	width := 0
	for _, row := range rows {
		f := bytes.Split(row.text, []byte{','})
		if len(f) < 4 || len(f)%2 != 0 {
			return false
		}
		for k := 1; k < len(f); k += 2 {
			w := bytes.TrimSpace(f[k])
			if width == 0 {
				width = len(w)
			}
			if len(w) < 2 || len(w) != width || len(bytes.Trim(w, "0123456789")) > 0 {
				return false
			}
		}
	}
	return true
}

// fields counts the columns of a row.
func (l *xyzLayout) fields(row []byte) int {
	n := 0
	for i := 0; i < len(row); n++ {
		var ok bool
		if i, ok = l.skipField(row, i); !ok {
			break
		}
	}
	return n
}

// normalColumn returns the first of three columns that hold a unit vector in
// every row, or 0.
func (l *xyzLayout) normalColumn(rows []textRow, fields int) int {
	for c := 3; c+3 <= fields && c < 16; c++ {
		some, all := false, true
		try := xyzLayout{comma: l.comma, hard: l.hard}
		try.roles = append(slices.Repeat([]uint8{roleOther}, c), roleNX, roleNY, roleNZ)
		for _, row := range rows {
			var v [xyzRoles]float64
			if _, ok := try.parse(row.text, 0, &v); !ok {
				continue
			}
			n := math.Sqrt(v[roleNX]*v[roleNX] + v[roleNY]*v[roleNY] + v[roleNZ]*v[roleNZ])
			// Rounded to as little as two decimals; none known is zero or NaN.
			unit := math.Abs(n-1) < 0.02
			some = some || unit
			all = all && (unit || n == 0 || math.IsNaN(n))
		}
		if some && all {
			return c
		}
	}
	return 0
}

// columnNames splits a header row into names, nil if x and y are not among
// them.
func columnNames(t []byte) []string {
	if len(t) > maxHeaderRow {
		return nil
	}
	separators := ",;\t"
	if !bytes.ContainsAny(t, separators) {
		separators = " "
	}
	var names []string
	for _, f := range strings.FieldsFunc(string(t),
		func(c rune) bool { return strings.ContainsRune(separators, c) }) {
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
	if len(t) > maxHeaderRow {
		return ""
	}
	for _, f := range strings.FieldsFunc(string(t),
		func(c rune) bool { return strings.ContainsRune(",;\t ", c) }) {
		is := unitWords[strings.ToLower(strings.Trim(f, "[]()\""))]
		if is == "" || u != "" && is != u {
			return ""
		}
		u = is
	}
	return u
}

// columnName reduces a name to x, y, z, nx, ny, nz where it means one of
// them: "X [mm]", "\"Normal_Y\"", "pos_z". A unit alone, split off by a space,
// is no name.
func columnName(f string) string {
	f = strings.ToLower(strings.Trim(f, " \"'\r"))
	if i := strings.IndexAny(f, "[("); i >= 0 {
		f = f[:i]
	}
	f = strings.Map(func(c rune) rune {
		if strings.ContainsRune("_-. :", c) {
			return -1
		}
		return c
	}, f)
	for _, axis := range []string{"x", "y", "z"} {
		switch f {
		case axis + "mm", axis + "cm", axis + "m", axis + "in", axis + "inch", axis + "ft",
			"p" + axis, "pos" + axis, "position" + axis, "point" + axis,
			axis + "coordinate", axis + "coord", "coord" + axis:
			return axis
		case "normal" + axis, axis + "normal", "norm" + axis:
			return "n" + axis
		}
	}
	return f
}

// nameColumns sets the roles from a header row.
func (in *input) nameColumns(names []string, at int) error {
	l := in.xyz
	role := map[string]uint8{"x": roleX, "y": roleY, "z": roleZ, "nx": roleNX, "ny": roleNY,
		"nz": roleNZ}
	place := map[string]int{}
	for i, n := range names {
		if _, ok := role[n]; !ok {
			continue
		}
		if _, twice := place[n]; twice {
			return in.failHead(at, "the header row names "+n+" twice", "rename the other column")
		}
		place[n] = i
	}
	if _, ok := place["z"]; !ok && !in.flat {
		return in.failHead(at, "the header row names no column z",
			"export points with three coordinates")
	}
	_, x := place["nx"]
	_, y := place["ny"]
	_, z := place["nz"]
	l.normals = x && y && z
	last := 0
	for i, n := range names {
		r, ok := role[n]
		if !ok || r >= roleNX && !l.normals {
			r = roleOther
		} else {
			last = i
		}
		l.roles = append(l.roles, r)
	}
	l.roles = l.roles[:last+1]
	return nil
}
