package mesh

import (
	"context"
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
	plyInt64
	plyUint64
	plyFloat32
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
func (t plyType) size() int {
	return [...]int{0, 1, 1, 2, 2, 4, 4, 8, 8, 4, 8}[t]
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

// Headers beyond these are not believed.
const (
	maxPLYHeader   = 1 << 20 // bytes
	maxPLYElements = 256
)

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
