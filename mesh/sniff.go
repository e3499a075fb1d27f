package mesh

import (
	"bytes"
	"path/filepath"
	"strings"
)

// Formats, as Source.Format names them.
const (
	formatSTL = "stl"
	formatPLY = "ply"
	formatOBJ = "obj"
	formatXYZ = "xyz"
)

// extensions that claim a format. Others claim none.
var extensions = map[string]string{
	".stl": formatSTL, ".stla": formatSTL, ".stlb": formatSTL,
	".ply": formatPLY, ".obj": formatOBJ,
	".xyz": formatXYZ, ".csv": formatXYZ, ".txt": formatXYZ, ".asc": formatXYZ,
	".pts": formatXYZ, ".xyzn": formatXYZ, ".tsv": formatXYZ,
}

// strangers are files of other kinds that are easily told, by their first
// bytes, and what to do with them.
var strangers = []struct{ magic, what, fix string }{
	{"PK\x03\x04", "a ZIP archive", "unpack it and give the scan inside"},
	{"\x1f\x8b", "a gzip archive", "unpack it and give the scan inside"},
	{"7z\xbc\xaf\x27\x1c", "a 7z archive", "unpack it and give the scan inside"},
	{"%PDF", "a PDF document", ""},
	{"\x89PNG", "a picture", ""},
	{"\xff\xd8\xff", "a picture", ""},
	{"glTF", "a glTF model", ""},
	{"ISO-10303-21", "a STEP file", ""},
	{"<?xml", "an XML file", ""},
	{"{", "a JSON file", ""},
	{"\xff\xfe", "text in UTF-16", "save it as UTF-8 or plain text"},
	{"\xfe\xff", "text in UTF-16", "save it as UTF-8 or plain text"},
}

const exportHint = "export the scan as STL, PLY, OBJ or XYZ text"

// sniff tells the format from the content, sets in.format and in.ascii, and
// warns where the file's extension claims another one.
func (in *input) sniff() error {
	claimed := extensions[strings.ToLower(filepath.Ext(in.name))]
	if in.size == 0 {
		in.format = claimed
		return in.fail("the file is empty", "export or copy it again")
	}
	for _, s := range strangers {
		if bytes.HasPrefix(in.head, []byte(s.magic)) {
			fix := s.fix
			if fix == "" {
				fix = exportHint
			}
			return in.fail("this is "+s.what+", not a scan that can be read here", fix)
		}
	}
	if err := in.sniffContent(claimed); err != nil {
		return err
	}
	if claimed != "" && claimed != in.format {
		in.warn("The file's extension says %s but its content is %s: read as %s.",
			strings.ToUpper(claimed), strings.ToUpper(in.format), strings.ToUpper(in.format))
	}
	return nil
}

func (in *input) sniffContent(claimed string) error {
	head := in.head
	if bytes.HasPrefix(head, []byte("ply")) && len(head) > 3 && head[3] <= ' ' {
		in.format = formatPLY
		return nil
	}
	n := stlFacets(head)
	if n >= 0 && in.size == stlHeader+n*stlFacet {
		in.format = formatSTL // whatever the header says, even "solid"
		return nil
	}
	if !isText(head) {
		// A binary file with a header of 84 bytes and a count: STL, if it
		// calls itself that or if few bytes are left over.
		over := in.size - (stlHeader + n*stlFacet)
		solid := bytes.HasPrefix(bytes.ToLower(bytes.TrimLeft(head, " \t")), []byte("solid"))
		if n >= 0 && (claimed == formatSTL || solid || n > 0 && 0 < over && over < stlFacet) {
			in.format = formatSTL
			return nil
		}
		if claimed == formatSTL {
			in.format = formatSTL
			return in.truncated("a binary STL starts with 84 bytes of header, the file has " +
				quantity(in.size, "byte"))
		}
		return in.fail("this is no scan of a known format", exportHint)
	}
	in.ascii = true
	line := in.firstLine()
	word, rest := cutWord(line)
	switch lower := strings.ToLower(string(word)); {
	case lower == "solid" || lower == "facet" && strings.HasPrefix(strings.ToLower(string(bytes.TrimLeft(rest, " \t"))), "normal"):
		in.format = formatSTL
	case objWords[lower]:
		in.format = formatOBJ
	case len(word) == 0 && claimed == formatOBJ:
		in.format = formatOBJ // nothing but comments
	case len(word) == 0:
		in.format = claimed
		return in.fail("the file holds no points", "export the scan again")
	case startsNumber(word) || namesColumns(line):
		in.format = formatXYZ
	default:
		in.format = claimed
		return in.failLine(in.body+int64(bytes.Index(in.head[in.body:], line)),
			"no scan of a known format starts with "+quoted(line), exportHint)
	}
	return nil
}

// objWords are the words that begin a line of an OBJ file.
var objWords = map[string]bool{
	"v": true, "vn": true, "vt": true, "vp": true, "f": true, "l": true, "p": true,
	"o": true, "g": true, "s": true, "mtllib": true, "usemtl": true, "mg": true,
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

// settleLines finds out where text starts, behind a byte order mark, and what
// ends its lines.
func (in *input) settleLines() {
	in.body, in.eol = 0, '\n'
	if bytes.HasPrefix(in.head, []byte("\xef\xbb\xbf")) {
		in.body = 3
	}
	if bytes.IndexByte(in.head, '\n') < 0 && bytes.IndexByte(in.head, '\r') >= 0 {
		in.eol = '\r'
	}
}

// firstLine returns the first line of the file's start that is neither blank
// nor a comment.
func (in *input) firstLine() []byte {
	for line := range in.headLines() {
		if t := bytes.TrimSpace(line); len(t) > 0 && !isComment(t) {
			return t
		}
	}
	return nil
}

// headLines yields the lines of the file's start, the last perhaps cut short.
func (in *input) headLines() func(func([]byte) bool) {
	return func(yield func([]byte) bool) {
		for rest := in.head[in.body:]; len(rest) > 0; {
			line := rest
			if i := bytes.IndexByte(rest, in.eol); i >= 0 {
				line, rest = rest[:i], rest[i+1:]
			} else {
				rest = nil
			}
			if !yield(line) {
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

// cutWord splits off the first word.
func cutWord(line []byte) (word, rest []byte) {
	line = bytes.TrimLeft(line, " \t")
	if i := bytes.IndexAny(line, " \t\r\n"); i >= 0 {
		return line[:i], line[i:]
	}
	return line, nil
}

// startsNumber reports whether a word starts as a number does.
func startsNumber(w []byte) bool {
	for len(w) > 0 && (w[0] == '-' || w[0] == '+' || w[0] == '"') {
		w = w[1:]
	}
	if len(w) > 1 && (w[0] == '.' || w[0] == ',') {
		w = w[1:]
	}
	if len(w) > 0 && w[0] >= '0' && w[0] <= '9' {
		return true
	}
	w = bytes.ToLower(w)
	return bytes.HasPrefix(w, []byte("nan")) || bytes.HasPrefix(w, []byte("inf"))
}
