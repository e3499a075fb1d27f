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
	l, err := in.layOut()
	if err != nil {
		return err
	}
	err = in.feedFrom(l.body).run(ctx, uncounted, cutLines(nil), func(p *part) error {
		for w := (words{b: p.b}); w.nextLine(); {
			if c := w.b[w.i]; c == 0x1a || isComment(w.b[w.i:]) {
				continue
			}
			start := w.i
			var v [6]float64
			if !l.point(&w, &v) {
				return in.badXYZ(l, p, start)
			}
			p.double = append(p.double, r3.Vector{X: v[0], Y: v[1], Z: v[2]})
			if l.normals {
				p.normals = append(p.normals, mesh.Vec32{float32(v[3]), float32(v[4]), float32(v[5])})
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	switch n := int64(in.got.len()); {
	case l.count > n:
		return in.failAt(l.countAt, mesh.Quantity(l.count, "point")+" promised, but the file has "+
			mesh.Quantity(n, "point"), "").cut()
	case l.count >= 0 && l.count < n:
		in.warn("The file says it has %s but has %s: all were read.",
			mesh.Quantity(l.count, "point"), mesh.Quantity(n, "point"))
	}
	return nil
}

// point reads the columns of a line into v by role, and reports whether it
// could.
func (l *layout) point(w *words, v *[6]float64) bool {
	for _, role := range l.roles {
		if w.i == w.end || w.b[w.i] == '\n' {
			return false
		}
		f := l.field(w, role == other)
		switch {
		case role == other:
			continue
		case len(f) == 0 && l.hard != 0:
			v[role] = math.NaN() // an empty field
			continue
		case l.comma:
			f = bytes.ReplaceAll(f, []byte{','}, []byte{'.'})
		}
		var ok bool
		if v[role], ok = number(f); !ok {
			return false
		}
	}
	return true
}

// field returns the field that follows, without quotation marks, and goes
// behind its separator. A word may hold white space where another separator is
// known.
func (l *layout) field(w *words, word bool) []byte {
	start := skipSpace(w.b, w.i)
	end := start
	for end < w.end && w.b[end] != '\n' && (w.b[end] != l.hard || l.hard == 0) &&
		(!isSpace(w.b[end]) || word && l.hard != 0) {
		end++
	}
	w.i = skipSpace(w.b, end)
	if l.hard != 0 && w.i < w.end && w.b[w.i] == l.hard {
		w.i = skipSpace(w.b, w.i+1)
	}
	return bytes.Trim(w.b[start:end], `"`)
}

// fields counts the columns of a row.
func (l *layout) fields(row []byte) (n int) {
	for w := (words{b: row, end: len(row)}); w.i < len(row); n++ {
		l.field(&w, true)
	}
	return n
}

// badXYZ explains what is wrong with a line.
func (in *input) badXYZ(l *layout, p *part, start int) error {
	line := bytes.TrimSpace(p.b[start:lineEnd(p.b, start)])
	if n, need := l.fields(line), len(l.roles); n < need {
		return in.failIn(p, start, "a point needs "+mesh.Quantity(need, "column")+", this line has "+
			mesh.Quantity(n, "column")+": "+quoted(line), "complete or remove the line")
	}
	return in.failAt(p.at+int64(start), "not a number: "+quoted(line), "correct or remove the line")
}
