package scanio

import (
	"bytes"
	"context"
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// OBJ: lines of a key word and its arguments. Read here are v (points; weight
// or colour behind the coordinates is ignored), vn (normals) and f (polygons,
// with positive or, counted back from the last point, negative numbers). A
// backslash at its end continues a line.

// objWords are the words that begin a line of an OBJ file. Those of curves and
// surfaces are not known here.
var objWords = map[string]bool{
	"v": true, "vn": true, "vt": true, "vp": true, "f": true, "l": true, "p": true,
	"o": true, "g": true, "s": true, "mtllib": true, "usemtl": true, "mg": true,
}

// objPart is what a block of an OBJ file holds beside points and triangles.
type objPart struct {
	vn      []mesh.Vec32
	corners [][3]int32 // normals of the triangles' corners; as long as the triangles if any has one
	normals []int32    // of the face being read
	odd     int        // lines of unknown kind
	oddLine int        // the first of them
}

func (p *objPart) reset() { p.vn, p.corners, p.odd = p.vn[:0], p.corners[:0], 0 }

// Numbers in a block's triangles: those that count from the file's start are 0
// or more; those that count back are kept relative to the block's first point,
// less objBack, until it is known how many come before.
const (
	objBack   = 1 << 30
	objMost   = 1 << 29 // points or normals in a file
	objNoSuch = -1
)

// objNumber encodes a point or normal number as written in a file; have is
// how many the block has so far.
func objNumber(v int64, have int) int32 {
	switch {
	case v > 0 && v <= objMost:
		return int32(v - 1)
	case v < 0 && v >= -objMost:
		return int32(int64(have) + v - objBack)
	}
	return objNoSuch
}

// objResolve decodes numbers, base being how many come before the block.
func objResolve(list [][3]int32, base int) {
	for i := range list {
		for k, v := range list[i] {
			if v < objNoSuch {
				list[i][k] = int32(max(int(v)+objBack+base, objNoSuch))
			}
		}
	}
}

// readOBJ reads an OBJ file.
func (in *input) readOBJ(ctx context.Context) error {
	var all objPart
	cut := func(b []byte, last bool) (int, int, bool, error) {
		if last {
			return len(b), 0, true, nil
		}
		for n := len(b); n > 0; n-- { // behind a line that is not continued
			if b[n-1] == in.eol && !continued(b, n-1) {
				return n, 0, false, nil
			}
		}
		return 0, 0, false, nil
	}
	err := in.feedFrom(int64(in.body), 1).run(ctx, cut, in.objLines, func(b *block, p *part) error {
		points, normals, tris := in.got.len(), len(all.vn), len(in.got.tris)
		if points > objMost || normals > objMost {
			return in.fail(quantity(max(points, normals), "point")+" are more than can be numbered here",
				"thin the scan out")
		}
		objResolve(p.tris, points)
		objResolve(p.obj.corners, normals)
		done := float64(b.at+int64(len(b.b))) / float64(in.size)
		all.vn = append(room(all.vn, len(p.obj.vn), done), p.obj.vn...)
		if len(p.obj.corners) > 0 || len(all.corners) > 0 {
			all.corners = padCorners(room(all.corners, tris-len(all.corners)+len(p.tris), done), tris)
			all.corners = padCorners(append(all.corners, p.obj.corners...), tris+len(p.tris))
		}
		if all.odd == 0 {
			all.oddLine = p.obj.oddLine
		}
		all.odd += p.obj.odd
		return in.add(p, done, false)
	})
	if err != nil {
		return err
	}
	in.warnLeft(int64(all.odd), "line", " of unknown kind",
		fmt.Sprintf("skipped, the first is line %d", all.oddLine))
	if len(in.got.tris) == 0 && in.got.len() > 0 {
		in.warn("The file has no faces and was read as a cloud: " +
			"if it is a cut copy, its faces are missing.")
	}
	in.objNormals(&all)
	return nil
}

// padCorners makes the list n long with corners that have no normal.
func padCorners(list [][3]int32, n int) [][3]int32 {
	for len(list) < n {
		list = append(list, [3]int32{objNoSuch, objNoSuch, objNoSuch})
	}
	return list
}

// objNormals gives the points normals: the sum over the corners that each is;
// of a cloud those that it lists one a point.
func (in *input) objNormals(all *objPart) {
	g := &in.got
	if len(all.corners) == 0 || len(all.vn) == 0 {
		if len(g.tris) == 0 && len(all.vn) == g.len() {
			g.normals = all.vn
		}
		return
	}
	g.normals = make([]mesh.Vec32, g.len())
	for i, corners := range all.corners {
		for k, m := range corners {
			v := g.tris[i][k]
			if v < 0 || int(v) >= g.len() || m < 0 || int(m) >= len(all.vn) {
				continue
			}
			n := all.vn[m].R3()
			if l := n.Norm(); l > 0 && !math.IsInf(l, 0) {
				to := &g.normals[v]
				to[0], to[1], to[2] = to[0]+float32(n.X/l), to[1]+float32(n.Y/l), to[2]+float32(n.Z/l)
			}
		}
	}
}

// objLines parses the lines of a block.
func (in *input) objLines(blk *block, p *part) error {
	// A line that goes on keeps its length, and its end counts as a line still.
	if bytes.IndexByte(blk.b, '\\') >= 0 {
		blk.b = bytes.ReplaceAll(blk.b, []byte("\\\r\n"), []byte("  "+lineWithin))
		blk.b = bytes.ReplaceAll(blk.b, []byte("\\\n"), []byte(" "+lineWithin))
	}
	b := blk.b
	items := min(len(b)/len("v 1 1 1\n"), bytes.Count(b, []byte{'\n'})) + 1 // at most
	p.reserve(items, false, items)
	for i := 0; i < len(b); i++ {
		i = skipSpace(b, i)
		if i == len(b) || b[i] == '\n' || b[i] == 0 {
			continue
		}
		start := i
		word := wordAt(b, i)
		i += len(word)
		what := ""
		var v [3]float64
		switch {
		case string(word) == "v":
			if i, what = objVector(b, i, &v); what == "" {
				p.double = append(p.double, r3.Vector{X: v[0], Y: v[1], Z: v[2]})
			}
		case string(word) == "f":
			i, what = p.objFace(b, i)
		case string(word) == "vn":
			if i, what = objVector(b, i, &v); what == "" {
				p.obj.vn = append(p.obj.vn, mesh.Vec32{float32(v[0]), float32(v[1]), float32(v[2])})
			}
		case word[0] == '#' || objWords[string(word)]:
		default:
			if p.obj.odd == 0 {
				p.obj.oddLine = in.failIn(blk, start, "", "").Line
			}
			p.obj.odd++
		}
		if what != "" {
			return in.failIn(blk, i, what, "correct the line or export the scan again")
		}
		i = lineEnd(b, i)
	}
	return nil
}

// continued reports whether the line that ends at b[end] goes on in the next.
func continued(b []byte, end int) bool {
	return bytes.HasSuffix(bytes.TrimSuffix(b[:end], []byte{'\r'}), []byte{'\\'})
}

// objWord returns the next word of a line and its place; none at the end or
// before a comment.
func objWord(b []byte, i int) (word []byte, at int) {
	i = skipSpace(b, i)
	if word = wordAt(b, i); len(word) > 0 && word[0] == '#' {
		word = nil
	}
	return word, i
}

// objVector parses the three numbers behind v or vn, and those behind them; it
// says what is wrong.
func objVector(b []byte, i int, v *[3]float64) (next int, what string) {
	for k := 0; ; k++ {
		word, at := objWord(b, i)
		if len(word) == 0 {
			if k < 3 {
				return at, "three numbers are needed on this line"
			}
			return at, ""
		}
		x, n, ok := number(word, 0)
		if !ok || n < len(word) {
			return at, "not a number: " + quoted(word)
		}
		if k < 3 {
			v[k] = x
		}
		i = at + len(word)
	}
}

// objFace parses the corners behind f: v, v/vt, v//vn or v/vt/vn.
func (p *part) objFace(b []byte, i int) (next int, what string) {
	p.list, p.obj.normals = p.list[:0], p.obj.normals[:0]
	some := false
	for {
		word, at := objWord(b, i)
		if len(word) == 0 {
			p.addFace(some)
			return at, ""
		}
		v, j, ok := whole(word, 0)
		var n [2]int64
		for k := 0; ok && k < 2 && j < len(word) && word[j] == '/'; k++ {
			if j++; j < len(word) && word[j] != '/' {
				n[k], j, ok = whole(word, j)
			}
		}
		if !ok || j < len(word) {
			return at, "not a corner of a face: " + quoted(word)
		}
		if len(p.list) == maxCorners {
			return at, noPolygon(maxCorners + 1)
		}
		p.list = append(grown(p.list, 1), objNumber(v, len(p.double)))
		p.obj.normals = append(grown(p.obj.normals, 1), objNumber(n[1], len(p.obj.vn)))
		some = some || n[1] != 0
		i = at + len(word)
	}
}

// addFace splits a polygon and the normals of its corners, if it has some,
// alike.
func (p *part) addFace(some bool) {
	before := len(p.tris)
	p.addFan(p.list)
	if !some && len(p.obj.corners) == 0 {
		return
	}
	p.obj.corners = padCorners(p.obj.corners, before)
	for k := range p.tris[before:] {
		n := p.obj.normals
		p.obj.corners = append(p.obj.corners, [3]int32{n[0], n[k+1], n[k+2]})
	}
}
