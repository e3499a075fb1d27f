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
			return 0, 0, true, in.truncated(fmt.Sprintf("element %s is cut short behind %d of %d", e.name, e.n-left, e.n))
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
		c := plyCursor{b: b.b, ascii: in.ascii, big: h.big}
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
				items = p.count.integer(b[end:], in.ply.big)
				end += p.count.size()
				if items < 0 || items > in.size/int64(p.kind.size()) {
					return 0, 0, in.failAt(at+int64(end), fmt.Sprintf("element %s states a list of %d numbers", e.name, items),
						"the file is damaged: export the scan again")
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
		case prop.slot >= 0:
			v[prop.slot] = c.number(prop)
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
			c.bad = "a face of " + quantity(n, "corner") + " is no polygon"
			return
		}
		for range n {
			p.list = append(p.list, index(c.integer(prop)))
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
	b     []byte
	i     int
	end   int // of the line
	ascii bool
	big   bool
	bad   string // what is wrong
}

// word returns the next word of the line.
func (c *plyCursor) word(p *plyProperty, of string) []byte {
	c.i = skipSpace(c.b[:c.end], c.i)
	w := wordAt(c.b[:c.end], c.i)
	c.i += len(w)
	if len(w) == 0 && c.bad == "" {
		c.bad = "the line ends before " + of + "property " + p.name
	}
	return w
}

// wrong says that a word is no number of the property's kind.
func (c *plyCursor) wrong(p *plyProperty, of string, w []byte) {
	if c.bad == "" {
		c.bad = of + "property " + p.name + " is not a number of its kind: " + quoted(w)
	}
}

// number reads a single number.
func (c *plyCursor) number(p *plyProperty) float64 {
	if c.ascii {
		at := skipSpace(c.b[:c.end], c.i)
		v, next, ok := number(c.b[:c.end], at)
		if !ok || next < c.end && !isSpace(c.b[next]) {
			if w := c.word(p, ""); len(w) > 0 {
				c.wrong(p, "", w)
			}
		}
		c.i = next
		return v
	}
	b := c.b[c.i:]
	c.i += p.kind.size()
	switch {
	case p.kind == plyFloat32 && !c.big:
		return float64(math.Float32frombits(binary.LittleEndian.Uint32(b)))
	case p.kind == plyFloat32:
		return float64(math.Float32frombits(binary.BigEndian.Uint32(b)))
	case p.kind == plyFloat64:
		return math.Float64frombits(word64(b, c.big))
	}
	return float64(p.kind.integer(b, c.big))
}

// integer reads a number of a list.
func (c *plyCursor) integer(p *plyProperty) int64 {
	if c.ascii {
		w := c.word(p, "")
		v, n, ok := whole(w, 0)
		if !ok || n < len(w) {
			c.wrong(p, "", w)
		}
		return v
	}
	b := c.b[c.i:]
	c.i += p.kind.size()
	return p.kind.integer(b, c.big)
}

// length reads the length of a list.
func (c *plyCursor) length(p *plyProperty) int {
	if c.ascii {
		w := c.word(p, "length of ")
		v, n, ok := whole(w, 0)
		if !ok || n < len(w) || v < 0 {
			c.wrong(p, "length of ", w)
			return 0
		}
		return int(min(v, int64(c.end))) // the line holds no more
	}
	b := c.b[c.i:]
	c.i += p.count.size()
	return int(p.count.integer(b, c.big))
}

// skip leaves n numbers out.
func (c *plyCursor) skip(p *plyProperty, n int) {
	if !c.ascii {
		c.i += n * p.kind.size()
		return
	}
	for range n {
		if len(c.word(p, "")) == 0 {
			return
		}
	}
}

// integer decodes a binary integer of type t at the start of b.
func (t plyType) integer(b []byte, big bool) int64 {
	switch t {
	case plyInt8:
		return int64(int8(b[0]))
	case plyUint8:
		return int64(b[0])
	case plyInt16:
		return int64(int16(word16(b, big)))
	case plyUint16:
		return int64(word16(b, big))
	case plyInt32:
		return int64(int32(word32(b, big)))
	case plyUint32:
		return int64(word32(b, big))
	}
	return int64(word64(b, big))
}

func word64(b []byte, big bool) uint64 {
	if big {
		return binary.BigEndian.Uint64(b)
	}
	return binary.LittleEndian.Uint64(b)
}

func word32(b []byte, big bool) uint32 {
	if big {
		return binary.BigEndian.Uint32(b)
	}
	return binary.LittleEndian.Uint32(b)
}

func word16(b []byte, big bool) uint16 {
	if big {
		return binary.BigEndian.Uint16(b)
	}
	return binary.LittleEndian.Uint16(b)
}
