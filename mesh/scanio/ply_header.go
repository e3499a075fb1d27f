package scanio

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"spotface/mesh"
)

// PLY: a text header that lists elements and their properties, then the
// elements in that order, as text or as binary of either byte order
// (G. Turk, The PLY Polygon File Format, 1994).

// plyType is the type of a number.
type plyType struct {
	kind byte // i, u or f: signed, unsigned, floating point
	size int  // bytes
}

var plyTypes = map[string]plyType{
	"char": {'i', 1}, "int8": {'i', 1}, "uchar": {'u', 1}, "uint8": {'u', 1},
	"short": {'i', 2}, "int16": {'i', 2}, "ushort": {'u', 2}, "uint16": {'u', 2},
	"int": plyInt, "int32": plyInt, "uint": {'u', 4}, "uint32": {'u', 4},
	"int64": {'i', 8}, "uint64": {'u', 8}, // not in the paper, but written by some programs
	"float": plyFloat, "float32": plyFloat, "double": {'f', 8}, "float64": {'f', 8},
}

var plyInt, plyFloat = plyType{'i', 4}, plyType{'f', 4}

// whole reports whether numbers of the type are integers.
func (t plyType) whole() bool { return t.kind == 'i' || t.kind == 'u' }

const plyBig = "binary_big_endian"

type plyProperty struct {
	name  string
	kind  plyType
	count plyType // of a list's length; zero for a single number
	slot  int     // x, y, z, nx, ny, nz of a point: 0 to 5; -1 for others
}

type plyElement struct {
	name    string
	n       int64
	props   []plyProperty
	least   int  // bytes of one in a binary file, lists taken as empty
	lists   bool // that there are
	corners int  // the property that lists corners, or -1
}

// find returns the number of the property of one of the names, or -1.
func (e *plyElement) find(names ...string) int {
	return slices.IndexFunc(e.props, func(p plyProperty) bool {
		return slices.Contains(names, p.name)
	})
}

type plyHeader struct {
	elements []plyElement
	comments []string
	format   string
	body     int64
	vertex   *plyElement // which holds the points
	normals  bool        // of the points
	single   bool        // coordinates fit single precision
}

// readPLYHeader reads and checks the header.
func (in *input) readPLYHeader() error {
	h := &plyHeader{}
	in.ply = h
	in.ascii = true // as far as errors are concerned
	if in.head[3] == '\r' && !bytes.HasPrefix(in.head[4:], []byte{'\n'}) {
		in.cr = true
		returnsToNewlines(in.head)
	}
	if !bytes.Contains(in.head, []byte("\nend_header")) {
		return in.failAt(int64(len(in.head)), "the header has no line end_header", "").cut()
	}
	for at, line := range in.headLines() {
		f := strings.Fields(string(line))
		what := ""
		if strings.HasPrefix(f[0], "end_header") {
			h.body = min(int64(lineEnd(in.head, at)+1), in.size)
			if len(line) == len("end_header") {
				break
			}
			what = "end_header is not alone on its line"
		} else if at > 0 {
			what = h.add(f)
		}
		if what != "" {
			return in.failAt(int64(at), what+": "+quoted(line),
				"correct the header or export the scan again")
		}
	}
	if h.format == "" {
		return in.failAt(0, "the header states no format", "add a line: format ascii 1.0")
	}
	in.ascii = h.format == "ascii"
	in.cr = in.cr && in.ascii
	return in.settlePLY()
}

// add takes the words of a line of the header and returns what is wrong with
// it.
func (h *plyHeader) add(f []string) (what string) {
	n := len(f)
	switch f[0] {
	case "comment", "obj_info":
		h.comments = append(h.comments, strings.Join(f[1:], " "))
	case "format":
		h.format = f[min(1, n-1)]
		if h.format != "ascii" && h.format != "binary_little_endian" && h.format != plyBig {
			return "unknown format"
		}
	case "element":
		count, err := strconv.ParseUint(f[n-1], 10, 63)
		switch {
		case n != 3:
			return "element needs a name and a count"
		case err != nil:
			return "bad element count"
		case len(h.elements) == maxPLYElements:
			return "more elements than any scan has"
		}
		h.elements = append(h.elements, plyElement{name: f[1], n: int64(count), corners: -1})
	case "property":
		list := n == 5 && f[1] == "list"
		switch {
		case len(h.elements) == 0:
			return "property before any element"
		case n != 3 && !list:
			return "property needs a type and a name"
		}
		p := plyProperty{name: f[n-1], kind: plyTypes[f[n-2]], slot: -1}
		e := &h.elements[len(h.elements)-1]
		if list {
			p.count = plyTypes[f[2]]
			e.lists = true
			e.least += p.count.size
		} else {
			e.least += p.kind.size
		}
		switch {
		case list && !p.count.whole():
			return "unknown type of a list's length"
		case p.kind.size == 0:
			return "unknown type"
		}
		e.props = append(e.props, p)
	default:
		return "unknown header word"
	}
	return ""
}

// settlePLY finds the points and faces among the elements, and holds the
// counts against the file's size.
func (in *input) settlePLY() error {
	h := in.ply
	var skipped []string
	faces := false
	left := in.size - h.body
	for k := range h.elements {
		e := &h.elements[k]
		switch {
		case h.vertex == nil && (e.name == "vertex" || e.name == "vertices" || e.name == "point"):
			h.vertex = e
		case e.n == 0:
		case !faces && e.name == "face":
			e.corners = e.find("vertex_indices", "vertex_index", "vertex_indexes")
			if i := e.corners; i < 0 || e.props[i].count.size == 0 || !e.props[i].kind.whole() {
				return in.fail("element face has no whole-number list vertex_indices", exportAgain)
			}
			faces = true
		default:
			skipped = append(skipped, e.name)
		}
		// The fewest bytes of an element: n of them cannot overflow once the
		// count has been compared with the size.
		each := e.least
		room := left
		if in.ascii {
			each = 2 * len(e.props)
			room++ // no line end behind the last line
		}
		if each == 0 {
			e.n = 0
			continue
		}
		if e.n > room/int64(each) {
			return in.truncated(fmt.Sprintf(
				"the header promises %s of %d bytes or more, but only %s are left for them",
				mesh.Quantity(e.n, e.name+" element"), each, mesh.Quantity(max(0, left), "byte")))
		}
		left -= int64(each) * e.n
	}
	if h.vertex == nil || h.vertex.n == 0 {
		return in.fail("the file holds no points", exportAgain)
	}
	h.single = !in.ascii
	normals := 0
	for slot, name := range roleNames {
		i := h.vertex.find(name, strings.Replace(name, "n", "normal_", 1))
		switch {
		case i < 0 && slot < 3:
			return in.fail("element vertex has no property "+name, "export points with three coordinates")
		case i < 0:
			continue
		case h.vertex.props[i].count.size > 0:
			return in.fail("property "+name+" is a list", exportAgain)
		case slot >= 3:
			normals++
		}
		p := &h.vertex.props[i]
		p.slot = slot
		h.single = h.single && (slot >= 3 || p.kind == plyFloat || p.kind.size <= 2)
	}
	h.normals = normals == 3
	if len(skipped) > 0 {
		in.warn("Elements of no use here were skipped: %s.", strings.Join(skipped, ", "))
	}
	return nil
}
