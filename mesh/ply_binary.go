package mesh

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"

	"github.com/golang/geo/r3"
)

const plyBlock = 1 << 20 // bytes decoded at a time

// number decodes a binary number of type t at the start of b.
func (t plyType) number(b []byte, big bool) float64 {
	switch t {
	case plyInt8:
		return float64(int8(b[0]))
	case plyUint8:
		return float64(b[0])
	case plyFloat32:
		return float64(math.Float32frombits(word32(b, big)))
	case plyFloat64:
		if big {
			return math.Float64frombits(binary.BigEndian.Uint64(b))
		}
		return math.Float64frombits(binary.LittleEndian.Uint64(b))
	}
	return float64(t.integer(b, big))
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
	return int64(t.number(b, big))
}

func word16(b []byte, big bool) uint16 {
	if big {
		return binary.BigEndian.Uint16(b)
	}
	return binary.LittleEndian.Uint16(b)
}

func word32(b []byte, big bool) uint32 {
	if big {
		return binary.BigEndian.Uint32(b)
	}
	return binary.LittleEndian.Uint32(b)
}

// readBinaryPLY reads the elements in order.
func (in *input) readBinaryPLY(ctx context.Context, r *raw) error {
	h := in.ply
	at := h.body
	for k := range h.elements {
		e := &h.elements[k]
		stride, fixed := e.stride(-1)
		var err error
		switch {
		case k == h.vertex && fixed:
			err = in.plyPoints(ctx, r, at)
			at += stride * e.n
		case k == h.vertex:
			at, err = in.plyWalk(ctx, e, at, -1, func(i int, row []byte, places []int, _ []byte) {
				in.plyPoint(r, i, row, places)
			})
		case k == h.faces || k == h.strips:
			if in.exact && k > h.vertex {
				return nil // only points are asked for
			}
			at, err = in.plyFaces(ctx, r, k, at)
		case fixed:
			at += stride * e.n
			if at > in.size {
				err = in.truncated("element " + e.name + " is cut short")
			}
		default:
			at, err = in.plyWalk(ctx, e, at, -1, nil)
		}
		if err != nil {
			return err
		}
	}
	if at < in.size {
		in.warn("%s after the last element were ignored.", quantity(in.size-at, "stray byte"))
	}
	return nil
}

// plyPoints decodes points of fixed size, in blocks.
func (in *input) plyPoints(ctx context.Context, r *raw, at int64) error {
	h := in.ply
	e := &h.elements[h.vertex]
	stride, _ := e.stride(-1)
	if at+stride*e.n > in.size {
		return in.truncated("element vertex is cut short")
	}
	places := in.plyPlaces()
	plain := !h.big // all float32, little-endian
	for _, p := range h.at {
		plain = plain && (p < 0 || e.props[p].kind == plyFloat32)
	}
	per := max(1, plyBlock/int(stride))
	blocks := (int(e.n) + per - 1) / per
	bufs := make([][]byte, in.jobs)
	return inChunks(ctx, blocks, in.jobs, func(w, blk int) error {
		if bufs[w] == nil {
			bufs[w] = make([]byte, min(per, int(e.n))*int(stride))
		}
		lo := blk * per
		hi := min(int(e.n), lo+per)
		b := bufs[w][:(hi-lo)*int(stride)]
		if err := in.readAt(b, at+int64(lo)*stride); err != nil {
			return err
		}
		in.meter.add(len(b))
		if !plain {
			for i := lo; i < hi; i, b = i+1, b[stride:] {
				in.plyPoint(r, i, b, places[:])
			}
			return nil
		}
		f := func(k int) float32 { return math.Float32frombits(binary.LittleEndian.Uint32(b[places[k]:])) }
		for i := lo; i < hi; i, b = i+1, b[stride:] {
			r.set(i, float64(f(0)), float64(f(1)), float64(f(2)))
			if r.normals != nil {
				r.normals[i] = Vec32{f(3), f(4), f(5)}
			}
		}
		return nil
	})
}

// plyPoint decodes a point from the bytes of its element, whose coordinates
// and normal stand at places.
func (in *input) plyPoint(r *raw, i int, row []byte, places []int) {
	h := in.ply
	e := &h.elements[h.vertex]
	f := func(k int) float64 { return e.props[h.at[k]].kind.number(row[places[k]:], h.big) }
	r.set(i, f(0), f(1), f(2))
	if r.normals != nil {
		r.normals[i] = Vec32{float32(f(3)), float32(f(4)), float32(f(5))}
	}
}

// plyWalk goes through elements with lists, one by one. For each it calls
// visit, if not nil, with the element's bytes, the places in them of what
// h.at names, and the bytes of the list property list, if that is not
// negative. It returns the byte after the last element.
func (in *input) plyWalk(ctx context.Context, e *plyElement, at int64, list int,
	visit func(i int, row []byte, places []int, items []byte)) (int64, error) {
	h := in.ply
	buf := in.walked[:0] // one buffer for all walks
	if cap(buf) == 0 {
		buf = make([]byte, 0, min(plyBlock, in.size-at))
	}
	defer func() { in.walked = buf }()
	from := at // where buf begins in the file
	var places [6]int
	itemsAt, itemsEnd := 0, 0
	// need makes sure that n bytes from place i of buf on are there.
	i := 0
	need := func(start, n int64) error {
		if start+n <= int64(len(buf)) {
			return nil
		}
		if from+start+n > in.size {
			return in.truncated("element " + e.name + " is cut short")
		}
		// Move what is in use, from i on, to the front, and fill up.
		kept := copy(buf, buf[i:])
		from += int64(i)
		start -= int64(i)
		i = 0
		if int64(cap(buf)) < start+n {
			grown := make([]byte, kept, min(in.size-from, start+n+plyBlock))
			copy(grown, buf[:kept])
			buf = grown
		}
		size := min(int64(cap(buf)), in.size-from)
		buf = buf[:size]
		in.meter.add(int(size) - kept)
		return in.readAt(buf[kept:], from+int64(kept))
	}
	for k := range int(e.n) {
		if k&0xfff == 0 {
			if err := ctx.Err(); err != nil {
				return 0, err
			}
		}
		itemsAt, itemsEnd = 0, 0
		off := int64(0) // within the element
		for p, prop := range e.props {
			for s, want := range h.at {
				if want == p {
					places[s] = int(off)
				}
			}
			if prop.count == 0 {
				n := int64(prop.kind.size())
				if err := need(int64(i)+off, n); err != nil {
					return 0, err
				}
				off += n
				continue
			}
			n := int64(prop.count.size())
			if err := need(int64(i)+off, n); err != nil {
				return 0, err
			}
			count := prop.count.integer(buf[int64(i)+off:], h.big)
			off += n
			size := int64(prop.kind.size())
			if count < 0 || count > in.size/size {
				return 0, in.failAt(from+int64(i)+off, fmt.Sprintf("element %s %d states a list of %d numbers", e.name, k, count),
					"the file is damaged: export the scan again")
			}
			if err := need(int64(i)+off, count*size); err != nil {
				return 0, err
			}
			if p == list {
				itemsAt, itemsEnd = int(off), int(off+count*size)
			}
			off += count * size
		}
		if visit != nil {
			row := buf[i : i+int(off)]
			visit(k, row, places[:], row[itemsAt:itemsEnd])
		}
		i += int(off)
	}
	return from + int64(i), nil
}

// clampIndex turns a point number into int32, keeping what is out of range
// out of range.
func clampIndex(v int64) int32 {
	if v < -1 {
		return -2
	}
	return int32(min(v, math.MaxInt32))
}

// sampleBinaryPLY gathers points spread over the file.
func (in *input) sampleBinaryPLY(ctx context.Context, s *sample) error {
	h := in.ply
	at := h.body
	for k := range h.elements {
		e := &h.elements[k]
		stride, fixed := e.stride(-1)
		if k < h.vertex && !fixed {
			var err error
			if at, err = in.plyWalk(ctx, e, at, -1, nil); err != nil {
				return err
			}
			continue
		}
		if k < h.vertex {
			at += stride * e.n
			continue
		}
		r := &raw{exact: make([]r3.Vector, 1)}
		visit := func(_ int, row []byte, places []int, _ []byte) {
			in.plyPoint(r, 0, row, places)
			s.add(r.exact[0].X, r.exact[0].Y, r.exact[0].Z)
		}
		few := *e
		few.n = min(e.n, samples)
		if !fixed {
			_, err := in.plyWalk(ctx, &few, at, -1, visit)
			return err
		}
		places := in.plyPlaces()
		row := make([]byte, stride)
		for i := range few.n {
			if err := in.readAt(row, at+stride*(i*e.n/few.n)); err != nil {
				return err
			}
			visit(0, row, places[:], nil)
		}
		return nil
	}
	return nil
}

// plyPlaces returns where coordinates and normal stand in a point of fixed size.
func (in *input) plyPlaces() (places [6]int) {
	for k, p := range in.ply.at {
		if p < 0 {
			continue
		}
		for _, q := range in.ply.elements[in.ply.vertex].props[:p] {
			places[k] += q.kind.size()
		}
	}
	return places
}
