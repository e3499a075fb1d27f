package mesh

import (
	"context"
	"encoding/binary"

	"github.com/golang/geo/r3"
)

// Binary STL: an 80-byte header, the number of facets as a little-endian
// uint32, then 50 bytes a facet: normal and three corners as float32, and a
// uint16 attribute. Three corners a facet and no connectivity, so reading is
// mostly welding.
//
// The library github.com/hschendel/stl is not used for it: it allocates for
// every facet, runs on one core and leaves the welding to do, at several
// times the cost of decoding here (BenchmarkReadSTLLibrary), and it takes a
// truncated file for text. The tests hold this reader against it.

const (
	stlHeader = 84
	stlFacet  = 50
	stlBlock  = 1 << 14 // facets decoded at a time
	// maxFacets keeps corner numbers within int32.
	maxFacets = (1<<31 - 1) / 3
)

// stlFacets returns the facet count that the header of a binary STL states.
func stlFacets(head []byte) int64 {
	if len(head) < stlHeader {
		return -1
	}
	return int64(binary.LittleEndian.Uint32(head[80:]))
}

// readBinarySTL reads a binary STL into a welded scan. The file is read three
// times in blocks rather than kept in memory: to count the corners of each
// bucket, to place them there, and, the first of equal corners being known,
// for the coordinates of the distinct ones.
func (in *input) readBinarySTL(ctx context.Context) (*Scan, error) {
	n64 := stlFacets(in.head)
	need := stlHeader + n64*stlFacet
	switch {
	case n64 == 0:
		return nil, in.failAt(80, "the header states 0 facets; "+quantity(in.size-stlHeader, "byte")+" follow it",
			"export the scan again")
	case in.size < need:
		return nil, in.truncated(quantity(n64, "facet") + " promised, which take " +
			quantity(need, "byte") + ", but the file has " + quantity(in.size, "byte"))
	case n64 > maxFacets:
		return nil, in.failAt(80, quantity(n64, "facet")+" are more than this program can number",
			"thin the mesh out")
	case in.size > need:
		in.warn("%s after the last facet were ignored.", quantity(in.size-need, "stray byte"))
	}
	n := int(n64)
	blocks := (n + stlBlock - 1) / stlBlock
	bufs := make([][]byte, in.jobs)
	block := func(w, b int) ([]byte, int, error) {
		if bufs[w] == nil {
			bufs[w] = make([]byte, min(n, stlBlock)*stlFacet)
		}
		lo := b * stlBlock
		buf := bufs[w][:(min(n, lo+stlBlock)-lo)*stlFacet]
		in.meter.add(len(buf) / 3)
		return buf, lo, in.readAt(buf, stlHeader+int64(lo)*stlFacet)
	}

	// Count.
	b := bucketBits(3 * n)
	counts := make([]int32, blocks<<b)
	err := inChunks(ctx, blocks, in.jobs, func(w, blk int) error {
		buf, _, err := block(w, blk)
		if err != nil {
			return err
		}
		count := counts[blk<<b : (blk+1)<<b]
		for ; len(buf) > 0; buf = buf[stlFacet:] {
			if f := (*[stlFacet]byte)(buf); finiteFacet(f) {
				count[uint64(cornerAt(f, 0, 0).hash())>>(32-b)]++
				count[uint64(cornerAt(f, 1, 0).hash())>>(32-b)]++
				count[uint64(cornerAt(f, 2, 0).hash())>>(32-b)]++
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}

	// Place.
	starts, total := bucketStarts(counts, b)
	recs := make([]corner, total)
	s := &Scan{Triangles: make([][3]int32, n)}
	first := flat(s.Triangles)
	err = inChunks(ctx, blocks, in.jobs, func(w, blk int) error {
		buf, lo, err := block(w, blk)
		if err != nil {
			return err
		}
		at := counts[blk<<b : (blk+1)<<b]
		for i := int32(3 * lo); len(buf) > 0; i, buf = i+3, buf[stlFacet:] {
			f := (*[stlFacet]byte)(buf)
			if !finiteFacet(f) {
				first[i], first[i+1], first[i+2] = -1, -1, -1
				continue
			}
			for k := range int32(3) {
				c := cornerAt(f, int(k), i+k)
				p := &at[uint64(c.hash())>>(32-b)]
				recs[*p] = c
				*p++
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if err := weldBuckets(ctx, recs, starts, first, in.jobs); err != nil {
		return nil, err
	}
	recs = nil

	// Number the distinct corners in file order. In each block the numbers
	// rise by one, so the last pass can place its coordinates by itself.
	base := make([]int32, blocks+1)
	points := int32(0)
	for blk := range blocks {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		base[blk] = points
		for i := 3 * blk * stlBlock; i < 3*min(n, (blk+1)*stlBlock); i++ {
			switch f := first[i]; {
			case f == int32(i):
				first[i] = points
				points++
			case f >= 0:
				first[i] = first[f] // numbered before, since f < i
			}
		}
	}
	s.Offsets = make([]Vec32, points)
	r := raw{scale: in.scale, origin: in.origin}
	err = inChunks(ctx, blocks, in.jobs, func(w, blk int) error {
		buf, lo, err := block(w, blk)
		if err != nil {
			return err
		}
		next := base[blk]
		for i := lo; len(buf) > 0; i, buf = i+1, buf[stlFacet:] {
			for k, v := range s.Triangles[i] {
				if v == next {
					p := facetCorner((*[stlFacet]byte)(buf), k)
					s.Offsets[next] = r.offset(p[0], p[1], p[2])
					next++
				}
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = s.markFlat(ctx, func(i int, _ [3]int32) (p [3][3]float64, err error) {
		var f [stlFacet]byte
		err = in.readAt(f[:], stlHeader+int64(i)*stlFacet)
		for k := range p {
			p[k] = facetCorner(&f, k)
		}
		return p, err
	}, in.jobs)
	if err != nil {
		return nil, err
	}
	in.src.Points, in.src.Triangles = 3*n, n
	s.Origin = in.origin
	return s, nil
}

// facetCorner decodes corner k of a facet.
func facetCorner(f *[stlFacet]byte, k int) (p [3]float64) {
	for c := range p {
		p[c] = float32At(binary.LittleEndian.Uint32(f[12+12*k+4*c:]))
	}
	return p
}

// cornerAt returns corner k of a facet, numbered i.
func cornerAt(f *[stlFacet]byte, k int, i int32) corner {
	p := f[12+12*k : 24+12*k]
	return corner{
		unsigned0(binary.LittleEndian.Uint32(p)), unsigned0(binary.LittleEndian.Uint32(p[4:])),
		unsigned0(binary.LittleEndian.Uint32(p[8:])), i,
	}
}

// finiteFacet reports whether all coordinates of a facet are finite numbers.
func finiteFacet(f *[stlFacet]byte) bool {
	for k := 12; k < 48; k += 4 {
		if !finite32(binary.LittleEndian.Uint32(f[k:])) {
			return false
		}
	}
	return true
}

// sampleBinarySTL gathers a corner each of facets spread over the file.
func (in *input) sampleBinarySTL(s *sample) error {
	n := min(stlFacets(in.head), (in.size-stlHeader)/stlFacet)
	var buf [stlFacet]byte
	for k := range min(n, samples) {
		if err := in.readAt(buf[:], stlHeader+k*n/min(n, samples)*stlFacet); err != nil {
			return err
		}
		if p := facetCorner(&buf, 0); finiteFacet(&buf) {
			s.add(p[0], p[1], p[2])
		}
	}
	return nil
}

// exactSTL reads the corners of a binary STL in double precision.
func (in *input) exactSTL(ctx context.Context, r *raw) error {
	n := stlFacets(in.head)
	if need := stlHeader + n*stlFacet; n == 0 || in.size < need {
		_, err := in.readBinarySTL(ctx)
		return err
	}
	r.exact = make([]r3.Vector, 0, 3*n)
	buf := make([]byte, stlBlock*stlFacet)
	for lo := int64(0); lo < n; lo += stlBlock {
		b := buf[:min(n-lo, stlBlock)*stlFacet]
		if err := in.readAt(b, stlHeader+lo*stlFacet); err != nil {
			return err
		}
		for ; len(b) > 0; b = b[stlFacet:] {
			for k := 12; k < 48; k += 12 {
				p := b[k:]
				r.exact = append(r.exact, r3.Vector{
					X: float32At(binary.LittleEndian.Uint32(p)),
					Y: float32At(binary.LittleEndian.Uint32(p[4:])),
					Z: float32At(binary.LittleEndian.Uint32(p[8:])),
				})
			}
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	return nil
}
