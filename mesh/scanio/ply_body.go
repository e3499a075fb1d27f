package scanio

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	mathbits "math/bits"

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
		return in.fail(mesh.Quantity(n, "point")+" are more than can be numbered here", "thin the scan out")
	}
	if h.single {
		in.got.single = make([]mesh.Vec32, n)
	} else {
		in.got.double = make([]r3.Vector, n)
	}
	if h.normals {
		in.got.normals = make([]mesh.Vec32, n)
	}
	points := in.got
	f := in.feedFrom(h.body)
	for k := range h.elements {
		e := &h.elements[k]
		if e.n == 0 {
			continue
		}
		cut := in.plyRows(e)
		if in.ascii {
			cut = plyLines
		}
		err := f.run(ctx, e.n, cut, func(p *part) error { return in.plyPart(e, p, points) })
		if err != nil {
			return err
		}
		if f.left > 0 {
			return in.truncated(fmt.Sprintf("element %s is cut short behind %d of %d", e.name, e.n-f.left,
				e.n))
		}
	}
	f.left = uncounted
	p, _, err := f.take(cutLines(nil))
	if len(bytes.TrimSpace(p.b)) > 0 {
		in.warnLeft(in.size-p.at, "stray byte", " after the last element", "ignored")
	}
	return err
}

// plyLines cuts behind whole lines that are not blank.
func plyLines(b []byte, most int64, last bool) (n, rows int) {
	for w := (words{b: b}); int64(rows) < most && w.nextLine(); rows++ {
		if !last && b[w.end-1] != '\n' {
			break
		}
		n = w.end
	}
	return n, rows
}

// plyRows cuts behind whole rows of a binary file.
func (in *input) plyRows(e *plyElement) cutter {
	return func(b []byte, most int64, _ bool) (n, rows int) {
		if !e.lists {
			rows = int(min(most, int64(len(b)/e.least)))
			return rows * e.least, rows
		}
		c := plyCursor{words: words{b: b}, in: in, big: in.ply.format == plyBig}
		var v [6]float64
		for int64(rows) < most {
			if e.row(&c, &v, nil); c.i > len(b) {
				break
			}
			n = c.i
			if rows++; c.bad != "" {
				break // which is said when the row is read
			}
		}
		return n, rows
	}
}

// plyPart reads the rows of a part, those of points into the places made for them.
func (in *input) plyPart(e *plyElement, p *part, points gathered) error {
	h := in.ply
	if in.ascii && e != h.vertex && e.corners < 0 {
		return nil
	}
	c := plyCursor{words: words{b: p.b}, in: in, big: h.format == plyBig}
	var v [6]float64
	for i := p.row; i < p.row+p.rows; i++ {
		if in.ascii {
			c.nextLine()
		}
		at := c.i
		e.row(&c, &v, &p.list)
		if in.ascii && c.bad == "" && e == h.vertex {
			if more := bytes.TrimSpace(c.b[c.i:c.end]); len(more) > 0 {
				c.bad = "more numbers than properties: " + quoted(more)
			}
		}
		if c.bad != "" {
			c.bad = fmt.Sprintf("element %s %d: %s", e.name, i, c.bad)
			fix := correctLine
			if !in.ascii {
				fix = exportAgain
			}
			if i+1 == int(e.n) {
				return in.failAt(p.at+int64(at), c.bad, fix)
			}
			return in.failIn(p, at, c.bad, fix)
		}
		switch {
		case e.corners >= 0:
			p.addFan(p.list)
		case e != h.vertex:
		case h.single:
			points.single[i] = mesh.Vec32{float32(v[0]), float32(v[1]), float32(v[2])}
		default:
			points.double[i] = r3.Vector{X: v[0], Y: v[1], Z: v[2]}
		}
		if e == h.vertex && h.normals {
			points.normals[i] = mesh.Vec32{float32(v[3]), float32(v[4]), float32(v[5])}
		}
	}
	return nil
}

// row reads a row, the numbers of a point and the corners of a face, unless
// these are nil, and goes behind it, or behind the end of what there is.
func (e *plyElement) row(c *plyCursor, v *[6]float64, corners *[]int32) {
	for k := range e.props {
		p := &e.props[k]
		n := 1
		if p.count.size > 0 {
			n = c.length(p)
			if k == e.corners && n > maxCorners && c.bad == "" {
				c.bad = noPolygon(int64(n))
			}
		}
		keep := k == e.corners && corners != nil
		if keep {
			*corners = (*corners)[:0]
		}
		for ; n > 0 && c.bad == ""; n-- {
			switch {
			case p.slot >= 0:
				v[p.slot] = c.number(p.kind, p)
			case keep:
				*corners = append(*corners, index(c.number(p.kind, p)))
			case !c.in.ascii:
				c.i += n * p.kind.size
				n = 1
			case len(c.next()) == 0:
				c.bad = "the line ends before property " + p.name
			}
		}
		if c.bad != "" {
			return
		}
	}
}

// plyCursor reads the numbers of a row, of text or binary.
type plyCursor struct {
	words
	in  *input
	big bool   // the byte order
	bad string // what is wrong
}

// number reads a number of a kind.
func (c *plyCursor) number(t plyType, p *plyProperty) (v float64) {
	if !c.in.ascii {
		if c.i += t.size; c.i > len(c.b) {
			return 0
		}
		return t.decode(c.b[c.i-t.size:], c.big)
	}
	w := c.next()
	v, ok := number(w)
	switch {
	case len(w) == 0:
		c.bad = "the line ends before property " + p.name
	case !ok, t.whole() && (bytes.IndexByte(w, '.') >= 0 || v != math.Trunc(v)):
		c.bad = "property " + p.name + " is not a number of its kind: " + quoted(w)
	}
	return v
}

// length reads the length of a list.
func (c *plyCursor) length(p *plyProperty) int {
	n := c.number(p.count, p)
	if c.bad == "" && !(n >= 0 && n <= float64(c.in.size)) {
		c.bad = fmt.Sprintf("states a list %s of %.0f numbers", p.name, n)
	}
	return int(n)
}

// decode returns the binary number of type t at the start of b.
func (t plyType) decode(b []byte, big bool) float64 {
	var bits uint64
	switch t.size {
	case 1:
		bits = uint64(b[0])
	case 2:
		bits = uint64(binary.LittleEndian.Uint16(b))
	case 4:
		bits = uint64(binary.LittleEndian.Uint32(b))
	case 8:
		bits = binary.LittleEndian.Uint64(b)
	}
	unused := 64 - 8*t.size
	if big {
		bits = mathbits.ReverseBytes64(bits) >> unused
	}
	switch {
	case t == plyFloat:
		return float64(math.Float32frombits(uint32(bits)))
	case t.kind == 'f':
		return math.Float64frombits(bits)
	case t.kind == 'i':
		return float64(int64(bits<<unused) >> unused)
	}
	return float64(bits)
}
