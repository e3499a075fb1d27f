package report

import (
	"bufio"
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"

	"spotface/bolt"
	"spotface/bolt/pattern"
	"spotface/fit/segment"
	"spotface/mesh"
)

// MeasureOptions of Measure; the zero value works.
type MeasureOptions struct {
	Face  string   // id of the mounting face; empty: chosen
	Bore  string   // id of the main bore's cylinder; empty: chosen
	Clock string   // id of the clocking hole; empty: the first of its circle
	Only  []string // ids to keep; empty: all
	// Band is the half-width, mm, within which a point belongs to a surface.
	// Zero means from the scan's own noise.
	Band float64
	// Form is how far, mm, surfaces may leave their shape by form. Zero means in
	// proportion to each surface's extent.
	Form float64
	// Seed picks the sample sequence. Same scan, options and seed: same report,
	// on any number of cores.
	Seed uint64
	// Jobs is the number of goroutines; zero means GOMAXPROCS.
	Jobs int
	// Progress, if set, is called from one goroutine with the stage at work. It
	// must return quickly.
	Progress func(stage string, done, total int)
}

// Measure finds and measures everything in a scan: the one call for a raw scan
// on the way to a report. Normals that the scan lacks are computed; s is not
// changed, so many goroutines may measure one scan. A scan in which nothing is
// found gives a report that says so, not an error.
func Measure(ctx context.Context, s *mesh.Scan, opt MeasureOptions) (*Report, error) {
	rep, _, err := MeasureSurfaces(ctx, s, opt)
	return rep, err
}

// OfHoles is the report of one bolt circle whose holes were measured otherwise than by a scan, by
// a coordinate measuring machine, say: name says by what, centres are mm with their covariances.
// Holes without an id are H1, H2 ..., those without a kind are round; the first clocks. An
// id given twice is an error, as is what bolt.Clock refuses.
func OfHoles(name string, holes []bolt.Hole) (*Report, error) {
	holes = slices.Clone(holes)
	for i := range holes {
		h := &holes[i]
		h.ID = cmp.Or(h.ID, fmt.Sprintf("H%d", i+1))
		h.Kind = cmp.Or(h.Kind, bolt.Round)
		if slices.ContainsFunc(holes[:i], func(o bolt.Hole) bool { return o.ID == h.ID }) {
			return nil, fmt.Errorf("report: two holes are called %s", h.ID)
		}
	}
	c, err := bolt.Clock(holes, pattern.Reading{})
	if err != nil {
		return nil, fmt.Errorf("report: %w", err)
	}
	c.ID = "B1"
	s := &mesh.Scan{Source: mesh.Source{File: name, Unit: mesh.Millimetre, UnitSource: mesh.UnitGiven}}
	return Build(context.Background(), s, &segment.Segmentation{},
		&bolt.Measurement{Holes: holes, Circles: []bolt.Circle{c}})
}

// MeasureSurfaces is Measure that also returns which surface each point belongs
// to, for WriteLabels.
func MeasureSurfaces(ctx context.Context, s *mesh.Scan, opt MeasureOptions) (*Report,
	*segment.Segmentation, error) {
	tell := opt.Progress
	if tell == nil {
		tell = func(string, int, int) {}
	}
	if s.Len() == 0 {
		seg := &segment.Segmentation{}
		rep, err := Build(ctx, s, seg, &bolt.Measurement{})
		return rep, seg, err
	}
	if s.Normals == nil || !s.IsMesh() {
		tell("normals", 0, 1)
		var err error
		if s, err = mesh.EstimateNormals(ctx, s, nil, opt.Jobs); err != nil {
			return nil, nil, fmt.Errorf("normals: %w", err)
		}
		if s.Unoriented {
			s.Warnings = append(slices.Clip(s.Warnings), "The scan does not say which side of "+
				"a surface is outside; the side chosen is a guess, and with it what is a hole "+
				"and what is a boss.")
		}
		tell("normals", 1, 1)
	}
	tell("surfaces", 0, 1)
	seg, err := segment.Segment(ctx, s,
		segment.Options{HalfWidth: opt.Band, Form: opt.Form, Seed: opt.Seed, Jobs: opt.Jobs,
			Progress: func(done, total int) { tell("surfaces", done, total) }})
	if err != nil {
		return nil, nil, fmt.Errorf("surfaces: %w", err)
	}
	tell("holes", 0, 1)
	m, err := bolt.Measure(ctx, s, seg, bolt.Options{Face: opt.Face, Bore: opt.Bore, Clock: opt.Clock,
		Only: opt.Only, Jobs: opt.Jobs})
	if err != nil {
		return nil, nil, fmt.Errorf("holes: %w", err)
	}
	tell("holes", 1, 1)
	if maybeInsideOut(ctx, s, m, opt.Jobs) {
		m.Warnings = append(m.Warnings, "Every round pattern is of studs, and the scan is "+
			"open: if the part has holes there, the scan is inside out. That is so of a "+
			"mirrored mesh whose triangles were not turned: mend it where it was exported, and "+
			"measure again.")
	}
	rep, err := Build(ctx, s, seg, m)
	if err != nil {
		return nil, nil, fmt.Errorf("report: %w", err)
	}
	rep.Only = opt.Only
	return rep, seg, nil
}

// maybeInsideOut reports whether three studs or more are alike, no two holes
// are, and no closed surface tells which side is out: all holes of an inside-out
// scan read as studs.
func maybeInsideOut(ctx context.Context, s *mesh.Scan, m *bolt.Measurement, jobs int) bool {
	if alike(m.Studs) < 3 || alike(m.Holes) > 1 {
		return false
	}
	if !s.IsMesh() {
		return true
	}
	loops, err := mesh.BoundaryLoops(ctx, s, jobs)
	return err == nil && len(loops) > 0
}

// alike returns the largest number of round holes whose diameters are within 2 %.
func alike(holes []bolt.Hole) (most int) {
	for _, a := range holes {
		n := 0
		for _, b := range holes {
			if a.Kind == bolt.Round && b.Kind == bolt.Round && a.Diameter <= b.Diameter &&
				b.Diameter <= 1.02*a.Diameter {
				n++
			}
		}
		most = max(most, n)
	}
	return most
}

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
