package mesh

import (
	"bytes"
	"context"
	"math"
)

// minXYZ is the length of the shortest line with a point, "1 1\n" for a
// figure in a plane, "1 1 1\n" else; it bounds what line counts are believed.
const minXYZ, minXY = 6, 4

// readXYZ reads a text cloud: once to count lines a chunk, so that each point
// has its place before any is parsed, and once to parse.
func (in *input) readXYZ(ctx context.Context, r *raw) error {
	l := in.xyz
	text, counting := in.lines(l.body), in.lines(l.body)
	counting.silent = true
	chunks := text.count()
	bufs := make([][]byte, in.jobs)
	base := make([]int, chunks+1)
	shortest := minXYZ
	if l.flat {
		shortest = minXY
	}
	err := inChunks(ctx, chunks, in.jobs, func(w, c int) error {
		b, _, err := counting.load(c, &bufs[w])
		base[c+1] = min(bytes.Count(b, []byte{'\n'})+1, len(b)/shortest+1)
		if len(b) == 0 {
			base[c+1] = 0
		}
		return err
	})
	if err != nil {
		return err
	}
	for c := range chunks {
		base[c+1] += base[c]
	}
	r.grow(base[chunks], in.exact, l.normals)
	got := make([]int, chunks)
	err = inChunks(ctx, chunks, in.jobs, func(w, c int) error {
		b, at, err := text.load(c, &bufs[w])
		if err != nil {
			return err
		}
		n, bad := l.parseLines(b, r, base[c], base[c+1])
		got[c] = n
		if bad >= 0 {
			return in.badXYZ(b, at, bad)
		}
		return nil
	})
	if err != nil {
		return err
	}
	n := 0
	for c := range chunks {
		from, to := base[c], base[c]+got[c]
		if r.exact != nil {
			n += copy(r.exact[n:], r.exact[from:to])
			continue
		}
		if r.normals != nil {
			copy(r.normals[n:], r.normals[from:to])
		}
		copy(r.hash[n:], r.hash[from:to])
		n += copy(r.off[n:], r.off[from:to])
	}
	if r.exact != nil {
		r.exact = r.exact[:n]
	} else {
		r.off, r.hash = r.off[:n], r.hash[:n]
		if r.normals != nil {
			r.normals = r.normals[:n]
		}
	}
	switch {
	case l.count > int64(n):
		e := in.truncated(quantity(l.count, "point") + " promised, but the file has " + quantity(int64(n), "point"))
		e.Line = in.failLine(l.atCount, "", "").Line
		return e
	case l.count >= 0 && l.count < int64(n):
		in.warn("The file says it has %s but has %s: all were read.",
			quantity(l.count, "point"), quantity(int64(n), "point"))
	}
	return nil
}

// parseLines stores the points of some lines in r from number base on, and
// returns how many there were, and the place of the first line that is wrong,
// or -1.
func (l *xyzLayout) parseLines(b []byte, r *raw, base, limit int) (n, bad int) {
	var v [xyzRoles]float64
	for i := 0; i < len(b); {
		i = skipSpace(b, i)
		if i == len(b) {
			break
		}
		if b[i] == '\n' {
			i++
			continue
		}
		if c := b[i]; (c < '-' || c == '/' || c == ';') && isComment(b[i:]) || c == 0x1a {
			i = lineEnd(b, i) + 1
			continue
		}
		start := i
		var ok bool
		if i, ok = l.parse(b, i, &v); !ok || base+n >= limit {
			return n, start
		}
		if r.normals != nil {
			r.normals[base+n] = Vec32{float32(v[roleNX]), float32(v[roleNY]), float32(v[roleNZ])}
		}
		r.set(base+n, v[roleX], v[roleY], v[roleZ])
		n++
		if i < len(b) && b[i] == '\n' {
			i++
		} else if i < len(b) {
			i = lineEnd(b, i) + 1
		}
	}
	return n, -1
}

// parse reads the columns of the line at b[i:] into v by role and returns a
// place on the line behind the last that matters.
func (l *xyzLayout) parse(b []byte, i int, v *[xyzRoles]float64) (next int, ok bool) {
	for k, role := range l.roles {
		if k > 0 && (i >= len(b) || b[i] == '\n') {
			return i, false
		}
		if role == roleOther {
			if i, ok = l.skipField(b, i); !ok {
				return i, false
			}
			continue
		}
		for i < len(b) && (b[i] == ' ' || b[i] == '\t' || b[i] == '"') {
			i++
		}
		if i < len(b) && b[i] == l.hard && l.hard != 0 {
			v[role] = math.NaN() // an empty field
			i++
			continue
		}
		x, j, good := parseNumber(b, i, l.point)
		if !good {
			return i, false
		}
		v[role], i = x, j
		// What may follow a number: white space and one separator.
		if i < len(b) && b[i] == '"' {
			i++
		}
		if i < len(b) && b[i] != '\n' {
			c := b[i]
			if c != l.hard && !isSpace(c) {
				return i, false
			}
			for i < len(b) && isSpace(b[i]) {
				i++
			}
			if i < len(b) && b[i] == l.hard && l.hard != 0 {
				i++
			}
		}
	}
	return i, true
}

// skipField returns the place behind the field at b[i:] and its separator.
func (l *xyzLayout) skipField(b []byte, i int) (next int, ok bool) {
	for i < len(b) && isSpace(b[i]) {
		i++
	}
	start := i
	if l.hard != 0 {
		for i < len(b) && b[i] != '\n' && b[i] != l.hard {
			i++
		}
		if i < len(b) && b[i] == l.hard {
			return i + 1, true // perhaps empty
		}
		return i, i > start
	}
	for i < len(b) && b[i] != '\n' && !isSpace(b[i]) {
		i++
	}
	ok = i > start
	for i < len(b) && isSpace(b[i]) {
		i++
	}
	return i, ok
}

// badXYZ explains what is wrong with a line.
func (in *input) badXYZ(b []byte, at int64, bad int) error {
	line := bytes.TrimSpace(b[bad:lineEnd(b, bad)])
	e := in.failLine(at+int64(bad), "", "")
	need := len(in.xyz.roles)
	if n := in.xyz.fields(line); n < need {
		e.What = "a point needs " + quantity(int64(need), "column") + ", this line has " + quantity(int64(n), "column") + ": " + quoted(line)
		e.Fix = "complete or remove the line"
		if at+int64(bad)+int64(len(line)) >= in.size-2 {
			e.What = "truncated: " + e.What
			e.Truncated = true
		}
		return e
	}
	e.What = "not a number: " + quoted(line)
	e.Fix = "correct or remove the line"
	return e
}
