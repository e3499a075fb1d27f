package mesh

import (
	"context"
	"errors"
)

var errNotTriangles = errors.New("not all faces are triangles")

// plyFaces reads polygons or triangle strips from byte at on and returns the
// byte after them.
func (in *input) plyFaces(ctx context.Context, r *raw, k int, at int64) (int64, error) {
	h := in.ply
	e := &h.elements[k]
	if in.exact {
		return in.plyWalk(ctx, e, at, -1, nil)
	}
	if k == h.faces {
		end, err := in.plyTriangles(ctx, r, e, at)
		if !errors.Is(err, errNotTriangles) {
			return end, err
		}
	}
	// Count first, so that memory is taken once, if the count is likely.
	kind := e.props[h.corners].kind
	size := kind.size()
	n, few := int64(0), int64(0)
	_, err := in.plyWalk(ctx, e, at, h.corners, func(_ int, _ []byte, _ []int, c []byte) {
		n += int64(max(0, len(c)/size-2))
		if len(c)/size < 3 {
			few++
		}
	})
	if err != nil {
		return 0, err
	}
	if n > 1<<31-2 {
		return 0, in.failAt(at, quantity(n, "triangle")+" are more than this program can number", "thin the mesh out")
	}
	if few > 0 {
		in.warn("%s with fewer than three corners were skipped.", quantity(few, e.name))
	}
	if n = min(n, in.size/8); int64(cap(r.tris)) < n {
		r.tris = make([][3]int32, 0, n)
	}
	return in.plyWalk(ctx, e, at, h.corners, func(_ int, _ []byte, _ []int, c []byte) {
		corner := func(k int) int32 { return clampIndex(kind.integer(c[k*size:], h.big)) }
		if k == h.strips {
			r.addStrip(len(c)/size, corner)
		} else {
			r.addFan(len(c)/size, corner)
		}
	})
}

// plyTriangles reads faces that are all triangles, in blocks, or returns
// errNotTriangles.
func (in *input) plyTriangles(ctx context.Context, r *raw, e *plyElement, at int64) (int64, error) {
	h := in.ply
	list := e.props[h.corners]
	before, after := 0, 0
	for p, q := range e.props {
		switch {
		case p == h.corners:
		case q.count != 0:
			return 0, errNotTriangles // another list
		case p < h.corners:
			before += q.kind.size()
		default:
			after += q.kind.size()
		}
	}
	first := before + list.count.size()
	size := list.kind.size()
	stride := first + 3*size + after
	end := at + int64(stride)*e.n
	if end > in.size || e.n > 1<<31-2 {
		return 0, errNotTriangles
	}
	n := int(e.n)
	// Take memory only where the first faces are triangles.
	look := make([]byte, min(e.n, 64)*int64(stride))
	if err := in.readAt(look, at); err != nil {
		return 0, err
	}
	for ; len(look) > 0; look = look[stride:] {
		if list.count.integer(look[before:], h.big) != 3 {
			return 0, errNotTriangles
		}
	}
	r.tris = make([][3]int32, n)
	per := max(1, plyBlock/stride)
	bufs := make([][]byte, in.jobs)
	err := inChunks(ctx, (n+per-1)/per, in.jobs, func(w, blk int) error {
		if bufs[w] == nil {
			bufs[w] = make([]byte, min(per, n)*stride)
		}
		lo := blk * per
		hi := min(n, lo+per)
		b := bufs[w][:(hi-lo)*stride]
		if err := in.readAt(b, at+int64(lo)*int64(stride)); err != nil {
			return err
		}
		for i := lo; i < hi; i, b = i+1, b[stride:] {
			if list.count.integer(b[before:], h.big) != 3 {
				return errNotTriangles
			}
			t := &r.tris[i]
			for k := range 3 {
				if c := b[first+k*size:]; size == 4 {
					// Numbers beyond int32 turn negative: no such point.
					t[k] = int32(word32(c, h.big))
				} else {
					t[k] = clampIndex(list.kind.integer(c, h.big))
				}
			}
		}
		in.meter.add(len(b))
		return nil
	})
	if err != nil {
		r.tris = r.tris[:0]
		return 0, err
	}
	r.fileTris = n
	return end, nil
}
