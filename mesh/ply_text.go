package mesh

import (
	"context"
	"fmt"
)

// readTextPLY reads a text body, one element a line.
func (in *input) readTextPLY(ctx context.Context, r *raw) error {
	h := in.ply
	rows, err := in.countPLY(ctx)
	if err != nil {
		return err
	}
	need, have := rows.start[len(h.elements)], rows.base[len(rows.base)-1]
	if have < need {
		return in.truncated(quantity(need, "element") + " promised, but there are only " + quantity(have, "line") + " of them")
	}
	if have > need {
		in.warn("%s after the last element were ignored.", quantity(have-need, "stray line"))
	}
	chunks := rows.text.count()
	bufs := make([][]byte, in.jobs)
	parts := make([]raw, chunks) // triangles of each chunk
	few := make([]int, chunks)
	scratch := make([]raw, in.jobs)
	err = inChunks(ctx, chunks, in.jobs, func(w, c int) error {
		b, at, err := rows.text.load(c, &bufs[w])
		if err != nil {
			return err
		}
		part := &scratch[w]
		part.tris, part.triItem, part.fileTris, part.removed = part.tris[:0], nil, 0, Removed{}
		row := rows.base[c]
		k := 0
		var corners []int32
		for i := 0; i < len(b); {
			i = skipSpace(b, i)
			if i >= len(b) || b[i] == '\n' {
				i++
				continue
			}
			for k < len(h.elements) && row >= rows.start[k+1] {
				k++
			}
			if k == len(h.elements) {
				break
			}
			e := &h.elements[k]
			end := lineEnd(b, i)
			what := ""
			switch {
			case k == h.vertex:
				what = in.plyTextPoint(r, e, int(row-rows.start[k]), b[i:end])
			case (k == h.faces || k == h.strips) && !in.exact:
				if corners, what = plyTextCorners(e, h.corners, b[i:end], corners[:0]); what != "" {
					break
				}
				if len(corners) < 3 {
					few[c]++
				} else if k == h.strips {
					part.addStrip(len(corners), func(k int) int32 { return corners[k] })
				} else {
					part.addFan(len(corners), func(k int) int32 { return corners[k] })
				}
			}
			if what != "" {
				return in.failLine(at+int64(i), fmt.Sprintf("element %s %d: %s", e.name, row-rows.start[k], what),
					"correct the line or export the scan again")
			}
			row++
			i = end + 1
		}
		parts[c] = *part
		parts[c].tris = append([][3]int32(nil), part.tris...)
		return nil
	})
	if err != nil {
		return err
	}
	lost := 0
	for _, n := range few {
		lost += n
	}
	if lost > 0 {
		in.warn("%s with fewer than three corners were skipped.", quantity(int64(lost), "face"))
	}
	return in.joinParts(r, parts)
}

// plyTextPoint parses the line of a point; it returns what is wrong.
func (in *input) plyTextPoint(r *raw, e *plyElement, n int, line []byte) string {
	h := in.ply
	var v [6]float64
	i := 0
	for p := range e.props {
		prop := &e.props[p]
		if prop.count != 0 {
			var what string
			if i, what = skipTextList(line, i, prop); what != "" {
				return what
			}
			continue
		}
		i = skipSpace(line, i)
		x, j, ok := parseNumber(line, i, '.')
		if !ok || j < len(line) && !isSpace(line[j]) {
			return wrongNumber(line, i, prop.name)
		}
		i = j
		for k := range h.at {
			if h.at[k] == p {
				v[k] = x
			}
		}
	}
	if skipSpace(line, i) < len(line) {
		return "more numbers than properties: " + quoted(line[i:])
	}
	r.set(n, v[0], v[1], v[2])
	if r.normals != nil {
		r.normals[n] = Vec32{float32(v[3]), float32(v[4]), float32(v[5])}
	}
	return ""
}

// plyTextCorners parses the line of a face into corners; it returns what is
// wrong.
func plyTextCorners(e *plyElement, list int, line []byte, corners []int32) ([]int32, string) {
	i := 0
	for p := range e.props {
		prop := &e.props[p]
		if p != list {
			if p > list {
				break // nothing more is wanted of this line
			}
			what := ""
			if prop.count != 0 {
				i, what = skipTextList(line, i, prop)
			} else if i = skipSpace(line, i); i == len(line) {
				what = wrongNumber(line, i, prop.name)
			} else {
				i += len(wordAt(line, i))
			}
			if what != "" {
				return nil, what
			}
			continue
		}
		i = skipSpace(line, i)
		n, j, ok := parseInt(line, i)
		if !ok || n < 0 || j < len(line) && !isSpace(line[j]) {
			return nil, wrongNumber(line, i, "length of "+prop.name)
		}
		i = j
		for range n {
			i = skipSpace(line, i)
			v, j, ok := parseInt(line, i)
			if !ok || j < len(line) && !isSpace(line[j]) {
				return nil, wrongNumber(line, i, prop.name)
			}
			corners = append(corners, clampIndex(v))
			i = j
		}
	}
	return corners, ""
}

// skipTextList returns the place behind a list; it says what is wrong.
func skipTextList(line []byte, i int, prop *plyProperty) (int, string) {
	i = skipSpace(line, i)
	n, j, ok := parseInt(line, i)
	if !ok || n < 0 || j < len(line) && !isSpace(line[j]) {
		return i, wrongNumber(line, i, "length of "+prop.name)
	}
	i = j
	for range n {
		i = skipSpace(line, i)
		if i == len(line) {
			return i, wrongNumber(line, i, prop.name)
		}
		i += len(wordAt(line, i))
	}
	return i, ""
}

// wrongNumber says what stands where a number should.
func wrongNumber(line []byte, i int, name string) string {
	if i >= len(line) {
		return "the line ends before property " + name
	}
	return "property " + name + " is not a number of its kind: " + quoted(wordAt(line, i))
}
