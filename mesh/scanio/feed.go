package scanio

import (
	"bytes"
	"context"

	"spotface/mesh/parallel"
)

// feed hands a file out in blocks of whole rows (lines of text, records of
// binary files), in order.
type feed struct {
	in   *input
	at   int64  // the byte of the file behind what was read
	line int    // of the next block
	row  int    // of the next block, as the cut counts them
	rest []byte // read but not handed out
	bufs [][]byte
}

// block is a part of a file with its place.
type block struct {
	b    []byte
	at   int64 // of the file
	line int   // counted from 1; of text only
	last bool  // the file ends with it
	row  int   // the first, as the cut counts them
	rows int
}

// feedFrom returns a feed of what follows byte at, in the given line.
func (in *input) feedFrom(at int64, line int) *feed {
	return &feed{in: in, at: at, line: line, bufs: make([][]byte, in.jobs)}
}

// next returns the byte of the file that comes next.
func (f *feed) next() int64 { return f.at - int64(len(f.rest)) }

// cutter says where b may be parted: behind how many bytes and rows, 0 where it
// has to be longer. last tells that the file ends with b. done is set where
// what follows is another's.
type cutter func(b []byte, last bool) (n, rows int, done bool, err error)

// afterLines cuts behind the last line end.
func (in *input) afterLines(b []byte, last bool) (n, rows int, done bool, err error) {
	if last {
		return len(b), 0, true, nil
	}
	return bytes.LastIndexByte(b, in.eol) + 1, 0, false, nil
}

// take reads the next block into buffer k. An empty one means the end.
func (f *feed) take(k int, cut cutter) (blk block, done bool, err error) {
	in := f.in
	b := append(f.bufs[k][:0], f.rest...)
	blk = block{at: f.next(), line: f.line, row: f.row}
	f.rest = nil
	for {
		// What is left over from the block before may hold a row or more.
		last := f.at == in.size
		n := 0
		if len(b) > 0 || last {
			if n, blk.rows, done, err = cut(b, last); err != nil {
				return blk, true, err
			}
		}
		if n > 0 || done || last {
			f.bufs[k] = b
			blk.b, f.rest = b[:n], b[n:]
			break
		}
		if len(b) >= maxRow {
			e := in.failAt(blk.at, "a row is longer than "+quantity(maxRow, "byte"),
				"export the scan again")
			if in.ascii {
				e.What, e.Line = "a line is longer than "+quantity(maxRow, "byte"), f.line
			}
			return blk, true, e
		}
		more := int(min(in.chunk, in.size-f.at))
		if cap(b) < len(b)+more {
			// For a block and what is left of the one before; for a long row double.
			b = grown(b, max(more+1<<10, min(len(b), int(in.size-f.at))))
		}
		old := len(b)
		b = b[:old+more]
		if err := in.readAt(b[old:], f.at); err != nil {
			return blk, true, err
		}
		f.at += int64(more)
	}
	blk.last = f.next() == in.size
	f.row += blk.rows
	if in.ascii {
		f.line += bytes.Count(blk.b, []byte{in.eol})
		if in.eol != '\n' {
			for i, c := range blk.b {
				if c == in.eol {
					blk.b[i] = '\n'
				}
			}
		}
	}
	return blk, done, nil
}

// run takes blocks until the cut says that it is done, has several parsed at a
// time, each with scratch of its own, and commits them in order. The outcome
// does not depend on the number of goroutines.
func (f *feed) run(ctx context.Context, cut cutter, parse func(b *block, p *part) error,
	commit func(b *block, p *part) error) error {
	jobs := f.in.jobs
	blocks, errs := make([]block, jobs), make([]error, jobs)
	for len(f.in.scratch) < jobs {
		f.in.scratch = append(f.in.scratch, &part{})
	}
	for done := false; !done; {
		n := 0
		var failed error
		for n < jobs && !done {
			if blocks[n], done, failed = f.take(n, cut); failed != nil {
				break
			}
			n++
		}
		err := parallel.Chunks(ctx, jobs, n, 1, func(k, _ int) {
			p := f.in.scratch[k]
			p.reset()
			errs[k] = parse(&blocks[k], p)
		})
		if err != nil {
			return err
		}
		for k := range n {
			if errs[k] != nil {
				return errs[k]
			}
			if err := commit(&blocks[k], f.in.scratch[k]); err != nil {
				return err
			}
			f.in.meter.at(blocks[k].at)
		}
		if failed != nil {
			return failed
		}
	}
	return nil
}
