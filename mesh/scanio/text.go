package scanio

import (
	"bytes"
	"context"
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// Text clouds: a point a line, its coordinates and perhaps a normal in columns
// between spaces, tabs, commas or semicolons.

// readXYZ reads a text cloud.
func (in *input) readXYZ(ctx context.Context) error {
	if err := in.layOutXYZ(); err != nil {
		return err
	}
	l := in.xyz
	err := in.feedFrom(l.body, l.bodyLine).run(ctx, in.afterLines, func(b *block, p *part) error {
		if bad := l.parseLines(b.b, p); bad >= 0 {
			return in.badXYZ(b, bad)
		}
		return nil
	}, func(b *block, p *part) error {
		return in.add(p, float64(b.at+int64(len(b.b))-l.body)/float64(in.size-l.body), false)
	})
	if err != nil {
		return err
	}
	switch n := int64(in.got.len()); {
	case l.count > n:
		e := in.fail(quantity(l.count, "point")+" promised, but the file has "+
			quantity(n, "point"), "").cut()
		e.Line = l.countLine
		return e
	case l.count >= 0 && l.count < n:
		in.warn("The file says it has %s but has %s: all were read.",
			quantity(l.count, "point"), quantity(n, "point"))
	}
	return nil
}

// parseLines stores the points of some lines, and returns the place of the
// first line that is wrong, or -1.
func (l *xyzLayout) parseLines(b []byte, p *part) (bad int) {
	p.reserve(min(len(b)/len("1 1 1\n"), bytes.Count(b, []byte{'\n'}))+1, l.normals, 0) // at most
	var v [xyzRoles]float64
	for i := 0; i < len(b); i++ {
		i = skipSpace(b, i)
		if i == len(b) || b[i] == '\n' {
			continue
		}
		if c := b[i]; (c < '-' || c == '/' || c == ';') && isComment(b[i:]) || c == 0x1a {
			i = lineEnd(b, i)
			continue
		}
		start := i
		var ok bool
		if i, ok = l.parse(b, i, &v); !ok {
			return start
		}
		p.double = append(p.double, r3.Vector{X: v[roleX], Y: v[roleY], Z: v[roleZ]})
		if l.normals {
			p.normals = append(p.normals,
				mesh.Vec32{float32(v[roleNX]), float32(v[roleNY]), float32(v[roleNZ])})
		}
		if i < len(b) && b[i] != '\n' {
			i = lineEnd(b, i)
		}
	}
	return -1
}

// parse reads the columns of the line at b[i:] into v by role and returns a
// place on the line behind the last that matters.
func (l *xyzLayout) parse(b []byte, i int, v *[xyzRoles]float64) (next int, ok bool) {
	for k, role := range l.roles {
		ok = true
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
		switch {
		case i < len(b) && b[i] == l.hard && l.hard != 0:
			v[role] = math.NaN() // an empty field
		case l.comma:
			w := wordAt(b, i)
			if e := bytes.IndexByte(w, l.hard); e >= 0 && l.hard != 0 {
				w = w[:e]
			}
			v[role], _, ok = number(bytes.ReplaceAll(w, []byte{','}, []byte{'.'}), 0)
			i += len(w)
		default:
			v[role], i, ok = number(b, i)
		}
		if !ok {
			return i, false
		}
		// What may follow a number: white space and one separator.
		if i < len(b) && b[i] == '"' {
			i++
		}
		if i < len(b) && b[i] != '\n' && b[i] != l.hard && !isSpace(b[i]) {
			return i, false
		}
		i = skipSpace(b, i)
		if i < len(b) && b[i] == l.hard && l.hard != 0 {
			i++
		}
	}
	return i, true
}

// skipField returns the place behind the field at b[i:] and its separator.
func (l *xyzLayout) skipField(b []byte, i int) (next int, ok bool) {
	i = skipSpace(b, i)
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
	i += len(wordAt(b, i))
	return skipSpace(b, i), i > start
}

// badXYZ explains what is wrong with a line.
func (in *input) badXYZ(b *block, bad int) error {
	line := bytes.TrimSpace(b.b[bad:lineEnd(b.b, bad)])
	need := len(in.xyz.roles)
	if n := in.xyz.fields(line); n < need {
		e := in.failIn(b, bad, "a point needs "+quantity(need, "column")+", this line has "+quantity(n,
			"column")+
			": "+quoted(line), "complete or remove the line")
		if b.at+int64(bad)+int64(len(line)) >= in.size-2 {
			return e.cut()
		}
		return e
	}
	return in.failIn(b, bad, "not a number: "+quoted(line), "correct or remove the line")
}
