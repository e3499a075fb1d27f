package scanio

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// readPLY reads the elements in order.
func (in *input) readPLY(ctx context.Context) error {
	if err := in.readPLYHeader(); err != nil {
		return err
	}
	h := in.ply
	n := h.vertex.n
	if n > math.MaxInt32-1 {
		return in.fail(quantity(n, "point")+" are more than can be numbered here", "thin the scan out")
	}
	if h.single {
		in.got.single = make([]mesh.Vec32, n)
	} else {
		in.got.double = make([]r3.Vector, n)
	}
	if h.normals {
		in.got.normals = make([]mesh.Vec32, n)
	}
	f := in.feedFrom(h.body, h.bodyLine+1)
	for k := range h.elements {
		if err := in.readPLYElement(ctx, f, &h.elements[k]); err != nil {
			return err
		}
	}
	b, _, err := f.take(0, in.afterLines)
	if len(bytes.TrimSpace(b.b)) > 0 {
		in.warnLeft(in.size-b.at, "stray byte", " after the last element", "ignored")
	}
	return err
}

// readPLYElement reads all rows of an element.
func (in *input) readPLYElement(ctx context.Context, f *feed, e *plyElement) error {
	if e.n == 0 {
		return nil
	}
	h := in.ply
	left := e.n
	f.row = 0
	cut := func(b []byte, last bool) (n, rows int, done bool, err error) {
		if in.ascii {
			n, rows = in.plyLines(b, left, last)
		} else if n, rows, err = in.plyRows(b, f.at-int64(len(b)), e, left); err != nil {
			return 0, 0, true, err
		}
		left -= int64(rows)
		if last && left > 0 {
			return 0, 0, true, in.truncated(fmt.Sprintf("element %s is cut short behind %d of %d",
				e.name, e.n-left, e.n))
		}
		return n, rows, left == 0, nil
	}
	return f.run(ctx, cut, func(b *block, p *part) error {
		if e != h.vertex && e.corners < 0 {
			return nil
		}
		if e != h.vertex {
			p.reserve(0, false, b.rows)
		}
		c := plyCursor{b: b.b, ascii: in.ascii, order: h.order,
			little: !in.ascii && h.order == binary.ByteOrder(binary.LittleEndian)}
		for row := 0; row < b.rows; row++ {
			at := c.i
			if in.ascii {
				if at = skipSpace(c.b, at); c.b[at] == '\n' {
					c.i = at + 1
					row--
					continue
				}
				c.end = lineEnd(c.b, at)
			}
			if e == h.vertex {
				in.readPoint(&c, b.row+row)
			} else {
				e.readFace(&c, p)
			}
			if c.bad != "" {
				return in.failIn(b, at, fmt.Sprintf("element %s %d: %s", e.name, b.row+row, c.bad),
					"correct the line or export the scan again")
			}
			if in.ascii {
				c.i = c.end + 1
			}
		}
		return nil
	}, func(b *block, p *part) error {
		return in.add(p, float64(b.row+b.rows)/float64(e.n), false)
	})
}

// plyLines returns the bytes and the number, up to most, of whole lines that
// are not blank.
func (in *input) plyLines(b []byte, most int64, last bool) (n, rows int) {
	for int64(rows) < most && n < len(b) {
		end := bytes.IndexByte(b[n:], in.eol)
		if end < 0 {
			if !last {
				break
			}
			end = len(b) - n
		}
		if len(bytes.TrimLeft(b[n:n+end], " \t\r\v\f\n")) > 0 {
			rows++
		}
		n = min(n+end+1, len(b))
	}
	return n, rows
}

// plyRows returns the bytes and the number, up to most, of whole rows of a
// binary file, of which b begins at byte at.
func (in *input) plyRows(b []byte, at int64, e *plyElement, most int64) (n, rows int, err error) {
	stride, fixed := e.stride()
	if fixed {
		rows = int(min(most, int64(len(b)/stride)))
		return rows * stride, rows, nil
	}
	for ; int64(rows) < most; rows++ {
		end := n
		for k := range e.props {
			p := &e.props[k]
			items := int64(1)
			if p.count != 0 {
				if end+p.count.size() > len(b) {
					return n, rows, nil
				}
				items = int64(p.count.decode(b[end:], in.ply.order))
				end += p.count.size()
				if items < 0 || items > in.size/int64(p.kind.size()) {
					return 0, 0, in.failAt(at+int64(end),
						fmt.Sprintf("element %s states a list of %d numbers", e.name, items),
						"the file is damaged: export the scan again")
				}
				if k == e.corners && !e.strips && items > maxCorners { // before all of it is read
					return 0, 0, in.failAt(at+int64(end), noPolygon(items), "export the scan again")
				}
			}
			if end += int(items) * p.kind.size(); end > len(b) {
				return n, rows, nil
			}
		}
		n = end
	}
	return n, rows, nil
}

// readPoint reads row i of the points.
func (in *input) readPoint(c *plyCursor, i int) {
	h := in.ply
	var v [6]float64
	for k := range h.vertex.props {
		prop := &h.vertex.props[k]
		switch {
		case prop.slot >= 0 && prop.kind == plyFloat32 && c.little: // most files, inlined
			v[prop.slot] = float64(math.Float32frombits(binary.LittleEndian.Uint32(c.b[c.i:])))
			c.i += 4
		case prop.slot >= 0:
			v[prop.slot] = c.number(prop.kind, prop)
		case prop.count != 0:
			c.skip(prop, c.length(prop))
		default:
			c.skip(prop, 1)
		}
	}
	if c.ascii && c.bad == "" {
		if i := skipSpace(c.b[:c.end], c.i); i < c.end {
			c.bad = "more numbers than properties: " + quoted(c.b[i:c.end])
		}
	}
	if h.single {
		in.got.single[i] = mesh.Vec32{float32(v[0]), float32(v[1]), float32(v[2])}
	} else {
		in.got.double[i] = r3.Vector{X: v[0], Y: v[1], Z: v[2]}
	}
	if h.normals {
		in.got.normals[i] = mesh.Vec32{float32(v[3]), float32(v[4]), float32(v[5])}
	}
}

// readFace reads a row of polygons or triangle strips.
func (e *plyElement) readFace(c *plyCursor, p *part) {
	p.list = p.list[:0]
	for k := range e.props {
		prop := &e.props[k]
		n := 1
		if prop.count != 0 {
			n = c.length(prop)
		}
		if k != e.corners {
			c.skip(prop, n)
			continue
		}
		if n > maxCorners && !e.strips {
			c.bad = noPolygon(int64(n))
			return
		}
		for range n {
			p.list = append(p.list, index(c.number(prop.kind, prop)))
		}
	}
	if e.strips {
		p.addStrip(p.list)
	} else {
		p.addFan(p.list)
	}
}

// plyCursor reads the numbers of a row, of text or binary.
type plyCursor struct {
	b      []byte
	i      int
	end    int // of the line
	ascii  bool
	order  binary.ByteOrder
	little bool   // binary of that byte order
	bad    string // what is wrong
}

// number reads a number of a kind.
func (c *plyCursor) number(kind plyType, p *plyProperty) float64 {
	if !c.ascii {
		b := c.b[c.i:]
		c.i += kind.size()
		return kind.decode(b, c.order)
	}
	at := skipSpace(c.b[:c.end], c.i)
	v, next, ok := number(c.b[:c.end], at)
	c.i = next
	whole := !kind.whole() || bytes.IndexByte(c.b[at:next], '.') < 0 && v == math.Trunc(v)
	if (!ok || !whole || next < c.end && !isSpace(c.b[next])) && c.bad == "" {
		c.bad = "property " + p.name + " is not a number of its kind: " +
			quoted(wordAt(c.b[:c.end], at))
		if at == c.end {
			c.bad = "the line ends before property " + p.name
		}
	}
	return v
}

// length reads the length of a list.
func (c *plyCursor) length(p *plyProperty) int {
	n := c.number(p.count, p)
	if !(n >= 0) && c.bad == "" {
		c.bad = "the length of list " + p.name + " is no count"
	}
	if c.bad != "" {
		return 0
	}
	return int(min(n, float64(len(c.b)))) // the row holds no more
}

// skip leaves n numbers out.
func (c *plyCursor) skip(p *plyProperty, n int) {
	if !c.ascii {
		c.i += n * p.kind.size()
		return
	}
	for range n {
		c.i = skipSpace(c.b[:c.end], c.i)
		if c.i == c.end {
			c.bad = "the line ends before property " + p.name
			return
		}
		c.i += len(wordAt(c.b[:c.end], c.i))
	}
}

// decode returns the binary number of type t at the start of b.
func (t plyType) decode(b []byte, order binary.ByteOrder) float64 {
	switch t {
	case plyInt8:
		return float64(int8(b[0]))
	case plyUint8:
		return float64(b[0])
	case plyInt16:
		return float64(int16(order.Uint16(b)))
	case plyUint16:
		return float64(order.Uint16(b))
	case plyInt32:
		return float64(int32(order.Uint32(b)))
	case plyUint32:
		return float64(order.Uint32(b))
	case plyInt64:
		return float64(int64(order.Uint64(b)))
	case plyUint64:
		return float64(order.Uint64(b))
	case plyFloat32:
		return float64(math.Float32frombits(order.Uint32(b)))
	}
	return math.Float64frombits(order.Uint64(b))
}
