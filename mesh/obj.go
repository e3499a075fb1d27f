package mesh

import (
	"context"
	"slices"

	"github.com/golang/geo/r3"
)

// OBJ: lines of a key word and its arguments. Read here are v (points; any
// colour behind the coordinates is ignored), vn (normals) and f (polygons,
// with positive or, counted back from the last point, negative numbers).

// objPart is what a chunk of an OBJ file holds.
type objPart struct {
	raw               // points and triangles
	vn     []Vec32    // normals
	corner [][3]int32 // normals of the triangles' corners, as long as tris if any has one
	few    int        // faces of fewer than three corners
	odd    int        // lines of unknown kind
	oddAt  int64      // where the first of them is
}

// Numbers in a chunk's triangles: those that count from the file's start are
// 0 or more; those that count back are kept relative to the chunk's first
// point, less objBack, until it is known how many come before.
const (
	objBack   = 1 << 30
	objMost   = 1 << 29 // points or normals in a file
	objNoSuch = -1
)

// objNumber encodes a point or normal number as written in a file; have is
// how many the chunk has so far.
func objNumber(v int64, have int) int32 {
	switch {
	case v > 0 && v <= objMost:
		return int32(v - 1)
	case v < 0 && v >= -objMost:
		return int32(int64(have) + v - objBack)
	}
	return objNoSuch
}

// objResolve decodes a number, base being how many come before the chunk.
func objResolve(v int32, base int) int32 {
	if v < objNoSuch {
		return int32(max(int(v)+objBack+base, objNoSuch))
	}
	return v
}

// readOBJ reads an OBJ file, in chunks that begin with a line that continues
// no other.
func (in *input) readOBJ(ctx context.Context, r *raw) error {
	text := in.lines(in.body)
	text.starts = func(b []byte, i int) bool {
		k := i - 2 // before the line end
		if k >= 0 && b[k] == '\r' {
			k--
		}
		return k < 0 || b[k] != '\\'
	}
	chunks := text.count()
	bufs := make([][]byte, in.jobs)
	scratch := make([]objPart, in.jobs)
	parts := make([]objPart, chunks)
	err := inChunks(ctx, chunks, in.jobs, func(w, c int) error {
		b, at, err := text.load(c, &bufs[w])
		if err != nil {
			return err
		}
		p := &scratch[w]
		p.scale, p.origin = r.scale, r.origin
		if room := len(b)/minOBJ + 1; in.exact && cap(p.exact) < room {
			p.exact = make([]r3.Vector, room)
		} else if !in.exact && cap(p.off) < room {
			p.grow(room, false, false)
		}
		n, err := in.objLines(b, at, p)
		if err != nil {
			return err
		}
		q := &parts[c]
		*q = *p
		q.off, q.hash, q.exact = nil, nil, nil
		if in.exact {
			q.exact = slices.Clone(p.exact[:n])
		} else {
			q.off, q.hash = slices.Clone(p.off[:n]), slices.Clone(p.hash[:n])
		}
		q.vn, q.tris, q.corner = slices.Clone(p.vn), slices.Clone(p.tris), slices.Clone(p.corner)
		return nil
	})
	if err != nil {
		return err
	}
	return in.joinOBJ(r, parts)
}

// minOBJ is the length of the shortest line with a point, "v 1 1 1\n".
const minOBJ = 8

// joinOBJ puts the chunks together.
func (in *input) joinOBJ(r *raw, parts []objPart) error {
	points, normals := make([]int, len(parts)+1), make([]int, len(parts)+1)
	few, odd, oddAt, cornered := 0, 0, int64(0), false
	plain := make([]raw, len(parts))
	for c := range parts {
		p := &parts[c]
		points[c+1] = points[c] + len(p.off) + len(p.exact)
		normals[c+1] = normals[c] + len(p.vn)
		if odd == 0 {
			oddAt = p.oddAt
		}
		few += p.few
		odd += p.odd
		cornered = cornered || len(p.corner) > 0
		plain[c] = p.raw
		p.off, p.hash, p.exact = nil, nil, nil
	}
	total := points[len(parts)]
	if total > objMost || normals[len(parts)] > objMost {
		return in.fail(quantity(int64(total), "point")+" are more than this program can number", "thin the scan out")
	}
	if few > 0 {
		in.warn("%s with fewer than three corners were skipped.", quantity(int64(few), "face"))
	}
	if odd > 0 {
		in.warn("%s of unknown kind were skipped, the first is line %d.", quantity(int64(odd), "line"), in.failLine(oddAt, "", "").Line)
	}
	joinPoints(r, plain, total)
	if in.exact {
		return nil
	}
	for c := range parts {
		for i, v := range flat(parts[c].tris) {
			flat(parts[c].tris)[i] = objResolve(v, points[c])
		}
	}
	if err := in.joinParts(r, plain); err != nil {
		return err
	}
	vn := make([]Vec32, 0, normals[len(parts)])
	for c := range parts {
		vn = append(vn, parts[c].vn...)
		parts[c].vn = nil
	}
	switch {
	case cornered && len(vn) > 0:
		// A point's normal is the sum over the corners that it is.
		r.normals = make([]Vec32, total)
		i := 0
		for c := range parts {
			p := &parts[c]
			for k := range p.corner {
				for s, m := range p.corner[k] {
					v, m := r.tris[i+k][s], objResolve(m, normals[c])
					if v < 0 || int(v) >= total || m < 0 || int(m) >= len(vn) {
						continue
					}
					to, n := &r.normals[v], unitOrZero(vn[m])
					to[0], to[1], to[2] = to[0]+n[0], to[1]+n[1], to[2]+n[2]
				}
			}
			i += len(p.tris)
		}
	case len(r.tris) == 0 && len(vn) == total && total > 0:
		r.normals = vn // a cloud that lists a normal a point
	}
	return nil
}
