package report

import (
	"bufio"
	"context"
	"io"
	"slices"

	"spotface/fit/segment"
	"spotface/mesh"
)

// itemsOf returns how many items a scan has, triangles of a mesh, points of a cloud, and the
// surface of each, an index into seg.Surfaces, or -1. A triangle's is the one that the
// segmentation gave it, else the one that at least two of its corners belong to.
func itemsOf(s *mesh.Scan, seg *segment.Segmentation) (n int, surface func(i int) int32) {
	of := seg.PointSurface
	switch {
	case !s.IsMesh():
		return s.Len(), func(i int) int32 { return of[i] }
	case seg.TriangleSurface != nil:
		return len(s.Triangles), func(i int) int32 { return seg.TriangleSurface[i] }
	}
	return len(s.Triangles), func(i int) int32 {
		a, b, c := of[s.Triangles[i][0]], of[s.Triangles[i][1]], of[s.Triangles[i][2]]
		switch {
		case a == b || a == c:
			return a
		case b == c:
			return b
		}
		return -1
	}
}

// WriteLabels writes one line for every item of the scan's file, in file order: the id of
// the surface it belongs to, or "-". Items left out on reading belong to none.
func WriteLabels(w io.Writer, s *mesh.Scan, seg *segment.Segmentation) error {
	kept, surface := itemsOf(s, seg)
	total := s.Source.Points
	if s.IsMesh() {
		total = s.Source.Triangles
	}
	out := slices.Repeat([]int32{-1}, max(total, kept))
	for i := range kept {
		at := i
		if s.SourceIndex != nil {
			at = int(s.SourceIndex[i])
		}
		out[at] = surface(i)
	}
	buf := bufio.NewWriter(w)
	for _, k := range out {
		id := "-"
		if k >= 0 {
			id = seg.Surfaces[k].ID
		}
		buf.WriteString(id + "\n")
	}
	return buf.Flush() // carries the first error of any write above
}

// itemsALook is how many triangles are added up, in some milliseconds, before
// the context is looked at again.
const itemsALook = 1 << 16

// unassigned returns the share of the scan, 0 to 1, that belongs to no surface:
// of the area on a mesh, of the points in a cloud. It reports false for an
// empty scan, and once ctx is done.
func unassigned(ctx context.Context, s *mesh.Scan, seg *segment.Segmentation) (share float64, ok bool) {
	if len(seg.PointSurface) != s.Len() {
		return 0, false
	}
	var all, none float64
	n, surface := itemsOf(s, seg)
	for i := range n {
		if i%itemsALook == 0 && ctx.Err() != nil {
			return 0, false
		}
		size := 1.0
		if s.IsMesh() {
			t := s.Triangles[i]
			a := s.Offsets[t[0]].R3()
			size = s.Offsets[t[1]].R3().Sub(a).Cross(s.Offsets[t[2]].R3().Sub(a)).Norm()
		}
		all += size
		if surface(i) < 0 {
			none += size
		}
	}
	if all == 0 {
		return 0, false
	}
	return none / all, true
}
