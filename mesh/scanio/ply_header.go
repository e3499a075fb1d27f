package scanio

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"regexp"
	"strconv"
	"strings"
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
	"int": {'i', 4}, "int32": {'i', 4}, "uint": {'u', 4}, "uint32": {'u', 4},
	"int64": {'i', 8}, "uint64": {'u', 8}, // not in the paper, but written by some programs
	"float": plyFloat, "float32": plyFloat, "double": {'f', 8}, "float64": {'f', 8},
}

var plyFloat = plyType{'f', 4}

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
	corners int  // the property that lists corners, or -1
	strips  bool // of triangle strips, not of polygons
}

// stride returns the bytes of one element in a binary file, lists taken as
// empty, and whether there are none.
func (e *plyElement) stride() (n int, fixed bool) {
	fixed = true
	for _, p := range e.props {
		if p.count.size == 0 {
			n += p.kind.size
		} else {
			n, fixed = n+p.count.size, false
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
	vertex   *plyElement // which holds the points
	normals  bool        // of the points
	single   bool        // coordinates fit single precision
}

// plyEnd finds the line that ends the header.
var plyEnd = regexp.MustCompile(`(?:^|[\n\r])end_header`)

// readPLYHeader reads and checks the header.
func (in *input) readPLYHeader() error {
	h := &plyHeader{}
	in.ply = h
	in.ascii = true // as far as errors are concerned
	end := plyEnd.FindIndex(in.head)
	if end == nil && in.size > int64(len(in.head)) {
		in.head = make([]byte, min(in.size, maxPLYHeader))
		if err := in.readAt(in.head, 0); err != nil {
			return err
		}
		end = plyEnd.FindIndex(in.head)
	}
	if end == nil {
		return in.failAt(int64(len(in.head)), "the header has no line end_header", "").cut()
	}
	text := in.head[:end[0]]
	if bytes.IndexByte(text, '\n') < 0 {
		in.cr = true
		returnsToNewlines(in.head)
	}
	last := in.head[end[1]:lineEnd(in.head, end[1])]
	if t := bytes.TrimRight(last, " \t\r"); len(t) > 0 {
		return in.failAt(int64(end[1]), "end_header is followed by "+quoted(t), exportAgain)
	}
	h.body = min(int64(end[1]+len(last)+1), in.size)
	at, format := int64(0), ""
	for line := range bytes.SplitSeq(text, []byte{'\n'}) {
		here := at
		at += int64(len(line)) + 1
		f := strings.Fields(string(line))
		if len(f) == 0 || here == 0 {
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
			return in.failAt(here, what+": "+quoted(bytes.TrimSpace(line)),
				"correct the header or export the scan again")
		}
	}
	if format == "" {
		return in.failAt(0, "the header states no format", "add a line: format ascii 1.0")
	}
	in.ascii = format == "ascii"
	in.cr = in.cr && in.ascii
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
		if p.count.size == 0 || p.count.kind == 'f' {
			return "unknown type of a list's length"
		}
	case len(f) == 3:
		p.name, p.kind = f[2], plyTypes[f[1]]
	default:
		return "property needs a type and a name"
	}
	if p.kind.size == 0 {
		return "unknown type"
	}
	e := &h.elements[len(h.elements)-1]
	e.props = append(e.props, p)
	return ""
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
			if list < 0 || e.props[list].count.size == 0 || e.props[list].kind.kind == 'f' {
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
		case h.vertex.props[p].count.size != 0:
			return in.fail("property "+names[0]+" is a list", "export the scan again")
		}
		h.vertex.props[p].slot = slot
		if slot < 3 {
			kind := h.vertex.props[p].kind
			h.single = h.single && (kind == plyFloat || kind.size <= 2)
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
