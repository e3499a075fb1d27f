package scanio

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strconv"
	"strings"
)

// PLY: a text header that lists elements and their properties, then the
// elements in that order, as text or as binary of either byte order
// (G. Turk, The PLY Polygon File Format, 1994).

// plyType is the type of a number.
type plyType uint8

const (
	plyInt8 plyType = iota + 1
	plyUint8
	plyInt16
	plyUint16
	plyFloat32 // and those before have values that single precision holds
	plyInt32
	plyUint32
	plyInt64
	plyUint64
	plyFloat64
)

var plyTypes = map[string]plyType{
	"char": plyInt8, "int8": plyInt8, "uchar": plyUint8, "uint8": plyUint8,
	"short": plyInt16, "int16": plyInt16, "ushort": plyUint16, "uint16": plyUint16,
	"int": plyInt32, "int32": plyInt32, "uint": plyUint32, "uint32": plyUint32,
	// Not in the paper, but written by some programs.
	"int64": plyInt64, "uint64": plyUint64,
	"float": plyFloat32, "float32": plyFloat32, "double": plyFloat64, "float64": plyFloat64,
}

// size returns the bytes of a binary number.
func (t plyType) size() int { return [...]int{0, 1, 1, 2, 2, 4, 4, 4, 8, 8, 8}[t] }

// whole reports whether numbers of the type are integers.
func (t plyType) whole() bool { return t != plyFloat32 && t != plyFloat64 }

type plyProperty struct {
	name  string
	kind  plyType
	count plyType // of a list's length; 0 for a single number
	slot  int     // x, y, z, nx, ny, nz of a point: 0 to 5; -1 for others
}

type plyElement struct {
	name    string
	n       int64
	props   []plyProperty
	corners int  // the property that lists corners, or -1
	strips  bool // of triangle strips, not of polygons
}

// stride returns the bytes of one element in a binary file, lists taken as
// empty, and whether there are none.
func (e *plyElement) stride() (n int, fixed bool) {
	fixed = true
	for _, p := range e.props {
		if p.count == 0 {
			n += p.kind.size()
		} else {
			n, fixed = n+p.count.size(), false
		}
	}
	return n, fixed
}

// find returns the number of the property of the first name that exists, or -1.
func (e *plyElement) find(names ...string) int {
	for _, n := range names {
		for i, p := range e.props {
			if p.name == n {
				return i
			}
		}
	}
	return -1
}

type plyHeader struct {
	elements []plyElement
	comments []string
	order    binary.ByteOrder
	body     int64
	bodyLine int
	vertex   *plyElement // which holds the points
	normals  bool        // of the points
	single   bool        // coordinates fit single precision
}

// readPLYHeader reads and checks the header.
func (in *input) readPLYHeader() error {
	h := &plyHeader{}
	in.ply = h
	in.ascii = true // as far as errors are concerned
	end := endOfHeader(in.head)
	if end < 0 && in.size > int64(len(in.head)) {
		in.head = make([]byte, min(in.size, maxPLYHeader))
		if err := in.readAt(in.head, 0); err != nil {
			return err
		}
		end = endOfHeader(in.head)
	}
	if end < 0 {
		return in.failHead(len(in.head), "the header has no line end_header", "").cut()
	}
	text := in.head[:end]
	in.eol = '\n'
	if bytes.IndexByte(text, '\n') < 0 {
		in.eol = '\r'
	}
	line, _, whole := bytes.Cut(in.head[end:], []byte{in.eol})
	if t := bytes.TrimRight(line, " \t\r"); len(t) > len("end_header") {
		return in.failHead(end, "end_header is followed by "+quoted(t[len("end_header"):]),
			"export the scan again")
	}
	h.body = int64(end + len(line))
	if whole {
		h.body++
	}
	at := 0
	format := ""
	for line := range bytes.SplitSeq(text, []byte{in.eol}) {
		here := at
		at += len(line) + 1
		h.bodyLine++
		f := strings.Fields(string(line))
		if len(f) == 0 || h.bodyLine == 1 {
			continue
		}
		what := ""
		switch f[0] {
		case "comment", "obj_info":
			h.comments = append(h.comments, strings.Join(f[1:], " "))
		case "format":
			if len(f) > 1 {
				format = f[1]
			}
			if format != "ascii" && format != "binary_big_endian" && format != "binary_little_endian" {
				what = "unknown format"
			}
		case "element":
			what = h.addElement(f)
		case "property":
			what = h.addProperty(f)
		default:
			what = "unknown header word"
		}
		if what != "" {
			return in.failHead(here, what+": "+quoted(bytes.TrimSpace(line)),
				"correct the header or export the scan again")
		}
	}
	if format == "" {
		return in.failHead(0, "the header states no format", "add a line: format ascii 1.0")
	}
	in.ascii = format == "ascii"
	h.order = binary.LittleEndian
	if format == "binary_big_endian" {
		h.order = binary.BigEndian
	}
	return in.settlePLY()
}

// addElement and addProperty take a line of the header and return what is
// wrong with it.
func (h *plyHeader) addElement(f []string) (what string) {
	if len(f) != 3 {
		return "element needs a name and a count"
	}
	n, err := strconv.ParseInt(f[2], 10, 64)
	switch {
	case err != nil || n < 0:
		return "bad element count"
	case len(h.elements) == maxPLYElements:
		return "more elements than any scan has"
	}
	h.elements = append(h.elements, plyElement{name: f[1], n: n, corners: -1})
	return ""
}

func (h *plyHeader) addProperty(f []string) (what string) {
	if len(h.elements) == 0 {
		return "property before any element"
	}
	p := plyProperty{slot: -1}
	switch {
	case len(f) == 5 && f[1] == "list":
		p.name, p.kind, p.count = f[4], plyTypes[f[3]], plyTypes[f[2]]
		if p.count == 0 || !p.count.whole() {
			return "unknown type of a list's length"
		}
	case len(f) == 3:
		p.name, p.kind = f[2], plyTypes[f[1]]
	default:
		return "property needs a type and a name"
	}
	if p.kind == 0 {
		return "unknown type"
	}
	e := &h.elements[len(h.elements)-1]
	e.props = append(e.props, p)
	return ""
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
	var faces *plyElement
	least := h.body
	for k := range h.elements {
		e := &h.elements[k]
		list := e.find("vertex_indices", "vertex_index", "vertex_indexes")
		switch {
		case h.vertex == nil && (e.name == "vertex" || e.name == "vertices" || e.name == "point"):
			h.vertex = e
		case e.n == 0:
		case faces == nil && (e.name == "face" || e.name == "tristrips"):
			if list < 0 || e.props[list].count == 0 || !e.props[list].kind.whole() {
				return in.fail("element "+e.name+" has no whole-number list vertex_indices",
					"export the scan again")
			}
			faces = e
			e.corners, e.strips = list, e.name == "tristrips"
		default:
			skipped = append(skipped, e.name)
		}
		// The fewest bytes of an element: n of them cannot overflow once the
		// count has been held against the size.
		each, _ := e.stride()
		if in.ascii {
			each = 2 * len(e.props)
		}
		if each == 0 {
			e.n = 0
			continue
		}
		room := in.size - least
		if in.ascii {
			room++ // no line end behind the last line
		}
		if e.n > room/int64(each) {
			return in.truncated(fmt.Sprintf(
				"the header promises %s of %d bytes or more, but only %s are left for them",
				quantity(e.n, e.name+" element"), each, quantity(max(0, in.size-least), "byte")))
		}
		least += int64(each) * e.n
	}
	if h.vertex == nil || h.vertex.n == 0 {
		return in.fail("the file holds no points", "export the scan again")
	}
	h.single = !in.ascii
	normals := 0
	for slot, names := range [6][]string{{"x"}, {"y"}, {"z"},
		{"nx", "normal_x"}, {"ny", "normal_y"}, {"nz", "normal_z"}} {
		p := h.vertex.find(names...)
		switch {
		case p < 0 && slot < 3:
			return in.fail("element vertex has no property "+names[0],
				"export points with three coordinates")
		case p < 0:
			continue
		case h.vertex.props[p].count != 0:
			return in.fail("property "+names[0]+" is a list", "export the scan again")
		}
		h.vertex.props[p].slot = slot
		if slot < 3 {
			h.single = h.single && h.vertex.props[p].kind <= plyFloat32
		} else {
			normals++
		}
	}
	h.normals = normals == 3
	if len(skipped) > 0 {
		in.warn("Elements of no use here were skipped: %s.", strings.Join(skipped, ", "))
	}
	return nil
}
