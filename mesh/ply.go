package mesh

import (
	"bytes"
	"context"
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
	plyInt32
	plyUint32
	plyFloat32
	plyFloat64
)

var plyTypes = map[string]plyType{
	"char": plyInt8, "int8": plyInt8, "uchar": plyUint8, "uint8": plyUint8,
	"short": plyInt16, "int16": plyInt16, "ushort": plyUint16, "uint16": plyUint16,
	"int": plyInt32, "int32": plyInt32, "uint": plyUint32, "uint32": plyUint32,
	"float": plyFloat32, "float32": plyFloat32, "double": plyFloat64, "float64": plyFloat64,
}

// size returns the bytes of a binary number.
func (t plyType) size() int {
	return [...]int{0, 1, 1, 2, 2, 4, 4, 4, 8}[t]
}

// whole reports whether numbers of the type are integers.
func (t plyType) whole() bool { return t < plyFloat32 }

type plyProperty struct {
	name  string
	kind  plyType
	count plyType // of a list's length; 0 for a single number
}

type plyElement struct {
	name  string
	n     int64
	props []plyProperty
}

// stride returns the bytes of one element in a binary file, with each list
// taken to hold items numbers; ok is false where there are lists and items is
// negative.
func (e *plyElement) stride(items int) (n int64, ok bool) {
	for _, p := range e.props {
		if p.count == 0 {
			n += int64(p.kind.size())
			continue
		}
		if items < 0 {
			return 0, false
		}
		n += int64(p.count.size() + items*p.kind.size())
	}
	return n, true
}

// least returns the fewest bytes that one element can take.
func (e *plyElement) least(ascii bool) int64 {
	if ascii {
		return int64(2 * len(e.props))
	}
	n, _ := e.stride(0)
	return n
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
	ascii    bool
	big      bool
	body     int64
	bodyLine int

	vertex  int // which element holds the points
	faces   int // which holds polygons, or -1
	strips  int // which holds triangle strips, or -1
	corners int // property of faces or strips that lists corners
	rows    *plyRows
	at      [6]int // properties x, y, z, nx, ny, nz of the points; normals may be -1
}

// normals reports whether the points have normals.
func (h *plyHeader) normals() bool { return h.at[3] >= 0 && h.at[4] >= 0 && h.at[5] >= 0 }

const maxPLYHeader = 1 << 20

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

// readPLY reads the body.
func (in *input) readPLY(ctx context.Context, r *raw) error {
	r.grow(int(in.ply.elements[in.ply.vertex].n), in.exact, in.ply.normals())
	if in.ply.ascii {
		return in.readTextPLY(ctx, r)
	}
	return in.readBinaryPLY(ctx, r)
}

// samplePLY gathers points spread over the file.
func (in *input) samplePLY(ctx context.Context, s *sample) error {
	if in.ply.ascii {
		return in.sampleTextPLY(ctx, s)
	}
	return in.sampleBinaryPLY(ctx, s)
}
