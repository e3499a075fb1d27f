package mesh

import (
	"bytes"
	"context"
	"slices"

	"github.com/golang/geo/r3"
)

// Text STL: solids of facets, each a normal and a loop of three vertices, in
// key words of any case. The reader wants the key words "facet", "vertex"
// and "endfacet" and lets others pass, across any number of solids.
//
// The library github.com/hschendel/stl is not used for it either: it stops at
// the end of the first solid, knows lower case only, matches key words by
// regular expression with several allocations a line, and keeps single
// precision.

// readTextSTL reads a text STL, in chunks that begin with a facet.
func (in *input) readTextSTL(ctx context.Context, r *raw) error {
	text := in.lines(in.body)
	text.starts = func(b []byte, i int) bool { return hasFold(b[skipSpace(b, i):], "facet") }
	chunks := text.count()
	bufs := make([][]byte, in.jobs)
	scratch := make([]raw, in.jobs)
	parts := make([]raw, chunks)
	empty, open := make([]bool, chunks), make([]bool, chunks) // open: no endsolid at the end
	err := inChunks(ctx, chunks, in.jobs, func(w, c int) error {
		b, at, err := text.load(c, &bufs[w])
		if err != nil {
			return err
		}
		if empty[c] = len(b) == 0; empty[c] {
			return nil
		}
		// A facet takes 50 bytes of text or more; the last may be cut short.
		part := &scratch[w]
		part.scale, part.origin = r.scale, r.origin
		if room := 3 * (len(b)/50 + 1); in.exact && cap(part.exact) < room {
			part.exact = make([]r3.Vector, room)
		} else if !in.exact && cap(part.off) < room {
			part.grow(room, false, false)
		}
		n := 0
		if n, open[c], err = in.textFacets(b, at, part); err != nil {
			return err
		}
		if in.exact {
			parts[c].exact = slices.Clone(part.exact[:n])
			return nil
		}
		parts[c].off, parts[c].hash = slices.Clone(part.off[:n]), slices.Clone(part.hash[:n])
		return nil
	})
	if err != nil {
		return err
	}
	last := chunks - 1
	for last > 0 && empty[last] {
		last--
	}
	n := 0
	for _, p := range parts {
		n += len(p.off) + len(p.exact)
	}
	switch {
	case n == 0:
		return in.fail("no facets", "export the scan again")
	case n > 1<<31-2:
		return in.fail(quantity(int64(n), "corner")+" are more than this program can number", "thin the mesh out")
	case open[last] && !in.exact:
		in.warn("The last solid has no endsolid line: the file may be cut short behind facet %d.", n/3)
	}
	joinPoints(r, parts, n)
	if in.exact {
		return nil
	}
	r.tris = make([][3]int32, n/3)
	for i, c := 0, flat(r.tris); i < n; i++ {
		c[i] = int32(i)
	}
	r.fileTris = n / 3
	return nil
}

// textFacets parses facets into part, whose slices are long enough for
// facets of 50 bytes each, and returns the number of corners. Where shorter
// ones come, it fails: that is what key words and blanks alone take.
func (in *input) textFacets(b []byte, at int64, part *raw) (n int, open bool, err error) {
	const remedy = "correct the file or export it again"
	open = true
	corners := -1 // of the facet being read; -1 between facets
	fail := func(i int, what string) error {
		if lineEnd(b, i) >= len(bytes.TrimRight(b, " \t\r\n")) && at+int64(len(b)) >= in.size {
			e := in.failLine(at+int64(i), "truncated: "+what, "export or copy the file again")
			e.Truncated = true
			return e
		}
		return in.failLine(at+int64(i), what, remedy)
	}
	room := len(part.off) + len(part.exact)
	i := 0
	for {
		for i < len(b) && (b[i] == '\n' || isSpace(b[i])) {
			i++
		}
		if i == len(b) {
			break
		}
		switch b[i] | 0x20 {
		case 'v':
			if !hasFold(b[i:], "vertex") {
				return n, open, fail(i, "unknown word "+quoted(wordAt(b, i)))
			}
			if corners < 0 || corners == 3 {
				return n, open, fail(i, "a vertex too many")
			}
			v, j, ok := threeNumbers(b, i+6)
			if !ok {
				return n, open, fail(i, "three numbers must follow vertex: "+quoted(b[i:lineEnd(b, i)]))
			}
			if n == room {
				return n, open, fail(i, "the file is no text STL")
			}
			part.set(n, v[0], v[1], v[2])
			n++
			corners++
			i = j
		case 'f':
			if !hasFold(b[i:], "facet") {
				return n, open, fail(i, "unknown word "+quoted(wordAt(b, i)))
			}
			if corners >= 0 {
				return n, open, fail(i, "the facet before has no endfacet")
			}
			corners = 0
			open = true
			i += len("facet")
			// The normal is not used, and some write nonsense for it where the
			// facet is flat.
			if j := skipSpace(b, i); hasFold(b[j:], "normal") {
				i = j + len("normal")
				for range 3 {
					i = skipSpace(b, i)
					i += len(wordAt(b, i))
				}
			}
		case 'e':
			switch {
			case hasFold(b[i:], "endfacet"):
				if corners != 3 {
					return n, open, fail(i, "a facet needs three vertices, this has "+quantity(int64(max(0, corners)), "vertex"))
				}
				corners = -1
				i += len("endfacet")
			case hasFold(b[i:], "endloop"):
				i += len("endloop")
			case hasFold(b[i:], "endsolid"):
				if corners >= 0 {
					return n, open, fail(i, "the solid ends within a facet")
				}
				open = false
				i = behindName(b, i)
			case hasFold(b[i:], "end") && i+3 < len(b) && isSpace(b[i+3]):
				// "end facet", "end loop", "end solid" of some writers
				i += len("end")
				if j := skipSpace(b, i); hasFold(b[j:], "facet") {
					i = j + len("facet")
					if corners != 3 {
						return n, open, fail(i, "a facet needs three vertices")
					}
					corners = -1
				} else if hasFold(b[j:], "solid") {
					open = false
					i = behindName(b, i)
				}
			default:
				return n, open, fail(i, "unknown word "+quoted(wordAt(b, i)))
			}
		case 's':
			if !hasFold(b[i:], "solid") || corners >= 0 {
				return n, open, fail(i, "facet or endsolid is missing before "+quoted(wordAt(b, i)))
			}
			i = behindName(b, i)
		case 'o':
			if !hasFold(b[i:], "outer") {
				return n, open, fail(i, "unknown word "+quoted(wordAt(b, i)))
			}
			i += len("outer")
		case 'l':
			if !hasFold(b[i:], "loop") {
				return n, open, fail(i, "unknown word "+quoted(wordAt(b, i)))
			}
			i += len("loop")
		case 'c':
			if !hasFold(b[i:], "color") && corners >= 0 {
				return n, open, fail(i, "unknown word "+quoted(wordAt(b, i)))
			}
			i = lineEnd(b, i)
		default:
			if b[i] == 0x1a || isComment(b[i:]) {
				i = lineEnd(b, i)
				continue
			}
			return n, open, fail(i, "unknown word "+quoted(wordAt(b, i)))
		}
	}
	if corners >= 0 {
		return n, open, fail(max(0, len(bytes.TrimRight(b, " \t\r\n"))-1), "the file ends within a facet")
	}
	return n, open, nil
}

// behindName returns the end of the line that names a solid, or the first
// "facet normal" on it, for files without line ends.
func behindName(b []byte, i int) int {
	end := lineEnd(b, i)
	for k := i; k < end; k++ {
		if isSpace(b[k]) && hasFold(b[k+1:end], "facet") && hasFold(b[skipSpace(b, min(end, k+6)):end], "normal") {
			return k + 1
		}
	}
	return end
}
