package scanio

import (
	"bytes"
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// gathered is what is read: points in file order and in the file's unit,
// repeated ones included, and triangles.
type gathered struct {
	single  []mesh.Vec32 // points of files in single precision
	double  []r3.Vector  // of others
	normals []mesh.Vec32 // as in the file, any length; of all points or none in the end
	tris    [][3]int32   // corners as point numbers; see relative
	few     int          // faces of fewer than three corners
	odd     int          // lines of unknown kind in an OBJ
	oddAt   int64        // the first of them
}

// Numbers of points count from 0; a number that the file does not
// have is no point. In a part, those that count from the part's first are
// relative: less partBase, until it is known how many come before.
const (
	partBase = 1 << 30
	noSuch   = -1
)

// relative is number i of the part's own.
func relative(i int) int32 { return int32(i - partBase) }

// part is a block of whole rows (lines of text, records of binary files), and
// what it holds.
type part struct {
	b    []byte
	at   int64 // of the file
	row  int   // the first, as the cut counts them
	rows int
	gathered
	list []int32 // corners of the face being read
	buf  []byte
}

// len returns the number of points.
func (g *gathered) len() int { return len(g.single) + len(g.double) }

// point returns point i.
func (g *gathered) point(i int) r3.Vector {
	if g.double != nil {
		return g.double[i]
	}
	return g.single[i].R3()
}

// addFan splits a polygon into triangles that share its first corner. For
// polygons that are convex, or nearly so, that is a right triangulation.
func (g *gathered) addFan(corners []int32) {
	if len(corners) < 3 {
		g.few++
	}
	for k := 2; k < len(corners); k++ {
		g.tris = append(g.tris, [3]int32{corners[0], corners[k-1], corners[k]})
	}
}

// noPolygon says that a face has more than maxCorners corners.
func noPolygon(n int64) string {
	return "a face of " + mesh.Quantity(n, "corner") + " or more is no polygon"
}

// feed hands a file out in parts, in order.
type feed struct {
	in    *input
	at    int64   // the byte of the file behind what was read
	rest  []byte  // read but not handed out
	spare []*part // read and added
	row   int     // of the next part
	left  int64   // rows to come
}

// feedFrom returns a feed of what follows byte at.
func (in *input) feedFrom(at int64) *feed {
	return &feed{in: in, at: at}
}

// next returns the byte of the file that comes next.
func (f *feed) next() int64 { return f.at - int64(len(f.rest)) }

// cutter says where b may be parted: behind how many bytes and rows, most of
// these at most, and 0 where b has to be longer. last is set where the file ends
// with b.
type cutter func(b []byte, most int64, last bool) (n, rows int)

// uncounted is the number of rows where the file's end is theirs.
const uncounted = math.MaxInt64

// afterLines returns the end of the last whole line.
func afterLines(b []byte) int { return bytes.LastIndexByte(b, '\n') + 1 }

// cutLines parts text behind the last line where may allows it, or any if that
// is nil, and takes all of it at the file's end.
func cutLines(may func(before, behind []byte) bool) cutter {
	return func(b []byte, _ int64, last bool) (n, rows int) {
		if last {
			return len(b), 0
		}
		n = afterLines(b)
		for n > 0 && may != nil && !may(b[:n-1], b[n:]) {
			n = afterLines(b[:n-1])
		}
		return n, 0
	}
}

// take reads the next block, and reports whether it is the last.
func (f *feed) take(cut cutter) (p *part, done bool, err error) {
	in := f.in
	if n := len(f.spare); n > 0 {
		p, f.spare = f.spare[n-1], f.spare[:n-1]
	} else {
		p = &part{}
	}
	b := append(p.buf[:0], f.rest...)
	p.at, p.row, p.rows = f.next(), f.row, 0
	f.rest = nil
	for n := 0; ; {
		// What is left over from the block before may hold a row or more.
		last := f.at == in.size
		if len(b) > 0 || last {
			n, p.rows = cut(b, f.left, last)
		}
		f.left -= int64(p.rows)
		switch {
		case n > 0 || f.left == 0 || last:
			f.row += p.rows
			p.buf, p.b, f.rest = b, b[:n], b[n:]
			return p, f.left == 0 || last, nil
		case len(b) >= maxRow && in.ascii:
			return p, true, in.failAt(p.at, "a line is longer than "+mesh.Quantity(maxRow, "byte"),
				exportAgain)
		case len(b) >= maxRow:
			return p, true, in.failAt(p.at, "a row is longer than "+mesh.Quantity(maxRow, "byte"),
				exportAgain)
		}
		old, left := len(b), in.size-f.at
		more := int(min(in.chunk, left))
		if cap(b) < old+more { // doubled for a long row
			b = slices.Grow(b, max(more, int(min(int64(old), left))))
		}
		b = b[:old+more]
		if err := in.readAt(b[old:], f.at); err != nil {
			return p, true, err
		}
		f.at += int64(more)
	}
}

// run takes blocks of the given number of rows together, has several parsed at
// a time, and adds what they hold in order. The outcome does not depend on the
// number of goroutines. f.left rows are missing where the file ends early.
func (f *feed) run(ctx context.Context, rows int64, cut cutter, parse func(p *part) error) error {
	in, start := f.in, f.next()
	f.row, f.left = 0, rows
	var failed error
	blocks := func(yield func(*part) bool) {
		for done := false; !done; {
			var p *part
			if p, done, failed = f.take(cut); failed != nil || !yield(p) {
				return
			}
		}
	}
	err := parallel.Ordered(ctx, in.jobs, blocks, func(p *part) error {
		p.gathered = gathered{single: p.single[:0], double: p.double[:0],
			normals: p.normals[:0], tris: p.tris[:0]}
		return parse(p)
	}, func(p *part, err error) error {
		if err == nil {
			end := p.at + int64(len(p.b))
			err = in.add(p, float64(end-start)/float64(in.size-start))
			in.progress(p.at)
			f.spare = append(f.spare, p)
		}
		return err
	})
	return cmp.Or(err, failed)
}

// add appends a part that lies done of the way through the file.
func (in *input) add(p *part, done float64) error {
	g := &in.got
	points, tris := g.len(), len(g.tris)
	if max(points+p.len(), tris+len(p.tris)) > math.MaxInt32-1 {
		return in.fail("more points or triangles than can be numbered here", "thin the scan out")
	}
	g.single = join(g.single, p.single, done)
	g.double = join(g.double, p.double, done)
	g.normals = join(g.normals, p.normals, done)
	g.tris = join(g.tris, p.tris, done)
	for i := range g.tris[tris:] {
		for k := range 3 {
			if v := &g.tris[tris+i][k]; *v < noSuch {
				*v = int32(max(int(*v)+partBase+points, noSuch))
			}
		}
	}
	if g.odd == 0 {
		g.oddAt = p.oddAt
	}
	g.odd += p.odd
	g.few += p.few
	return in.checkSurface()
}

// checkSurface refuses files whose triangles are too many for their points.
func (in *input) checkSurface() error {
	tris, points := len(in.got.tris), in.got.len()
	if tris > manyTriangles && tris > perPoint*points {
		return in.fail(mesh.Quantity(tris, "triangle")+" on "+mesh.Quantity(points, "point")+
			" are no surface", exportAgain)
	}
	return nil
}

// join appends b to a. Where that needs memory, it takes what all of the file
// will need if it goes on like this; a part of it, done, was read.
func join[T any](a, b []T, done float64) []T {
	if need := len(a) + len(b); need > cap(a) {
		a = append(make([]T, 0, max(need, int(growMargin*float64(need)/done))), a...)
	}
	return append(a, b...)
}
