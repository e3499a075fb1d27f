package scanio

import (
	"bytes"
	"context"
	"encoding/binary"
	"math"
	"math/bits"
	"regexp"
	"strings"

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

// readSTL reads an STL of either kind.
func (in *input) readSTL(ctx context.Context) error {
	if in.ascii {
		return in.readTextSTL(ctx)
	}
	return in.readBinarySTL(ctx)
}

// readBinarySTL reads a binary STL. Each block merges most of its own equal corners and
// leaves the others to mesh.Build, which takes twice as long if it is left all of them.
func (in *input) readBinarySTL(ctx context.Context) error {
	n := stlFacets(in.head)
	need := stlHeader + n*stlFacet
	switch {
	case n == 0:
		return in.failAt(80,
			"the header states 0 facets; "+mesh.Quantity(in.size-stlHeader, "byte")+" follow it",
			"export the scan again")
	case in.size < need:
		return in.truncated(mesh.Quantity(n, "facet") + " promised, which take " +
			mesh.Quantity(need, "byte") + ", but the file has " + mesh.Quantity(in.size, "byte"))
	case 3*n > math.MaxInt32:
		return in.failAt(80, mesh.Quantity(n, "facet")+" are more than can be numbered here",
			"thin the mesh out")
	}
	in.warnLeft(in.size-need, "stray byte", " after the last facet", "ignored")
	in.got.tris = make([][3]int32, 0, n)
	whole := func(b []byte, most int64, _ bool) (int, int) {
		k := int(min(int64(len(b)/stlFacet), most))
		return k * stlFacet, k
	}
	return in.feedFrom(stlHeader).run(ctx, n, whole, stlBlock)
}

// stlBlock decodes facets into corners, and triangles that name those. A corner is looked
// for in one place of a small table, which finds most of those that are equal.
func stlBlock(p *part) error {
	var seen [stlTable]int32 // numbers of corners, plus one
	for b := p.b; len(b) > 0; b = b[stlFacet:] {
		var t [3]int32
		for k := range t {
			var v mesh.Vec32
			h := uint32(0)
			for i := range v {
				v[i] = math.Float32frombits(binary.LittleEndian.Uint32(b[12+12*k+4*i:])) + 0 // -0 is 0
				h = bits.RotateLeft32(h, 13)*0x9E3779B1 ^ math.Float32bits(v[i])
			}
			at := &seen[h*0x85EBCA6B>>16%stlTable]
			if *at == 0 || p.single[*at-1] != v {
				p.single = append(p.single, v)
				*at = int32(len(p.single))
			}
			t[k] = relative(int(*at - 1))
		}
		p.tris = append(p.tris, t)
	}
	return nil
}

// readTextSTL reads a text STL, in blocks that begin with a facet. It wants the
// key words "facet", "vertex" and "endfacet" and lets others pass, across any
// number of solids.
func (in *input) readTextSTL(ctx context.Context) error {
	cut := cutLines(func(_, behind []byte) bool { // before a line that begins a facet
		return hasFold(behind[skipSpace(behind, 0):], "facet")
	})
	err := in.feedFrom(int64(in.body)).run(ctx, uncounted, cut, in.textFacets)
	if err == nil && len(in.got.tris) == 0 {
		return in.fail("no facets", exportAgain)
	}
	return err
}

// stlNextFacet finds a facet behind the name of a solid.
var stlNextFacet = regexp.MustCompile(`(?i)\sfacet\s+normal`)

// textFacets parses the facets of a part.
func (in *input) textFacets(p *part) error {
	w := words{b: p.b, end: len(p.b)}
	corners := -1 // of the facet being read; -1 between facets
	for {
		for w.i = skipSpace(p.b, w.i); w.i < len(p.b) && p.b[w.i] == '\n'; {
			w.i = skipSpace(p.b, w.i+1)
		}
		at, what := w.i, ""
		word := w.next()
		key := strings.ToLower(string(word))
		if key == "end" { // "end facet", "end loop", "end solid" of some writers
			key += strings.ToLower(string(w.next()))
		}
		switch {
		case key == "" && corners >= 0:
			what, at = "the file ends within a facet", len(bytes.TrimRight(p.b, " \t\r\n"))-1
		case key == "":
			return nil
		case (key == "facet" || key == "solid" || key == "endsolid") && corners >= 0:
			what = "endfacet is missing before " + quoted(word)
		case key == "facet":
			corners = 0
			// The normal is not used, and some write nonsense for it where the
			// facet is flat.
			if j := w.i; hasFold(w.next(), "normal") {
				w.next()
				w.next()
				w.next()
			} else {
				w.i = j
			}
		case key == "vertex" && (corners < 0 || corners == 3):
			what = "a vertex too many"
		case key == "vertex":
			x, okX := number(w.next())
			y, okY := number(w.next())
			z, okZ := number(w.next())
			if !okX || !okY || !okZ {
				what = "three numbers must follow vertex: " + quoted(p.b[at:lineEnd(p.b, at)])
			}
			p.double = append(p.double, r3.Vector{X: x, Y: y, Z: z})
			corners++
		case key == "endfacet" && corners != 3:
			what = "a facet needs three corners, this has " + mesh.Quantity(max(0, corners), "corner")
		case key == "endfacet":
			n := len(p.double)
			p.tris = append(p.tris, [3]int32{relative(n - 3), relative(n - 2), relative(n - 1)})
			corners = -1
		case key == "solid" || key == "endsolid":
			// A name follows, up to the line's end, or to the first facet on it.
			end := lineEnd(p.b, w.i)
			if m := stlNextFacet.FindIndex(p.b[w.i:end]); m != nil {
				end = w.i + m[0]
			}
			w.i = end
		case key == "outer" || key == "loop" || key == "endloop" || bytes.EqualFold(word, []byte("end")):
		case key == "color" || key[0] == 0x1a || isComment(word):
			w.i = lineEnd(p.b, at)
		default:
			what = "unknown word " + quoted(word)
		}
		if what != "" {
			return in.failIn(p, at, what, "correct the file or export it again")
		}
	}
}
