package scanio

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strconv"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// OBJ: lines of a key word and its arguments. Read here are v (points; weight
// or colour behind the coordinates is ignored), vn (normals, of a cloud with one a point)
// and f (polygons, with positive or, counted back from the last point, negative numbers).
// A backslash at its end continues a line.

// objWords are the words that begin a line of an OBJ file. Those of curves and
// surfaces are not known here.
var objWords = map[string]bool{
	"v": true, "vn": true, "vt": true, "vp": true, "f": true, "l": true, "p": true,
	"o": true, "g": true, "s": true, "mtllib": true, "usemtl": true, "mg": true,
}

// objNumber decodes a point's number; have is how many points the part has so far. None
// is noSuch.
func objNumber(w []byte, have int) (int32, error) {
	if len(w) == 0 {
		return noSuch, nil
	}
	v, err := strconv.Atoi(string(w))
	switch {
	case v > 0:
		return index(float64(v - 1)), err
	case v < 0 && v >= -partBase:
		return relative(have + v), err
	}
	return noSuch, err
}

// readOBJ reads an OBJ file.
func (in *input) readOBJ(ctx context.Context) error {
	cut := cutLines(func(before, _ []byte) bool { // not behind a line that is continued
		return !bytes.HasSuffix(bytes.TrimSuffix(before, []byte{'\r'}), []byte{'\\'})
	})
	err := in.feedFrom(int64(in.body)).run(ctx, uncounted, cut, in.objLines)
	if err != nil {
		return err
	}
	g := &in.got
	if g.odd > 0 {
		in.warnLeft(int64(g.odd), "line", " of unknown kind",
			fmt.Sprintf("skipped, the first is line %d", in.failAt(g.oddAt, "", "").Line))
	}
	if len(g.tris) == 0 && g.len() > 0 {
		in.warn("The file has no faces and was read as a cloud: " +
			"if it is a cut copy, its faces are missing.")
	}
	if len(g.tris) > 0 || len(g.normals) != g.len() { // but of a cloud, one a point
		g.normals = nil
	}
	return nil
}

// objLines parses the lines of a part.
func (in *input) objLines(p *part) error {
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
				p.normals = append(p.normals, mesh.Vec32{float32(v[0]), float32(v[1]), float32(v[2])})
			}
		case word[0] == '#' || word[0] == 0 || objWords[string(word)]:
		default:
			if p.odd == 0 {
				p.oddAt = p.at + int64(w.at)
			}
			p.odd++
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
	p.list = slices.Grow(p.list[:0], min(maxCorners, (w.end-w.i)/len(" 1")))
	for {
		word := objWord(w)
		if len(word) == 0 {
			p.addFan(p.list)
			return ""
		}
		point, rest, _ := bytes.Cut(word, []byte{'/'})
		texture, normal, _ := bytes.Cut(rest, []byte{'/'})
		v, err := objNumber(point, len(p.double))
		_, err2 := objNumber(texture, 0)
		_, err3 := objNumber(normal, 0)
		if len(point) == 0 || err != nil || err2 != nil || err3 != nil {
			return "not a corner of a face: " + quoted(word)
		}
		if len(p.list) == maxCorners {
			return noPolygon(maxCorners + 1)
		}
		p.list = append(p.list, v)
	}
}
