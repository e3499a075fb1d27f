package mesh

import (
	"bytes"
	"fmt"
	"slices"
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
	body    int64   // where the points start, behind header row and count
	roles   []uint8 // of the columns up to the last that matters
	normals bool
	flat    bool  // two columns
	point   byte  // decimal sign
	hard    byte  // separator that may stand for an empty field: , or ; or 0
	unit    Unit  // that a row under the header row states
	count   int64 // of points, where the file states it, else -1
	atCount int64 // where it states it
}

const (
	layoutLines  = 200 // lines looked at to learn the layout
	lastComments = 8   // comments before the points that may name the columns
)

// layOutXYZ learns the layout of a text cloud from its first lines.
func (in *input) layOutXYZ() error {
	l := &xyzLayout{point: '.', count: -1, body: in.body}
	in.xyz = l
	var names []string // of the columns, from a header row
	var namesAt int64
	header := false       // the names are those of a row, not of a comment
	var comments [][]byte // the last ones before the points
	var rows [][]byte
	at := in.body
	for line := range in.headLines() {
		t := bytes.Trim(line, " \t\r\v\f\x1a")
		here := at
		at += int64(len(line)) + 1
		if at > int64(len(in.head)) && int64(len(in.head)) < in.size && len(rows) > 0 {
			break // cut short
		}
		switch {
		case len(t) == 0:
		case isComment(t):
			if len(rows) == 0 && !header {
				if len(comments) == lastComments {
					comments = slices.Delete(comments, 0, 1)
				}
				comments = append(comments, t)
			}
		case len(rows) == 0 && !header && !startsNumber(t):
			n := columnNames(t)
			if n == nil {
				return in.failLine(here, "neither numbers nor column names x, y, z: "+quoted(t),
					"write numbers, or a header row that names x, y and z")
			}
			names, namesAt, header = n, here, true
			l.body = at
		case len(rows) == 0 && header && l.unit == "" && unitOfRow(t) != "":
			l.unit = unitOfRow(t)
			l.body = at
		case len(rows) == 0 && l.count < 0 && isCount(t):
			l.count, _, _ = parseInt(t, 0)
			l.atCount = here
			l.body = at
		default:
			rows = append(rows, t[:min(len(t), headSize)])
		}
		if len(rows) == layoutLines {
			break
		}
	}
	if len(rows) == 0 {
		return in.fail("the file holds no points", "export it again")
	}
	if err := l.separate(rows); err != nil {
		err.File, err.Format, err.Offset, err.Line = in.name, in.format, -1, 0
		return err
	}
	if l.point == ',' {
		in.warn("The numbers were read with a comma for the decimal sign.")
	}
	fields := l.fields(rows[0])
	for i := len(comments) - 1; i >= 0 && names == nil; i-- {
		n := columnNames(bytes.TrimLeft(comments[i], "#;/%! \t"))
		if len(n) == fields { // else it only looks like a header row
			names, namesAt = n, in.offsetOf(comments[i])
		}
	}
	if names != nil {
		return in.nameColumns(names, namesAt)
	}
	switch {
	case fields < 2 || fields == 2 && !in.exact:
		return in.failLine(in.offsetOf(rows[0]), fmt.Sprintf("%s of numbers where x, y, z are needed: %s",
			quantity(int64(fields), "column"), quoted(rows[0])), "export points with three coordinates")
	case fields == 2:
		l.flat = true
		l.roles = []uint8{roleX, roleY}
		return nil
	}
	l.roles = []uint8{roleX, roleY, roleZ}
	if c := l.normalColumn(rows, fields); c > 0 {
		l.normals = true
		for len(l.roles) < c {
			l.roles = append(l.roles, roleOther)
		}
		l.roles = append(l.roles, roleNX, roleNY, roleNZ)
	}
	return nil
}

// offsetOf returns the byte of the file at which a part of the head stands.
func (in *input) offsetOf(part []byte) int64 {
	return int64(cap(in.head) - cap(part))
}

// isCount reports whether a line is a whole number and nothing else.
func isCount(t []byte) bool {
	_, i, ok := parseInt(t, 0)
	return ok && i == len(t)
}

// separate finds out what separates columns and what the decimal sign is.
func (l *xyzLayout) separate(rows [][]byte) *FormatError {
	var semicolon, comma, dot, gap, tight bool
	for _, row := range rows {
		semicolon = semicolon || bytes.IndexByte(row, ';') >= 0
		dot = dot || bytes.IndexByte(row, '.') >= 0
		comma = comma || bytes.IndexByte(row, ',') >= 0
		words := bytes.Fields(row)
		if len(words) > 1 {
			gap = true
			for _, w := range words {
				// 1,5 between spaces
				if i := bytes.IndexByte(w, ','); i > 0 && i < len(w)-1 && bytes.IndexByte(w[i+1:], ',') < 0 {
					tight = true
				}
			}
		}
	}
	switch {
	case semicolon:
		l.hard = ';'
		commas, points, both := decimalSigns(rows)
		if both != nil || commas && points {
			if both == nil {
				both = rows[0]
			}
			return &FormatError{What: "commas and points both stand in numbers: " + quoted(both),
				Fix: "write decimal points, and nothing between thousands"}
		}
		if commas {
			l.point = ','
		}
	case comma && gap && tight && !dot:
		l.point = ','
	case comma:
		l.hard = ','
		if !dot && decimalPairs(rows) {
			return &FormatError{What: "commas separate the columns and may be decimal signs as well: " + quoted(rows[0]),
				Fix: "write decimal points, or separate columns with semicolons"}
		}
	}
	return nil
}

// decimalSigns reports whether the numbers between semicolons have commas or
// points in them, and a number that has both.
func decimalSigns(rows [][]byte) (commas, points bool, both []byte) {
	for _, row := range rows {
		for f := range bytes.SplitSeq(row, []byte{';'}) {
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
func decimalPairs(rows [][]byte) bool {
	width := 0
	for _, row := range rows {
		f := bytes.Split(row, []byte{','})
		if len(f) < 4 || len(f)%2 != 0 {
			return false
		}
		for k := 1; k < len(f); k += 2 {
			w := bytes.TrimSpace(f[k])
			if width == 0 {
				width = len(w)
			}
			if len(w) < 2 || len(w) != width || bytes.Trim(w, "0123456789") != nil && len(bytes.Trim(w, "0123456789")) > 0 {
				return false
			}
		}
	}
	return true
}

// fields counts the columns of a row.
func (l *xyzLayout) fields(row []byte) int {
	n := 0
	for i := 0; i < len(row); {
		var ok bool
		if i, ok = l.skipField(row, i); !ok {
			break
		}
		n++
	}
	return n
}
