package mesh

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
