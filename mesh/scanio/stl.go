package scanio

import (
	"bytes"
	"context"
	"encoding/binary"
	"math"
	"math/bits"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// STL (Stereolithography Interface Specification, 1989): facets of three
// corners and no connectivity. Binary files have an 80-byte header, the number
// of facets as a little-endian uint32, then 50 bytes a facet: normal and
// corners as float32, and a uint16 attribute. Text files hold solids of
// facets, in key words of any case.
//
// The library github.com/hschendel/stl writes them, but does not read them
// here: it allocates for every facet, runs on one core and takes a truncated
// binary file for text; of text it reads the first solid in lower case only.
// The tests hold this reader against it.

const (
	stlHeader = 84
	stlFacet  = 50
)

// stlFacets returns the facet count that the header of a binary STL states.
func stlFacets(head []byte) int64 {
	if len(head) < stlHeader {
		return -1
	}
	return int64(binary.LittleEndian.Uint32(head[80:]))
}

// readBinarySTL reads a binary STL. Each block merges its own equal corners,
// which leaves a fifth of them to the welding of the whole.
func (in *input) readBinarySTL(ctx context.Context) error {
	n := stlFacets(in.head)
	need := stlHeader + n*stlFacet
	switch {
	case n == 0:
		return in.failAt(80,
			"the header states 0 facets; "+quantity(in.size-stlHeader, "byte")+" follow it",
			"export the scan again")
	case in.size < need:
		return in.truncated(quantity(n, "facet") + " promised, which take " +
			quantity(need, "byte") + ", but the file has " + quantity(in.size, "byte"))
	case 3*n > math.MaxInt32:
		return in.failAt(80, quantity(n, "facet")+" are more than can be numbered here",
			"thin the mesh out")
	}
	in.warnLeft(in.size-need, "stray byte", " after the last facet", "ignored")
	in.got.corners = 3 * int(n)
	in.got.tris = make([][3]int32, 0, n)
	left := n
	cut := func(b []byte, _ bool) (int, int, bool, error) {
		k := min(int64(len(b)/stlFacet), left)
		left -= k
		return int(k) * stlFacet, int(k), left == 0, nil
	}
	return in.feedFrom(stlHeader, 0).run(ctx, cut, func(b *block, p *part) error {
		stlBlock(b.b, p)
		return nil
	}, func(b *block, p *part) error {
		return in.add(p, float64(b.at+int64(len(b.b))-stlHeader)/float64(need-stlHeader), true)
	})
}

// stlBlock decodes facets into the distinct ones of their corners, and
// triangles that name those.
func stlBlock(b []byte, p *part) {
	n := len(b) / stlFacet
	p.tris = grown(p.tris, n)
	// An open-addressed table of corner numbers, 1 more than they are. (A map
	// takes three times as long.)
	size := 1 << bits.Len(uint(6*n))
	p.table = grown(p.table[:0], size)[:size]
	clear(p.table)
	mask := uint32(size - 1)
	for ; len(b) > 0; b = b[stlFacet:] {
		var t [3]int32
		for k := range t {
			c := b[12+12*k : 24+12*k]
			v := mesh.Vec32{math.Float32frombits(binary.LittleEndian.Uint32(c)) + 0, // -0 is 0
				math.Float32frombits(binary.LittleEndian.Uint32(c[4:])) + 0,
				math.Float32frombits(binary.LittleEndian.Uint32(c[8:])) + 0}
			h := (uint64(math.Float32bits(v[0])) | uint64(math.Float32bits(v[1]))<<32) * 0x9E3779B97F4A7C15
			h = (bits.RotateLeft64(h, 29) ^ uint64(math.Float32bits(v[2]))) * 0xBF58476D1CE4E5B9
			slot := uint32(h>>40) & mask
			for p.table[slot] != 0 && p.single[p.table[slot]-1] != v {
				slot = (slot + 1) & mask
			}
			if p.table[slot] == 0 {
				p.single = append(p.single, v)
				p.table[slot] = int32(len(p.single))
			}
			t[k] = p.table[slot] - 1
		}
		p.tris = append(p.tris, t)
	}
}

// readTextSTL reads a text STL, in blocks that begin with a facet. It wants the
// key words "facet", "vertex" and "endfacet" and lets others pass, across any
// number of solids.
func (in *input) readTextSTL(ctx context.Context) error {
	open := true // no endsolid at the end
	cut := func(b []byte, last bool) (int, int, bool, error) {
		if last {
			return len(b), 0, true, nil
		}
		return lastFacet(b, in.eol), 0, false, nil
	}
	err := in.feedFrom(int64(in.body), 1).run(ctx, cut, func(b *block, p *part) error {
		t := stlText{in: in, block: b, b: b.b, corners: -1, open: true}
		err := t.facets(p)
		p.open = t.open
		return err
	}, func(b *block, p *part) error {
		open = p.open
		return in.add(p, float64(b.at+int64(len(b.b)))/float64(in.size), true)
	})
	switch {
	case err != nil:
		return err
	case len(in.got.tris) == 0:
		return in.fail("no facets", "export the scan again")
	case open:
		in.warn("The last solid has no endsolid line: the file may be cut short behind facet %d.",
			len(in.got.tris))
	}
	return nil
}

// lastFacet returns where the last line of b that begins a facet does, 0 if
// there is none behind the first.
func lastFacet(b []byte, eol byte) int {
	for end := len(b); end > 0; {
		end = bytes.LastIndexByte(b[:end], eol)
		if end >= 0 && hasFold(b[skipSpace(b, end+1):], "facet") {
			return end + 1
		}
	}
	return 0
}

// startsFacet reports whether "facet normal" stands at b[i], behind a space.
func startsFacet(b []byte, i int) bool {
	return i > 0 && isSpace(b[i-1]) && hasFold(b[i:], "facet") && i+5 < len(b) && isSpace(b[i+5]) &&
		hasFold(b[skipSpace(b, i+5):], "normal")
}

// stlText parses facets of text.
type stlText struct {
	in      *input
	block   *block
	b       []byte
	i       int
	corners int  // of the facet being read; -1 between facets
	open    bool // no endsolid yet
}

// word returns the next word of any line, nil at the end.
func (t *stlText) word() []byte {
	for t.i < len(t.b) && (t.b[t.i] == '\n' || isSpace(t.b[t.i])) {
		t.i++
	}
	w := wordAt(t.b, t.i)
	t.i += len(w)
	return w
}

// fail returns an error at byte i.
func (t *stlText) fail(i int, what string) error {
	e := t.in.failIn(t.block, i, what, "correct the file or export it again")
	if t.block.last && lineEnd(t.b, i) >= len(bytes.TrimRight(t.b, " \t\r\n")) {
		return e.cut()
	}
	return e
}

// facets parses all facets of the block.
func (t *stlText) facets(p *part) error {
	facets := min(len(t.b), blockSize) / len("facet vertex 0 0 0 vertex 0 0 0 vertex 0 0 0 endfacet ")
	p.reserve(3*facets, false, facets)
	for {
		w := t.word()
		at := t.i - len(w)
		var low [len("endfacet") + 1]byte
		n := copy(low[:], w)
		for k, c := range low[:n] {
			if 'A' <= c && c <= 'Z' {
				low[k] = c | 0x20
			}
		}
		switch key := low[:n]; {
		case n == 0:
			if t.corners >= 0 {
				return t.fail(max(0, len(bytes.TrimRight(t.b, " \t\r\n"))-1),
					"the file ends within a facet")
			}
			return nil
		case string(key) == "vertex":
			if t.corners < 0 || t.corners == 3 {
				return t.fail(at, "a vertex too many")
			}
			var v [3]float64
			for k := range v {
				var ok bool
				if v[k], t.i, ok = number(t.b, skipSpace(t.b, t.i)); !ok {
					return t.fail(at, "three numbers must follow vertex: "+quoted(t.b[at:lineEnd(t.b, at)]))
				}
			}
			p.double = append(p.double, r3.Vector{X: v[0], Y: v[1], Z: v[2]})
			t.corners++
		case string(key) == "facet":
			if t.corners >= 0 {
				return t.fail(at, "the facet before has no endfacet")
			}
			t.corners, t.open = 0, true
			// The normal is not used, and some write nonsense for it where the
			// facet is flat.
			if j := skipSpace(t.b, t.i); hasFold(t.b[j:], "normal") {
				t.i = j + len("normal")
				for range 3 {
					t.i = skipSpace(t.b, t.i)
					t.i += len(wordAt(t.b, t.i))
				}
			}
		case string(key) == "endfacet":
			if err := t.endFacet(at, p); err != nil {
				return err
			}
		case string(key) == "end": // "end facet", "end loop", "end solid" of some writers
			switch w := t.word(); {
			case bytes.EqualFold(w, []byte("facet")):
				if err := t.endFacet(at, p); err != nil {
					return err
				}
			case bytes.EqualFold(w, []byte("solid")):
				t.open = false
				t.skipName()
			}
		case string(key) == "endsolid":
			if t.corners >= 0 {
				return t.fail(at, "the solid ends within a facet")
			}
			t.open = false
			t.skipName()
		case string(key) == "solid":
			if t.corners >= 0 {
				return t.fail(at, "endfacet is missing before "+quoted(w))
			}
			t.skipName()
		case string(key) == "outer", string(key) == "loop", string(key) == "endloop":
		case string(key) == "color", low[0] == 0x1a, isComment(w):
			t.i = lineEnd(t.b, at)
		default:
			return t.fail(at, "unknown word "+quoted(w))
		}
	}
}

// endFacet stores the facet that ends at byte at.
func (t *stlText) endFacet(at int, p *part) error {
	if t.corners != 3 {
		return t.fail(at, "a facet needs three vertices, this has "+
			quantity(max(0, t.corners), "vertex"))
	}
	t.corners = -1
	n := int32(len(p.double))
	p.tris = append(p.tris, [3]int32{n - 3, n - 2, n - 1})
	return nil
}

// skipName goes to the end of the line that names a solid, or to the first
// "facet normal" on it, for files without line ends.
func (t *stlText) skipName() {
	end := lineEnd(t.b, t.i)
	for ; t.i < end; t.i++ {
		if startsFacet(t.b[:end], t.i) {
			return
		}
	}
}
