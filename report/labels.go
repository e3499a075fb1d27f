package report

import (
	"bufio"
	"context"
	"io"

	"spotface/fit/segment"
	"spotface/mesh"
)

// triangleSurface returns the surface, an index into seg.Surfaces, of triangle i of
// s, or -1: the one that the segmentation gave it, else the one that at least
// two of its corners belong to.
func triangleSurface(s *mesh.Scan, seg *segment.Segmentation, i int) int32 {
	if seg.TriangleSurface != nil {
		return seg.TriangleSurface[i]
	}
	t := s.Triangles[i]
	a, b, c := seg.PointSurface[t[0]], seg.PointSurface[t[1]], seg.PointSurface[t[2]]
	if a == b || a == c {
		return a
	}
	if b == c {
		return b
	}
	return -1
}

// ItemSurfaces returns, for every item of the scan's file in file order, the
// index into seg.Surfaces of the surface it belongs to, or -1. Items are triangles
// of a mesh, points of a cloud; those left out on reading are -1.
func ItemSurfaces(s *mesh.Scan, seg *segment.Segmentation) []int32 {
	kept, total := s.Len(), s.Source.Points
	surface := func(i int) int32 { return seg.PointSurface[i] }
	if s.IsMesh() {
		kept, total = len(s.Triangles), s.Source.Triangles
		surface = func(i int) int32 { return triangleSurface(s, seg, i) }
	}
	out := make([]int32, max(total, kept))
	for i := range out {
		out[i] = -1
	}
	for i := range kept {
		at := i
		if s.SourceIndex != nil {
			at = int(s.SourceIndex[i])
		}
		out[at] = surface(i)
	}
	return out
}

// WriteLabels writes one line for every item of the scan's file, in file order:
// the id of the surface it belongs to, or "-".
func WriteLabels(w io.Writer, s *mesh.Scan, seg *segment.Segmentation) error {
	buf := bufio.NewWriterSize(w, 1<<16)
	for _, k := range ItemSurfaces(s, seg) {
		id := "-"
		if k >= 0 {
			id = seg.Surfaces[k].ID
		}
		buf.WriteString(id)
		buf.WriteByte('\n')
	}
	return buf.Flush() // carries the first error of any write above
}

// trianglesALook is how many triangles are added up, in some milliseconds, before
// the context is looked at again.
const trianglesALook = 1 << 16

// unassigned returns the share of the scan, 0 to 1, that belongs to no surface:
// of the area on a mesh, of the points in a cloud. It reports false for an
// empty scan, and once ctx is done.
func unassigned(ctx context.Context, s *mesh.Scan, seg *segment.Segmentation) (float64, bool) {
	if len(seg.PointSurface) != s.Len() || s.Len() == 0 {
		return 0, false
	}
	if !s.IsMesh() {
		none := 0
		for _, k := range seg.PointSurface {
			if k < 0 {
				none++
			}
		}
		return float64(none) / float64(s.Len()), true
	}
	var all, none float64
	for i, t := range s.Triangles {
		if i%trianglesALook == 0 && ctx.Err() != nil {
			return 0, false
		}
		a := s.Offsets[t[0]].R3()
		area := s.Offsets[t[1]].R3().Sub(a).Cross(s.Offsets[t[2]].R3().Sub(a)).Norm()
		all += area
		if triangleSurface(s, seg, i) < 0 {
			none += area
		}
	}
	if all == 0 {
		return 0, false
	}
	return none / all, true
}
