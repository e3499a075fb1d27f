package mesh

import (
	"context"
	"fmt"
	"math"
)

// plyWalk goes through elements with lists, one by one. For each it calls
// visit, if not nil, with the element's bytes, the places in them of what
// h.at names, and the bytes of the list property list, if that is not
// negative. It returns the byte after the last element.
func (in *input) plyWalk(ctx context.Context, e *plyElement, at int64, list int,
	visit func(i int, row []byte, places []int, items []byte)) (int64, error) {
	h := in.ply
	buf := in.walked[:0] // one buffer for all walks
	if cap(buf) == 0 {
		buf = make([]byte, 0, min(plyBlock, in.size-at))
	}
	defer func() { in.walked = buf }()
	from := at // where buf begins in the file
	var places [6]int
	itemsAt, itemsEnd := 0, 0
	// need makes sure that n bytes from place i of buf on are there.
	i := 0
	need := func(start, n int64) error {
		if start+n <= int64(len(buf)) {
			return nil
		}
		if from+start+n > in.size {
			return in.truncated("element " + e.name + " is cut short")
		}
		// Move what is in use, from i on, to the front, and fill up.
		kept := copy(buf, buf[i:])
		from += int64(i)
		start -= int64(i)
		i = 0
		if int64(cap(buf)) < start+n {
			grown := make([]byte, kept, min(in.size-from, start+n+plyBlock))
			copy(grown, buf[:kept])
			buf = grown
		}
		size := min(int64(cap(buf)), in.size-from)
		buf = buf[:size]
		in.meter.add(int(size) - kept)
		return in.readAt(buf[kept:], from+int64(kept))
	}
	for k := range int(e.n) {
		if k&0xfff == 0 {
			if err := ctx.Err(); err != nil {
				return 0, err
			}
		}
		itemsAt, itemsEnd = 0, 0
		off := int64(0) // within the element
		for p, prop := range e.props {
			for s, want := range h.at {
				if want == p {
					places[s] = int(off)
				}
			}
			if prop.count == 0 {
				n := int64(prop.kind.size())
				if err := need(int64(i)+off, n); err != nil {
					return 0, err
				}
				off += n
				continue
			}
			n := int64(prop.count.size())
			if err := need(int64(i)+off, n); err != nil {
				return 0, err
			}
			count := prop.count.integer(buf[int64(i)+off:], h.big)
			off += n
			size := int64(prop.kind.size())
			if count < 0 || count > in.size/size {
				return 0, in.failAt(from+int64(i)+off, fmt.Sprintf("element %s %d states a list of %d numbers", e.name, k, count),
					"the file is damaged: export the scan again")
			}
			if err := need(int64(i)+off, count*size); err != nil {
				return 0, err
			}
			if p == list {
				itemsAt, itemsEnd = int(off), int(off+count*size)
			}
			off += count * size
		}
		if visit != nil {
			row := buf[i : i+int(off)]
			visit(k, row, places[:], row[itemsAt:itemsEnd])
		}
		i += int(off)
	}
	return from + int64(i), nil
}

// clampIndex turns a point number into int32, keeping what is out of range
// out of range.
func clampIndex(v int64) int32 {
	if v < -1 {
		return -2
	}
	return int32(min(v, math.MaxInt32))
}
