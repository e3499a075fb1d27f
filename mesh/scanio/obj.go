package scanio

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"

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

// objPart is what a part of an OBJ file holds beside points and triangles.
type objPart struct {
	vn      []mesh.Vec32
	corners [][2]int32 // point and normal of those corners of faces that have one
	normals []int32    // of the corners of the face being read
	odd     int        // lines of unknown kind
	oddAt   int64      // the first of them
}

// Numbers in a part: those that count from the file's start are 0 or more;
// those that count back are kept relative to the part's first point, less
// objBack, until it is known how many come before.
const (
	objBack   = 1 << 30
	objMost   = 1 << 29 // points or normals in a file
	objNoSuch = -1
)

// objNumber decodes a point or normal number; have is how many the part has so
// far. None is objNoSuch.
func objNumber(w []byte, have int) (int32, error) {
	if len(w) == 0 {
		return objNoSuch, nil
	}
	v, err := strconv.Atoi(string(w))
	switch {
	case v > 0 && v <= objMost:
		return int32(v - 1), err
	case v < 0 && v >= -objMost:
		return int32(have + v - objBack), err
	}
	return objNoSuch, err
}

// objResolve turns a number of a part into one of the file, base being how many
// come before the part.
func objResolve(v *int32, base int) {
	if *v < objNoSuch {
		*v = int32(max(int(*v)+objBack+base, objNoSuch))
	}
}

// readOBJ reads an OBJ file.
func (in *input) readOBJ(ctx context.Context) error {
	var all objPart
	cut := cutText(func(b []byte) int {
		n := afterLines(b) // behind a line that is not continued
		for n > 0 && bytes.HasSuffix(bytes.TrimSuffix(b[:n-1], []byte{'\r'}), []byte{'\\'}) {
			n = afterLines(b[:n-1])
		}
		return n
	})
	err := in.feedFrom(int64(in.body)).run(ctx, uncounted, cut, in.objLines, func(p *part) error {
		points, normals := in.got.len(), len(all.vn)
		if n := max(points, normals); n > objMost {
			return in.fail(quantity(n, "point")+" are more than can be numbered here", "thin the scan out")
		}
		for i := range p.tris {
			for k := range p.tris[i] {
				objResolve(&p.tris[i][k], points)
			}
		}
		for i := range p.obj.corners {
			objResolve(&p.obj.corners[i][0], points)
			objResolve(&p.obj.corners[i][1], normals)
		}
		done := float64(p.at+int64(len(p.b))) / float64(in.size)
		all.vn = join(all.vn, p.obj.vn, done)
		all.corners = join(all.corners, p.obj.corners, done)
		if all.odd == 0 {
			all.oddAt = p.obj.oddAt
		}
		all.odd += p.obj.odd
		return nil
	})
	if err != nil {
		return err
	}
	if all.odd > 0 {
		in.warnLeft(int64(all.odd), "line", " of unknown kind",
			fmt.Sprintf("skipped, the first is line %d", in.failAt(all.oddAt, "", "").Line))
	}
	if len(in.got.tris) == 0 && in.got.len() > 0 {
		in.warn("The file has no faces and was read as a cloud: " +
			"if it is a cut copy, its faces are missing.")
	}
	in.objNormals(&all)
	return nil
}

// objNormals gives the points normals: the sum over the corners that each is;
// of a cloud those that it lists one a point.
func (in *input) objNormals(all *objPart) {
	g := &in.got
	if len(g.tris) == 0 && len(all.vn) == g.len() {
		g.normals = all.vn
	}
	if len(all.corners) == 0 || len(all.vn) == 0 {
		return
	}
	g.normals = make([]mesh.Vec32, g.len())
	for _, c := range all.corners {
		v, m := int(c[0]), int(c[1])
		if v < 0 || v >= g.len() || m < 0 || m >= len(all.vn) {
			continue
		}
		n := all.vn[m].R3()
		if l := n.Norm(); l > 0 && !math.IsInf(l, 0) {
			to := &g.normals[v]
			to[0], to[1], to[2] = to[0]+float32(n.X/l), to[1]+float32(n.Y/l), to[2]+float32(n.Z/l)
		}
	}
}

// objLines parses the lines of a part.
func (in *input) objLines(p *part) error {
	p.obj = objPart{vn: p.obj.vn[:0], corners: p.obj.corners[:0], normals: p.obj.normals}
	if bytes.IndexByte(p.b, '\\') >= 0 { // a line that goes on keeps its length
		p.b = bytes.ReplaceAll(p.b, []byte("\\\r\n"), []byte("   "))
		p.b = bytes.ReplaceAll(p.b, []byte("\\\n"), []byte("  "))
	}
	for w := (words{b: p.b}); w.nextLine(); {
		what := ""
		var v [3]float64
		switch word := w.next(); {
		case string(word) == "v":
			if what = objVector(&w, &v); what == "" {
				p.double = append(p.double, r3.Vector{X: v[0], Y: v[1], Z: v[2]})
			}
		case string(word) == "f":
			what = p.objFace(&w)
		case string(word) == "vn":
			if what = objVector(&w, &v); what == "" {
				p.obj.vn = append(p.obj.vn, mesh.Vec32{float32(v[0]), float32(v[1]), float32(v[2])})
			}
		case word[0] == '#' || word[0] == 0 || objWords[string(word)]:
		default:
			if p.obj.odd == 0 {
				p.obj.oddAt = p.at + int64(w.at)
			}
			p.obj.odd++
		}
		if what != "" {
			return in.failAt(p.at+int64(w.at), what, correctLine)
		}
	}
	return nil
}

// objWord returns the next word of a line; none at the end or before a comment.
func objWord(w *words) []byte {
	word := w.next()
	if len(word) > 0 && word[0] == '#' {
		return nil
	}
	return word
}

// objVector parses the three numbers behind v or vn, and those behind them; it
// says what is wrong.
func objVector(w *words, v *[3]float64) (what string) {
	for k := 0; ; k++ {
		word := objWord(w)
		if len(word) == 0 && k < 3 {
			return "three numbers are needed on this line"
		}
		if len(word) == 0 {
			return ""
		}
		x, ok := number(word)
		if !ok {
			return "not a number: " + quoted(word)
		}
		if k < 3 {
			v[k] = x
		}
	}
}

// objFace parses the corners behind f: v, v/vt, v//vn or v/vt/vn.
func (p *part) objFace(w *words) (what string) {
	before := len(p.obj.corners)
	p.list = slices.Grow(p.list[:0], min(maxCorners, (w.end-w.i)/len(" 1")))
	for {
		word := objWord(w)
		if len(word) == 0 {
			if p.addFan(p.list); len(p.list) < 3 {
				p.obj.corners = p.obj.corners[:before]
			}
			return ""
		}
		point, rest, _ := bytes.Cut(word, []byte{'/'})
		texture, normal, _ := bytes.Cut(rest, []byte{'/'})
		v, err := objNumber(point, len(p.double))
		n, err2 := objNumber(normal, len(p.obj.vn))
		if _, err3 := objNumber(texture, 0); len(point) == 0 || err != nil || err2 != nil || err3 != nil {
			return "not a corner of a face: " + quoted(word)
		}
		if len(p.list) == maxCorners {
			return noPolygon(maxCorners + 1)
		}
		p.list = append(p.list, v)
		if len(normal) > 0 {
			p.obj.corners = append(p.obj.corners, [2]int32{v, n})
		}
	}
}
