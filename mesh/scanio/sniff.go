package scanio

import (
	"bytes"
	"iter"
	"path/filepath"
	"slices"
	"strings"

	"spotface/mesh"
)

// Formats, as Source.Format names them.
const (
	formatSTL = "stl"
	formatPLY = "ply"
	formatOBJ = "obj"
	formatXYZ = "xyz"
	format3MF = "3mf"
)

// extensions that claim a format. Others claim none.
var extensions = map[string]string{
	".stl": formatSTL, ".stla": formatSTL, ".stlb": formatSTL,
	".ply": formatPLY, ".obj": formatOBJ, ".3mf": format3MF,
	".xyz": formatXYZ, ".csv": formatXYZ, ".txt": formatXYZ, ".asc": formatXYZ,
	".pts": formatXYZ, ".xyzn": formatXYZ, ".tsv": formatXYZ,
}

const (
	exportHint = "export the scan as STL, PLY, OBJ, 3MF or XYZ text"
	unpackHint = "unpack it and give the scan inside"
	zipMagic   = "PK\x03\x04"
)

// foreign are files of other kinds that are easily recognised by their first bytes,
// and what to do with them.
var foreign = []struct {
	what, fix string
	magic     []string
}{
	{"a ZIP archive", unpackHint, []string{zipMagic}},
	{"a gzip archive", unpackHint, []string{"\x1f\x8b"}},
	{"a 7z archive", unpackHint, []string{"7z\xbc\xaf\x27\x1c"}},
	{"a PDF document", exportHint, []string{"%PDF"}},
	{"a picture", exportHint, []string{"\x89PNG", "\xff\xd8\xff"}},
	{"a glTF model", exportHint, []string{"glTF"}},
	{"a STEP file", exportHint, []string{"ISO-10303-21"}},
	{"an XML file", exportHint, []string{"<?xml"}},
	{"a JSON file", exportHint, []string{"{"}},
	// ELF, PE, and Mach-O of either byte order, 32 and 64 bits, several processors
	{"a program", exportHint, []string{"\x7fELF", "MZ", "\xfe\xed\xfa\xce", "\xfe\xed\xfa\xcf",
		"\xce\xfa\xed\xfe", "\xcf\xfa\xed\xfe", "\xca\xfe\xba\xbe"}},
	{"text in UTF-16", "save it as UTF-8 or plain text", []string{"\xff\xfe", "\xfe\xff"}},
}

// sniff recognises the format by the content, sets in.format and in.ascii, and
// warns where the file's extension claims another one.
func (in *input) sniff() error {
	claimed := extensions[strings.ToLower(filepath.Ext(in.name))]
	if in.size == 0 {
		in.format = claimed
		return in.fail("the file is empty", "export or copy it again")
	}
	if err := in.sniffContent(claimed); err != nil {
		return err
	}
	if claimed != "" && claimed != in.format {
		in.warn("The file's extension says %s but its content is %s: read as %[2]s.",
			strings.ToUpper(claimed), strings.ToUpper(in.format))
	}
	return nil
}

func (in *input) sniffContent(claimed string) error {
	starts := func(magic string) bool { return bytes.HasPrefix(in.head, []byte(magic)) }
	n := stlFacets(in.head)
	over := in.size - (stlHeader + n*stlFacet) // bytes behind the facets
	if n > 0 && over == 0 {
		in.format = formatSTL // whatever the header says, even "solid"
		return nil
	}
	if starts(zipMagic) {
		if in.model = in.find3MF(); in.model != nil || claimed == format3MF {
			in.format = format3MF
			return nil
		}
	}
	for _, f := range foreign {
		if slices.ContainsFunc(f.magic, starts) {
			return in.fail("this is "+f.what+", not a scan that can be read here", f.fix)
		}
	}
	switch {
	case starts("ply") && len(in.head) > 3 && in.head[3] <= ' ':
		in.format = formatPLY
	case isText(in.head):
		in.ascii = true
		return in.sniffText(claimed)
	case n >= 0 && (claimed == formatSTL || hasFold(bytes.TrimLeft(in.head, " \t"), "solid") ||
		n > 0 && 0 < over && over < stlFacet):
		in.format = formatSTL
		if n > 0 && over >= n*stlFacet {
			return in.failAt(80, "the header states "+mesh.Quantity(n, "facet")+", but "+
				mesh.Quantity(over, "byte")+" follow them: this is no STL", exportHint)
		}
	case claimed == formatSTL:
		in.format = formatSTL
		return in.truncated("a binary STL starts with 84 bytes of header, the file has " +
			mesh.Quantity(in.size, "byte"))
	default:
		return in.fail("this is no scan of a known format", exportHint)
	}
	return nil
}

// sniffText recognises the format of a text file by its first line.
func (in *input) sniffText(claimed string) error {
	at, line := in.firstLine()
	w := words{b: line, end: len(line)}
	word := w.next()
	switch lower := strings.ToLower(string(word)); {
	case lower == "solid" || lower == "facet" && hasFold(line[skipSpace(line, w.i):], "normal"):
		in.format = formatSTL
	case objWords[lower]:
		in.format = formatOBJ
	case len(word) == 0 && claimed == formatOBJ:
		in.format = formatOBJ // nothing but comments
	case len(word) == 0:
		in.format = claimed
		return in.fail("the file holds no points", "export the scan again")
	case startsNumber(word) || columnNames(line) != nil:
		in.format = formatXYZ
	default:
		in.format = claimed
		return in.failAt(int64(at), "no scan of a known format starts with "+quoted(line), exportHint)
	}
	return nil
}

// isText reports whether the start of a file is text: no control characters
// but white space.
func isText(head []byte) bool {
	for _, c := range head {
		if c < ' ' && (c < '\t' || c > '\r') && c != 0x1a {
			return false
		}
	}
	return true
}

// firstLine returns the first line of the file's start that is neither blank
// nor a comment, and where it is.
func (in *input) firstLine() (at int, line []byte) {
	for at, line := range in.headLines() {
		if !isComment(line) {
			return at, line
		}
	}
	return 0, nil
}

// headLines yields the lines of the file's start that are not blank, without
// space around them, and where they are. The last may be cut short.
func (in *input) headLines() iter.Seq2[int, []byte] {
	return func(yield func(int, []byte) bool) {
		w := words{b: in.head, end: in.body}
		for w.nextLine() {
			if t := bytes.Trim(w.b[w.i:w.end], " \t\r\v\f\n\x1a"); len(t) > 0 && !yield(w.i, t) {
				return
			}
		}
	}
}

// isComment reports whether a line, without leading space, is a comment.
func isComment(line []byte) bool {
	switch line[0] {
	case '#', ';', '%', '!':
		return true
	}
	return len(line) > 1 && line[0] == '/' && line[1] == '/'
}

// startsNumber reports whether a word starts as a number does.
func startsNumber(w []byte) bool {
	w = bytes.TrimLeft(w, `-+"`)
	if len(w) > 1 && (w[0] == '.' || w[0] == ',') {
		w = w[1:]
	}
	return len(w) > 0 && w[0] >= '0' && w[0] <= '9' || hasFold(w, "nan") || hasFold(w, "inf")
}

// HasExtension reports whether a file's name ends as scans do: .stl, .ply and so on.
func HasExtension(name string) bool {
	_, ok := extensions[strings.ToLower(filepath.Ext(name))]
	return ok
}
