package mesh

import (
	"context"
	"math"
	"math/bits"
	"unsafe"
)

// Welding finds points of equal coordinates. Both forms below sort the points
// into small buckets by a hash of their exact coordinates (one pass to count,
// one to place them, in chunks of fixed size), then look for equals within a
// bucket, whose table fits the processor's cache whatever order the file is
// in. The outcome is always the lowest-numbered equal point, so neither the
// hash nor the number of goroutines can change it.

const (
	weldChunk  = 1 << 16 // points counted or placed at a time
	weldBucket = 1 << 13 // points wanted a bucket
	weldGroup  = 8       // buckets handed to a goroutine at a time
)

// bucketBits returns the number of hash bits that choose the bucket.
func bucketBits(n int) int {
	return min(bits.Len(uint(n/weldBucket)), 12)
}

// hashed is a point number with the hash of its exact coordinates.
type hashed struct {
	h uint32
	i int32
}

// firstEqual returns for every point the lowest-numbered point of equal
// coordinates, itself where there is none lower, or -1 where it is broken.
//
// Two points are equal where the hash of their exact coordinates and their
// single precision offsets are: points that differ by less than an offset can
// hold are told apart but for one in 2^32, and merging those moves nothing.
//
// The result takes the memory of hash, which is of no use afterwards.
func firstEqual(ctx context.Context, off []Vec32, hash []uint32, jobs int) ([]int32, error) {
	n := len(off)
	first := unsafe.Slice((*int32)(unsafe.Pointer(unsafe.SliceData(hash))), n)
	b := bucketBits(n)
	shift := 32 - b
	chunks := (n + weldChunk - 1) / weldChunk
	counts := make([]int32, chunks<<b)
	err := inChunks(ctx, chunks, jobs, func(_, c int) error {
		count := counts[c<<b : (c+1)<<b]
		for i := c * weldChunk; i < min(n, (c+1)*weldChunk); i++ {
			if !off[i].broken() {
				count[hash[i]>>shift]++
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	starts, total := bucketStarts(counts, b)
	recs := make([]hashed, total)
	err = inChunks(ctx, chunks, jobs, func(_, c int) error {
		at := counts[c<<b : (c+1)<<b]
		for i := c * weldChunk; i < min(n, (c+1)*weldChunk); i++ {
			if off[i].broken() {
				first[i] = -1
				continue
			}
			k := hash[i] >> shift
			recs[at[k]] = hashed{hash[i], int32(i)}
			at[k]++
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	tables := make([]table, max(1, jobs))
	groups := (1<<b + weldGroup - 1) / weldGroup
	err = inChunks(ctx, groups, jobs, func(w, g int) error {
		t := &tables[w]
		for k := g * weldGroup; k < min(1<<b, (g+1)*weldGroup); k++ {
			recs := recs[starts[k]:starts[k+1]]
			t.reset(len(recs))
			for r, rec := range recs {
				slot := t.home(rec.h)
				for {
					e := t.slots[slot]
					if e < 0 {
						first[rec.i] = rec.i
						t.put(slot, int32(r), func(e int32) uint32 { return recs[e].h })
						break
					}
					if q := recs[e]; q.h == rec.h && off[q.i] == off[rec.i] {
						first[rec.i] = q.i
						break
					}
					slot = (slot + 1) & t.mask
				}
			}
		}
		return nil
	})
	return first, err
}

// bucketStarts turns the counts of chunk c and bucket k, at counts[c<<b|k],
// into the place where that chunk's first point of the bucket goes, and
// returns where each bucket starts, with the end of the last.
func bucketStarts(counts []int32, b int) (starts []int32, total int) {
	starts = make([]int32, 1<<b+1)
	at := int32(0)
	for k := range 1 << b {
		starts[k] = at
		for c := k; c < len(counts); c += 1 << b {
			at, counts[c] = at+counts[c], at
		}
	}
	starts[1<<b] = at
	return starts, int(at)
}

// table is an open-addressed hash table of record numbers, reused from bucket
// to bucket, that grows with the number of distinct points in it.
type table struct {
	slots []int32 // record number or -1
	mask  uint32
	used  int
}

// reset empties the table for a bucket of n records.
func (t *table) reset(n int) {
	size := 1 << bits.Len(uint(2*min(n, weldBucket)))
	if cap(t.slots) < size {
		t.slots = make([]int32, size)
	}
	t.clear(size)
}

func (t *table) clear(size int) {
	t.slots = t.slots[:size]
	for i := range t.slots {
		t.slots[i] = -1
	}
	t.mask, t.used = uint32(size-1), 0
}

// home returns the first slot to look in for hash h.
func (t *table) home(h uint32) uint32 { return (h * 0x9E3779B1) >> 7 & t.mask }

// put stores record e in the free slot found for it, and grows the table when
// it is more than half full.
func (t *table) put(slot uint32, e int32, hash func(int32) uint32) {
	t.slots[slot] = e
	t.used++
	if 2*t.used <= len(t.slots) {
		return
	}
	old := t.slots
	t.slots = make([]int32, 2*len(old))
	used := t.used
	t.clear(2 * len(old))
	t.used = used
	for _, e := range old {
		if e >= 0 {
			s := t.home(hash(e))
			for t.slots[s] >= 0 {
				s = (s + 1) & t.mask
			}
			t.slots[s] = e
		}
	}
}

// corner is a corner of an STL facet: exact coordinates, as bits with -0 made
// 0, and its number.
type corner struct {
	x, y, z uint32
	i       int32
}

func (c corner) hash() uint32 {
	h := (uint64(c.x) | uint64(c.y)<<32) * 0x9E3779B97F4A7C15
	h = (bits.RotateLeft64(h, 29) ^ uint64(c.z)) * 0xBF58476D1CE4E5B9
	return uint32(h >> 32)
}

// finite32 reports whether the bits are those of a finite number, and one
// small enough for an offset in any unit (2^39 of the file's; maxOffset).
func finite32(b uint32) bool { return b&0x7f800000 < (127+39)<<23 }

// unsigned0 turns the bits of -0 into those of 0.
func unsigned0(b uint32) uint32 {
	if b == 1<<31 {
		return 0
	}
	return b
}

// weldBuckets finds the first equal corner of each record in buckets of
// records, which are in the order of their numbers, and stores it in first.
func weldBuckets(ctx context.Context, recs []corner, starts []int32, first []int32, jobs int) error {
	buckets := len(starts) - 1
	tables := make([]table, max(1, jobs))
	groups := (buckets + weldGroup - 1) / weldGroup
	return inChunks(ctx, groups, jobs, func(w, g int) error {
		t := &tables[w]
		for k := g * weldGroup; k < min(buckets, (g+1)*weldGroup); k++ {
			recs := recs[starts[k]:starts[k+1]]
			t.reset(len(recs))
			for r := range recs {
				rec := recs[r]
				slot := t.home(rec.hash())
				for {
					e := t.slots[slot]
					if e < 0 {
						first[rec.i] = rec.i
						t.put(slot, int32(r), func(e int32) uint32 { return recs[e].hash() })
						break
					}
					if q := recs[e]; q.x == rec.x && q.y == rec.y && q.z == rec.z {
						first[rec.i] = q.i
						break
					}
					slot = (slot + 1) & t.mask
				}
			}
		}
		return nil
	})
}

// flat returns the corners of triangles as one slice over the same memory.
func flat(t [][3]int32) []int32 {
	return unsafe.Slice((*int32)(unsafe.Pointer(unsafe.SliceData(t))), 3*len(t))
}

// float32At returns the number whose bits are b, in double precision.
func float32At(b uint32) float64 { return float64(math.Float32frombits(b)) }
