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

// objLines parses lines into p and returns the number of points.
func (in *input) objLines(b []byte, at int64, p *objPart) (n int, err error) {
	p.tris, p.triItem, p.fileTris, p.removed = p.tris[:0], nil, 0, Removed{}
	p.vn, p.corner, p.few, p.odd = p.vn[:0], p.corner[:0], 0, 0
	room := len(p.off) + len(p.exact)
	var corners, normals []int32
	for i := 0; i < len(b); {
		i = skipSpace(b, i)
		if i >= len(b) {
			break
		}
		if b[i] == '\n' || b[i] == 0 {
			i++
			continue
		}
		start := i
		word := wordAt(b, i)
		i += len(word)
		what := ""
		switch {
		case len(word) == 1 && word[0] == 'v':
			var v [3]float64
			if i, what = in.objVector(b, i, &v); what == "" {
				if n == room {
					what = "the file is no OBJ"
					break
				}
				p.set(n, v[0], v[1], v[2])
				n++
			}
		case in.exact:
		case len(word) == 1 && word[0] == 'f':
			corners, normals = corners[:0], normals[:0]
			if long := len(b) - i; long > 1<<12 && cap(corners) < long/2 {
				// A corner takes two bytes or more.
				if long = in.objLineEnd(b, i) - i; cap(corners) < long/2 {
					corners = make([]int32, 0, long/2)
				}
			}
			i, corners, normals, what = in.objFace(b, i, n, len(p.vn), corners, normals)
			if what != "" {
				break
			}
			if len(corners) < 3 {
				p.few++
				break
			}
			p.addFace(corners, normals)
		case len(word) == 2 && word[0] == 'v' && word[1] == 'n':
			var v [3]float64
			if i, what = in.objVector(b, i, &v); what == "" {
				p.vn = append(p.vn, Vec32{float32(v[0]), float32(v[1]), float32(v[2])})
			}
		case word[0] == '#' || objWords[string(word)] || objRare[string(word)]:
		default:
			if p.odd == 0 {
				p.oddAt = at + int64(start)
			}
			p.odd++
		}
		if what != "" {
			return n, in.failLine(at+int64(i), what, "correct the line or export the scan again")
		}
		i = in.objLineEnd(b, i) + 1
	}
	return n, nil
}

// objRare are words of OBJ files beside those in objWords, skipped too.
var objRare = map[string]bool{
	"call": true, "shadow_obj": true, "trace_obj": true, "lod": true, "usemap": true,
	"maplib": true, "d_interp": true, "c_interp": true, "bevel": true, "cstype": true,
	"deg": true, "bmat": true, "step": true, "curv": true, "curv2": true, "surf": true,
	"parm": true, "trim": true, "hole": true, "scrv": true, "sp": true, "end": true,
	"con": true, "fo": true, "vw": true,
}

// objLineEnd returns the end of the line that holds b[i], continued lines
// included.
func (in *input) objLineEnd(b []byte, i int) int {
	for {
		e := lineEnd(b, i)
		k := e - 1
		if k > 0 && b[k] == '\r' {
			k--
		}
		if e >= len(b) || k < i || b[k] != '\\' {
			return e
		}
		i = e + 1
	}
}

// objSpace skips white space and the ends of continued lines.
func (in *input) objSpace(b []byte, i int) int {
	for {
		i = skipSpace(b, i)
		if i >= len(b) || b[i] != '\\' {
			return i
		}
		j := i + 1
		if j < len(b) && b[j] == '\r' {
			j++
		}
		if j >= len(b) || b[j] != '\n' {
			return i
		}
		i = j + 1
	}
}

// objVector parses the three numbers behind v or vn; it says what is wrong.
func (in *input) objVector(b []byte, i int, v *[3]float64) (next int, what string) {
	for k := range v {
		i = in.objSpace(b, i)
		x, j, ok := parseNumber(b, i, '.')
		if !ok || j < len(b) && !isSpace(b[j]) && b[j] != '\n' && b[j] != '\\' {
			if i >= len(b) || b[i] == '\n' {
				return i, "three numbers are needed on this line"
			}
			return i, "not a number: " + quoted(wordAt(b, i))
		}
		v[k] = x
		i = j
	}
	return i, ""
}

// objFace parses the corners behind f: v, v/vt, v//vn or v/vt/vn.
func (in *input) objFace(b []byte, i, haveV, haveN int, corners, normals []int32) (int, []int32, []int32, string) {
	for {
		i = in.objSpace(b, i)
		if i >= len(b) || b[i] == '\n' || b[i] == '#' {
			return i, corners, normals, ""
		}
		v, j, ok := parseInt(b, i)
		n, m := int64(0), int64(0)
		for k := 0; ok && k < 2 && j < len(b) && b[j] == '/'; k++ {
			n = 0
			if j++; j < len(b) && (b[j]-'0' <= 9 || b[j] == '-' || b[j] == '+') {
				n, j, ok = parseInt(b, j)
			}
			if k == 1 {
				m = n
			}
		}
		if !ok || j < len(b) && !isSpace(b[j]) && b[j] != '\n' && b[j] != '\\' {
			return i, nil, nil, "not a corner of a face: " + quoted(wordAt(b, i))
		}
		corners = append(corners, objNumber(v, haveV))
		if m != 0 || len(normals) > 0 {
			for len(normals) < len(corners)-1 {
				normals = append(normals, objNoSuch)
			}
			normals = append(normals, objNumber(m, haveN))
		}
		i = j
	}
}

// addFace splits a polygon and its normals, which may be none, alike.
func (p *objPart) addFace(corners, normals []int32) {
	before := len(p.tris)
	items := len(p.triItem)
	file := p.fileTris
	p.addFan(len(corners), func(k int) int32 { return corners[k] })
	if len(normals) == 0 && len(p.corner) == 0 {
		return
	}
	normal := func(k int) int32 {
		if k < len(normals) {
			return normals[k]
		}
		return objNoSuch
	}
	for len(p.corner) < before {
		p.corner = append(p.corner, [3]int32{objNoSuch, objNoSuch, objNoSuch})
	}
	for k := before; k < len(p.tris); k++ {
		f := k - before // the fan's triangle
		if p.triItem != nil && len(p.triItem) > items {
			f = int(p.triItem[k]) - file
		}
		p.corner = append(p.corner, [3]int32{normal(0), normal(f + 1), normal(f + 2)})
	}
}
