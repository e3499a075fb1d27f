package mesh

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"slices"

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
