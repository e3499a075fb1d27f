package mesh

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
)

// readPLYHeader reads and checks the header.
func (in *input) readPLYHeader() error {
	h := &plyHeader{vertex: -1, faces: -1, strips: -1}
	in.ply = h
	head := in.head
	end := endOfHeader(head)
	if end < 0 && in.size > int64(len(head)) {
		head = make([]byte, min(in.size, maxPLYHeader))
		if err := in.readAt(head, 0); err != nil {
			return err
		}
		end = endOfHeader(head)
	}
	if end < 0 {
		e := in.truncated("the header has no line end_header")
		e.Line = bytes.Count(head, []byte{'\n'}) + 1
		return e
	}
	text := head[:end]
	// What ends a line: \n, \r\n, or \r alone.
	in.eol = '\n'
	if i := bytes.IndexByte(text, '\r'); i >= 0 && bytes.IndexByte(text, '\n') < 0 {
		in.eol = '\r'
	}
	after := head[end+len("end_header"):]
	skip := 0
	for skip < len(after) && (after[skip] == ' ' || after[skip] == '\t') {
		skip++
	}
	switch {
	case skip == len(after):
	case after[skip] == in.eol:
		skip++
	case after[skip] == '\r' && skip+1 < len(after) && after[skip+1] == '\n':
		skip += 2
	default:
		return in.failLine(int64(end), "end_header is followed by "+quoted(after[skip:]), "export the scan again")
	}
	h.body = int64(end + len("end_header") + skip)
	at := int64(0)
	format := false
	for line := range bytes.SplitSeq(text, []byte{in.eol}) {
		here := at
		at += int64(len(line)) + 1
		h.bodyLine++
		f := strings.Fields(string(line))
		if len(f) == 0 || h.bodyLine == 1 {
			continue
		}
		bad := func(what string) error {
			return in.failLine(here, what+": "+quoted(bytes.TrimSpace(line)), "correct the header or export the scan again")
		}
		switch f[0] {
		case "comment", "obj_info":
			h.comments = append(h.comments, strings.Join(f[1:], " "))
		case "format":
			switch {
			case len(f) < 2:
				return bad("format not stated")
			case f[1] == "ascii":
				h.ascii = true
			case f[1] == "binary_big_endian":
				h.big = true
			case f[1] != "binary_little_endian":
				return bad("unknown format")
			}
			format = true
		case "element":
			if len(f) != 3 {
				return bad("element needs a name and a count")
			}
			n, err := strconv.ParseInt(f[2], 10, 64)
			if err != nil || n < 0 {
				return bad("bad element count")
			}
			if len(h.elements) == maxPLYElements {
				return bad("more elements than any scan has")
			}
			h.elements = append(h.elements, plyElement{name: f[1], n: n})
		case "property":
			if len(h.elements) == 0 {
				return bad("property before any element")
			}
			p := plyProperty{}
			switch {
			case len(f) == 5 && f[1] == "list":
				p = plyProperty{f[4], plyTypes[f[3]], plyTypes[f[2]]}
				if p.count == 0 || !p.count.whole() {
					return bad("unknown type of a list's length")
				}
			case len(f) == 3:
				p = plyProperty{name: f[2], kind: plyTypes[f[1]]}
			default:
				return bad("property needs a type and a name")
			}
			if p.kind == 0 {
				return bad("unknown type")
			}
			e := &h.elements[len(h.elements)-1]
			e.props = append(e.props, p)
		default:
			return bad("unknown header word")
		}
	}
	in.ascii = h.ascii
	if !format {
		return in.failLine(0, "the header states no format", "add a line: format ascii 1.0")
	}
	return in.settlePLY()
}

// endOfHeader returns where the line end_header begins, or -1.
func endOfHeader(head []byte) int {
	word := []byte("end_header")
	for i := 0; ; i++ {
		k := bytes.Index(head[i:], word)
		if k < 0 {
			return -1
		}
		i += k
		if i > 0 && (head[i-1] == '\n' || head[i-1] == '\r') {
			return i
		}
	}
}

// settlePLY finds the points and faces among the elements, and holds the
// counts against the file's size.
func (in *input) settlePLY() error {
	h := in.ply
	var skipped []string
	least := h.body
	for k := range h.elements {
		e := &h.elements[k]
		switch {
		case h.vertex < 0 && (e.name == "vertex" || e.name == "vertices" || e.name == "point"):
			h.vertex = k
		case e.name == "face" && h.faces < 0 || e.name == "tristrips" && h.strips < 0:
			c := e.find("vertex_indices", "vertex_index", "vertex_indexes")
			if e.n == 0 {
				break
			}
			if c < 0 || e.props[c].count == 0 || !e.props[c].kind.whole() {
				return in.fail("element "+e.name+" has no whole-number list vertex_indices", "export the scan again")
			}
			h.corners = c
			if e.name == "face" {
				h.faces = k
			} else {
				h.strips = k
			}
		case e.n > 0:
			skipped = append(skipped, e.name)
		}
		// l*e.n cannot overflow once e.n has been held against the size.
		if l := e.least(h.ascii); l > 0 && e.n > (in.size-least)/l {
			if h.ascii && e.n <= in.size && in.size-least == l*e.n-1 {
				continue // no line end behind the last line
			}
			return in.truncated(fmt.Sprintf("the header promises %s of %d bytes or more, but only %s are left for them",
				quantity(e.n, e.name+" element"), l, quantity(max(0, in.size-least), "byte")))
		} else {
			least += l * e.n
		}
	}
	if h.vertex < 0 || h.elements[h.vertex].n == 0 {
		return in.fail("the file holds no points", "export the scan again")
	}
	v := &h.elements[h.vertex]
	if v.n > 1<<31-2 {
		return in.fail(quantity(v.n, "point")+" are more than this program can number", "thin the scan out")
	}
	for k, names := range [6][]string{{"x"}, {"y"}, {"z"}, {"nx", "normal_x"}, {"ny", "normal_y"}, {"nz", "normal_z"}} {
		h.at[k] = v.find(names...)
		if k < 3 && h.at[k] < 0 {
			return in.fail("element vertex has no property "+names[0], "export points with three coordinates")
		}
		if h.at[k] >= 0 && v.props[h.at[k]].count != 0 {
			return in.fail("property "+names[0]+" is a list", "export the scan again")
		}
	}
	if h.strips >= 0 && h.faces >= 0 {
		h.strips = -1
		skipped = append(skipped, "tristrips")
		h.corners = h.elements[h.faces].find("vertex_indices", "vertex_index", "vertex_indexes")
	}
	if len(skipped) > 0 {
		in.warn("Elements of no use here were skipped: %s.", strings.Join(skipped, ", "))
	}
	return nil
}
