package mesh

import (
	"context"
	"encoding/binary"
	"math"

	"github.com/golang/geo/r3"
)

const plyBlock = 1 << 20 // bytes decoded at a time

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
	r.exactAt = func(_ int, t [3]int32) (p [3][3]float64, err error) {
		row := make([]byte, stride)
		for k, v := range t {
			if err := in.readAt(row, at+int64(v)*stride); err != nil {
				return p, err
			}
			for c := range 3 {
				p[k][c] = e.props[h.at[c]].kind.number(row[places[c]:], h.big)
			}
		}
		return p, nil
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
