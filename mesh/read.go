package mesh

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"
)

// ReadOptions says how to read a scan. The zero value works.
type ReadOptions struct {
	// Unit of the numbers in the file; empty means the file's own statement,
	// else millimetres (assumed).
	Unit Unit
	// Jobs is the number of goroutines; zero means GOMAXPROCS. It does not
	// change the result.
	Jobs int
	// Progress, if set, is called from one goroutine, at most ten times a
	// second, with the bytes done and their total. It must return quickly.
	Progress func(done, total int)
}

// Read reads a scan file: STL, PLY, OBJ or a text cloud (XYZ, CSV), told by
// its content. It welds points of exactly equal coordinates, and drops broken
// and repeated items, with counts in Removed. Normals are those stated in the
// file for its points, of unit length, or nil; facet normals of an STL are
// not used.
//
// Errors: *FormatError where the file is at fault; the context's error; else
// that of the operating system.
func Read(ctx context.Context, path string, opt ReadOptions) (*Scan, error) {
	f, size, closeFile, err := open(path)
	if err != nil {
		return nil, err
	}
	defer closeFile()
	return ReadFrom(ctx, f, size, path, opt)
}

// ReadFrom is Read for size bytes of r. The name serves error messages and,
// by its extension, doubtful cases.
func ReadFrom(ctx context.Context, r io.ReaderAt, size int64, name string, opt ReadOptions) (*Scan, error) {
	in := &input{r: r, size: size, name: name, scale: 1, jobs: jobCount(opt.Jobs), chunk: textChunk}
	return in.read(ctx, opt)
}

func (in *input) read(ctx context.Context, opt ReadOptions) (*Scan, error) {
	if opt.Unit != "" {
		if _, err := opt.Unit.Millimetres(); err != nil {
			return nil, err
		}
	}
	if err := in.start(); err != nil {
		return nil, err
	}
	in.meter = newMeter(in.size, opt.Progress)
	defer in.meter.stop()
	if err := in.settleUnit(ctx, opt.Unit); err != nil {
		return nil, err
	}
	in.meter.done.Store(0)
	s, err := in.scan(ctx)
	if err == nil {
		in.meter.done.Store(in.size)
	}
	return s, err
}

// ReadPoints reads the points of a file in double precision, in file order,
// repeated ones included, and in the file's own unit: what a fit to given
// points wants. It takes every format that Read takes, and text of two
// columns, a figure in the plane z = 0. Points of an STL are its distinct
// corners.
//
// A coordinate that is not a finite number is an error.
func ReadPoints(ctx context.Context, path string) ([]r3.Vector, error) {
	f, size, closeFile, err := open(path)
	if err != nil {
		return nil, err
	}
	defer closeFile()
	in := &input{r: f, size: size, name: path, scale: 1, jobs: jobCount(0), chunk: textChunk, exact: true}
	if err := in.start(); err != nil {
		return nil, err
	}
	in.meter = newMeter(size, nil)
	r, err := in.decode(ctx)
	if err != nil {
		return nil, err
	}
	if len(r.exact) == 0 {
		return nil, in.fail("the file holds no points", "export it again")
	}
	if i := slices.IndexFunc(r.exact, func(p r3.Vector) bool { return !Finite(p) }); i >= 0 {
		return nil, in.fail(fmt.Sprintf("a coordinate of point %d is not a finite number", i+1),
			"correct or remove that point")
	}
	if in.format == formatSTL {
		seen := make(map[r3.Vector]bool, len(r.exact)/4)
		r.exact = slices.DeleteFunc(r.exact, func(p r3.Vector) bool {
			p = p.Add(r3.Vector{}) // -0 is 0
			was := seen[p]
			seen[p] = true
			return was
		})
	}
	return r.exact, nil
}

// open opens a file for reading at any place; what is not a regular file is
// read into memory.
func open(path string) (r io.ReaderAt, size int64, closeFile func(), err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, nil, err
	}
	st, err := f.Stat()
	if err == nil && st.IsDir() {
		err = fmt.Errorf("%s: this is a directory: name a scan file in it", path)
	}
	if err != nil {
		f.Close()
		return nil, 0, nil, err
	}
	if !st.Mode().IsRegular() {
		defer f.Close()
		all, err := io.ReadAll(f)
		return bytes.NewReader(all), int64(len(all)), func() {}, err
	}
	return f, st.Size(), func() { f.Close() }, nil
}

// input is a file on its way in.
type input struct {
	r     io.ReaderAt
	size  int64
	name  string
	jobs  int
	chunk int64 // bytes of text a goroutine reads at a time
	exact bool  // points as float64, two columns allowed
	meter *meter

	head   []byte // the first 64 KiB at most
	format string
	ascii  bool
	body   int64 // where the text starts, after a byte order mark
	eol    byte  // what ends a line: \n, or \r in files that have no \n

	ply    *plyHeader
	walked []byte // buffer of plyWalk
	xyz    *xyzLayout

	scale    float64 // mm per unit
	origin   r3.Vector
	src      Source
	warnings []string
}

const (
	headSize = 1 << 16
	samples  = 255 // points looked at for the origin and the unit
)

// start reads the head and settles the format and its header.
func (in *input) start() error {
	for n := int64(headSize); ; n *= 16 {
		in.head = make([]byte, min(in.size, n))
		if err := in.readAt(in.head, 0); err != nil {
			return err
		}
		in.settleLines()
		// Look further where the head is all comments.
		if n >= in.size || n > 1<<24 || !isText(in.head) || in.firstLine() != nil {
			break
		}
	}
	if err := in.sniff(); err != nil {
		return err
	}
	in.src = Source{File: filepath.Base(in.name), Format: in.format}
	if in.name == "" {
		in.src.File = ""
	}
	switch in.format {
	case formatPLY:
		return in.readPLYHeader()
	case formatXYZ:
		return in.layOutXYZ()
	}
	return nil
}

// scan decodes, welds and cleans.
func (in *input) scan(ctx context.Context) (*Scan, error) {
	if in.format == formatSTL && !in.ascii {
		s, err := in.readBinarySTL(ctx)
		if err != nil {
			return nil, err
		}
		return in.finish(s, s.cleanMesh(ctx, in.jobs))
	}
	r, err := in.decode(ctx)
	if err != nil {
		return nil, err
	}
	in.src.Points, in.src.Triangles = len(r.off), r.fileTris
	first, err := firstEqual(ctx, r.off, r.hash, in.jobs)
	if err != nil {
		return nil, err
	}
	s := &Scan{Origin: in.origin, Offsets: r.off, Normals: r.normals,
		Triangles: r.tris, FileItem: r.triItem, Removed: r.removed}
	r.hash = nil
	if len(s.Triangles) == 0 {
		s.Triangles = nil
		s.packCloud(first)
		s.unitNormals()
		return in.finish(s, nil)
	}
	s.joinNormals(first)
	if n := joinCorners(flat(s.Triangles), first); n > 0 {
		were := "were"
		if n == 1 {
			were = "was"
		}
		in.warn("%s that no triangle uses %s left out.", quantity(int64(n), "point"), were)
	}
	first = nil
	if err := s.markFlat(ctx, in.jobs); err != nil {
		return nil, err
	}
	err = s.cleanMesh(ctx, in.jobs)
	s.unitNormals()
	return in.finish(s, err)
}

// decode gathers the file's points and triangles.
func (in *input) decode(ctx context.Context) (*raw, error) {
	r := &raw{scale: in.scale, origin: in.origin}
	var err error
	switch {
	case in.format == formatPLY:
		err = in.readPLY(ctx, r)
	case in.format == formatOBJ:
		err = in.readOBJ(ctx, r)
	case in.format == formatXYZ:
		err = in.readXYZ(ctx, r)
	case in.ascii:
		err = in.readTextSTL(ctx, r)
	default:
		err = in.exactSTL(ctx, r)
	}
	return r, err
}

// finish fills in what is said about the scan.
func (in *input) finish(s *Scan, err error) (*Scan, error) {
	if err != nil {
		return nil, err
	}
	if s.Len() == 0 {
		what := "the file holds no points"
		if in.src.Triangles > 0 {
			what = "all " + quantity(int64(in.src.Triangles), "triangle") + " are broken or without area"
		} else if in.src.Points > 0 {
			what = "all " + quantity(int64(in.src.Points), "point") + " are broken"
		}
		return nil, in.fail(what, "export the scan again")
	}
	s.Source = in.src
	in.hintUnit(s)
	s.Warnings = in.warnings
	return s, nil
}

// joinCorners replaces corners by the first of equal points, or -1 where
// there is no such point, and returns how many points no corner uses.
func joinCorners(corners, first []int32) (unused int) {
	used := make([]bool, len(first))
	for i, v := range corners {
		if v >= 0 && int(v) < len(first) {
			corners[i] = first[v]
			used[v] = true
		} else {
			corners[i] = -1
		}
	}
	for _, u := range used {
		if !u {
			unused++
		}
	}
	return unused
}

// joinNormals adds the normals of welded points to the first of them.
func (s *Scan) joinNormals(first []int32) {
	if s.Normals == nil {
		return
	}
	for i, f := range first {
		if f >= 0 && int(f) < i {
			n, m := &s.Normals[f], s.Normals[i]
			n[0], n[1], n[2] = n[0]+m[0], n[1]+m[1], n[2]+m[2]
		}
	}
}

// unitNormals gives normals unit length, zero where there is none, and drops
// them all where every one is zero.
func (s *Scan) unitNormals() {
	some := false
	for i := range s.Normals {
		s.Normals[i] = unitOrZero(s.Normals[i])
		some = some || s.Normals[i] != Vec32{}
	}
	if !some {
		s.Normals = nil
	}
}

// unitOrZero returns v with unit length, or zero where it has no direction.
func unitOrZero(v Vec32) Vec32 {
	n := v.R3().Norm()
	if !(n > 0) || n > maxOffset {
		return Vec32{}
	}
	return Vec32{float32(float64(v[0]) / n), float32(float64(v[1]) / n), float32(float64(v[2]) / n)}
}

// warn adds a warning, a full sentence.
func (in *input) warn(format string, args ...any) {
	in.warnings = append(in.warnings, fmt.Sprintf(format, args...))
}

// quantity returns a count with its noun: "1 byte", "12,345 bytes".
func quantity(n int64, noun string) string {
	s := strconv.FormatInt(n, 10)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	if n != 1 {
		if strings.HasSuffix(noun, "x") {
			noun = strings.TrimSuffix(noun, "ex") + "ice"
		}
		noun += "s"
	}
	return s + " " + noun
}
