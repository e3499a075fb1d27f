package scanio

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"slices"
	"time"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// Options says how to read a scan. The zero value works.
type Options struct {
	// Unit of the numbers in the file; empty means the file's own statement,
	// else millimetres (assumed).
	Unit mesh.Unit
	// Jobs is the number of goroutines; zero means GOMAXPROCS. It does not
	// change the result.
	Jobs int
	// Checksum asks for the file's SHA-256, which costs a second look at all of it.
	Checksum bool
	// Progress, if set, is called from one goroutine, at most ten times a
	// second, with the bytes done and their total. It must return quickly.
	Progress func(done, total int)
}

// Read reads a scan file: STL, PLY, OBJ, 3MF or a text cloud (XYZ, CSV), recognised
// by its content. It welds points of exactly equal coordinates, and drops
// broken and repeated items, with counts in Removed. Normals are those that the
// file of a cloud states, of unit length, or nil; those of a mesh come from its
// triangles.
//
// Errors: *FormatError where the file is at fault; the context's error; else
// that of the operating system.
func Read(ctx context.Context, path string, opt Options) (*mesh.Scan, error) {
	in, err := open(path)
	if err != nil {
		return nil, err
	}
	defer in.file.Close()
	return in.read(ctx, opt)
}

// ReadFrom is Read for size bytes of r. The name serves error messages and,
// by its extension, doubtful cases.
func ReadFrom(ctx context.Context, r io.ReaderAt, size int64, name string,
	opt Options) (*mesh.Scan, error) {
	return newInput(r, size, name).read(ctx, opt)
}

// ReadPoints reads the points of a file in double precision, in file order,
// repeated ones included, and in the file's own unit: what a fit to given
// points wants. It takes every format that Read takes, and text of two
// columns, a figure in the plane z = 0. Points of an STL are its distinct
// corners. Warnings are complete sentences about what looked odd.
//
// A coordinate that is not a finite number is an error.
func ReadPoints(ctx context.Context, path string) (pts []r3.Vector, warnings []string, err error) {
	in, err := open(path)
	if err != nil {
		return nil, nil, err
	}
	defer in.file.Close()
	return in.readPoints(ctx)
}

// ReadPointsFrom is ReadPoints for size bytes of r, as ReadFrom is Read.
func ReadPointsFrom(ctx context.Context, r io.ReaderAt, size int64, name string) (pts []r3.Vector,
	warnings []string, err error) {
	return newInput(r, size, name).readPoints(ctx)
}

func (in *input) readPoints(ctx context.Context) (pts []r3.Vector, warnings []string, err error) {
	in.flat = true
	if err := in.decode(ctx, Options{}); err != nil {
		return nil, nil, err
	}
	pts, err = in.points()
	return pts, in.warnings, err
}

// open opens a file for reading at any place; what is not a regular file is
// read into memory.
func open(path string) (*input, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	var in *input
	st, err := f.Stat()
	switch {
	case err != nil:
	case st.IsDir():
		err = fmt.Errorf("%s: this is a directory: name a scan file in it", path)
	case st.Mode().IsRegular():
		in = newInput(f, st.Size(), path)
	default:
		var all []byte
		all, err = io.ReadAll(f)
		in = newInput(bytes.NewReader(all), int64(len(all)), path)
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	in.file = f
	return in, nil
}

// input is a file on its way in.
type input struct {
	file  *os.File // to be closed
	r     io.ReaderAt
	size  int64
	name  string
	jobs  int
	chunk int64 // bytes read at a time
	flat  bool  // two columns are allowed

	report   func(done, total int)
	reported time.Time

	head   []byte // the first headSize bytes at most
	format string
	ascii  bool
	body   int  // where the text starts, behind a byte order mark
	cr     bool // lines of the text end with \r alone

	ply   *plyHeader
	model *zip.File // of 3MF

	got gathered

	given    mesh.Unit // of the numbers, by the caller
	unit     mesh.Unit // that the file states, empty if none
	said     string    // where it says so
	warnings []string
}

func newInput(r io.ReaderAt, size int64, name string) *input {
	return &input{r: r, size: size, name: name,
		chunk: max(leastBlock, min(size/fileBlocks, blockSize))}
}

// decode recognises the format and gathers the file's points and triangles.
func (in *input) decode(ctx context.Context, opt Options) error {
	in.jobs = parallel.Jobs(opt.Jobs)
	in.report, in.given = opt.Progress, opt.Unit
	if err := in.readHead(); err != nil {
		return err
	}
	if err := in.sniff(); err != nil {
		return err
	}
	readers := map[string]func(context.Context) error{formatSTL: in.readSTL, formatPLY: in.readPLY,
		formatOBJ: in.readOBJ, formatXYZ: in.readXYZ, format3MF: in.read3MF}
	if err := readers[in.format](ctx); err != nil {
		return err
	}
	if in.got.len() == 0 {
		return in.fail("the file holds no points", "export it again")
	}
	in.progress(in.size)
	return in.warnCut()
}

// warnCut warns of text that ends inside its last line, or of a text STL that
// ends behind a facet, as a cut copy does.
func (in *input) warnCut() error {
	if !in.ascii {
		return nil
	}
	tail := make([]byte, min(in.size, tailSize))
	if err := in.readAt(tail, in.size-int64(len(tail))); err != nil {
		return err
	}
	if in.format == formatSTL {
		tail = bytes.ReplaceAll(bytes.ToLower(tail), []byte("end "), []byte("end"))
		if bytes.LastIndex(tail, []byte("endfacet")) > bytes.LastIndex(tail, []byte("endsolid")) {
			in.warn("The last solid has no endsolid line: the file may be cut short "+
				"behind facet %d.", len(in.got.tris))
		}
		return nil
	}
	tail = bytes.Trim(tail[afterLines(tail):], " \t\v\f\x1a")
	if len(tail) > 0 && !isComment(tail) {
		in.warn("The file ends inside its last line: if it is a cut copy, " +
			"the last number may be wrong.")
	}
	return nil
}

// readHead reads the file's start: more of it where it is all comments, or a
// longer header. It finds out where text starts, behind a byte order mark, and
// what ends its lines.
func (in *input) readHead() error {
	for n := int64(headSize); ; n *= headGrowth {
		in.head, in.cr = make([]byte, min(in.size, n)), false
		if err := in.readAt(in.head, 0); err != nil {
			return err
		}
		in.body = len(in.head) - len(bytes.TrimPrefix(in.head, []byte("\xef\xbb\xbf")))
		text := isText(in.head)
		if text && bytes.IndexByte(in.head, '\n') < 0 {
			in.cr = true
			returnsToNewlines(in.head)
		}
		_, line := in.firstLine()
		more := text && line == nil ||
			bytes.HasPrefix(in.head, []byte("ply")) &&
				!bytes.Contains(in.head, []byte("end_header"))
		if !more || n >= in.size || n > maxRow {
			return nil
		}
	}
}

// read decodes, welds and cleans.
func (in *input) read(ctx context.Context, opt Options) (*mesh.Scan, error) {
	if _, err := opt.Unit.Millimetres(); opt.Unit != "" && err != nil {
		return nil, err
	}
	if err := in.decode(ctx, opt); err != nil {
		return nil, err
	}
	src := in.settleUnit()
	scale, err := src.Unit.Millimetres()
	if err != nil {
		return nil, err
	}
	if opt.Checksum {
		if src.SHA256, err = in.checksum(ctx); err != nil {
			return nil, err
		}
	}
	got := in.got
	src.Points, src.Triangles = got.len(), len(got.tris)
	if in.format == formatSTL {
		src.Points = 3 * src.Triangles // corners, of which equal ones are merged already
	}
	in.warnLeft(int64(got.few), "face", " with fewer than three corners", "skipped")
	var missing int64
	for _, t := range got.tris {
		if min(t[0], t[1], t[2]) < 0 || int(max(t[0], t[1], t[2])) >= got.len() {
			missing++
		}
	}
	in.warnLeft(missing, "triangle", " of points that the file does not have",
		"left out: if it is a cut copy, points are missing")
	in.got = gathered{}
	s, err := mesh.Build(ctx, mesh.Items{Points: got.len(), Normals: got.normals,
		Triangles: got.tris,
		At:        func(i int) r3.Vector { return got.point(i).Mul(scale) }}, opt.Jobs)
	if err != nil {
		return nil, err
	}
	if s.Len() == 0 {
		what := "all " + mesh.Quantity(src.Points, "point") + " are broken"
		if src.Triangles > 0 {
			what = "all " + mesh.Quantity(src.Triangles, "triangle") + " are broken or without area"
		}
		if lost := coarse(&got, got.point(0), scale); lost != "" {
			return nil, in.fail(what+": "+lost, moveNearZero)
		}
		return nil, in.fail(what, "export the scan again")
	}
	s.Source = src
	if lost := coarse(&got, s.Origin.Mul(1/scale), scale); lost != "" {
		if n := s.Removed.ZeroArea; n > 0 {
			lost += fmt.Sprintf(" (%s of no area are left out)", mesh.Quantity(n, "triangle"))
		}
		in.warn("The file's %s: %s.", lost, moveNearZero)
	}
	in.hintUnit(s)
	s.Warnings = append(in.warnings, s.Warnings...)
	return s, nil
}

// checksum is the SHA-256 of the whole file.
func (in *input) checksum(ctx context.Context) (string, error) {
	h := sha256.New()
	for at := int64(0); at < in.size; at += blockSize {
		if err := ctx.Err(); err != nil {
			return "", err
		}
		if _, err := io.Copy(h, io.NewSectionReader(in.r, at, min(blockSize, in.size-at))); err != nil {
			return "", fmt.Errorf("%s: %w", in.name, err)
		}
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// points returns what was read as ReadPoints has it.
func (in *input) points() ([]r3.Vector, error) {
	pts := in.got.double
	for _, p := range in.got.single {
		pts = append(pts, p.R3())
	}
	if i := slices.IndexFunc(pts, func(p r3.Vector) bool { return !geom.Finite(p) }); i >= 0 {
		return nil, in.fail(fmt.Sprintf("a coordinate of point %d is not a finite number", i+1),
			"correct or remove that point")
	}
	if in.format == formatSTL {
		seen := make(map[r3.Vector]bool, len(pts)/4)
		pts = slices.DeleteFunc(pts, func(p r3.Vector) bool {
			was := seen[p] // -0 is 0
			seen[p] = true
			return was
		})
	}
	return pts, nil
}

// progress passes progress on to the caller, ten times a second at most.
func (in *input) progress(done int64) {
	if in.report != nil && (done == in.size || time.Since(in.reported) > progressPause) {
		in.report(int(min(done, in.size)), int(in.size))
		in.reported = time.Now()
	}
}
