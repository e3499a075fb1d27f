package mesh

import (
	"context"
	"sync/atomic"
)

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
	if len(r.off) > 1<<31-2 {
		return nil, in.fail(quantity(int64(len(r.off)), "point")+" are more than this program can number", "thin the scan out")
	}
	in.src.Points, in.src.Triangles = len(r.off), r.fileTris
	first, err := firstEqual(ctx, r.off, r.hash, in.jobs)
	if err != nil {
		return nil, err
	}
	s := &Scan{Origin: in.origin, Offsets: r.off, Normals: r.normals,
		Triangles: r.tris, FileItem: r.triItem, Removed: r.removed}
	r.hash = nil
	if r.fileTris == 0 {
		s.Triangles, s.FileItem = nil, nil
		s.packCloud(first)
		return in.finish(s, s.unitNormals(ctx, in.jobs))
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
	if err := s.markFlat(ctx, r.exactAt, in.jobs); err != nil {
		return nil, err
	}
	if err := s.cleanMesh(ctx, in.jobs); err != nil {
		return nil, err
	}
	return in.finish(s, s.unitNormals(ctx, in.jobs))
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
func (s *Scan) unitNormals(ctx context.Context, jobs int) error {
	var some atomic.Bool
	err := eachChunk(ctx, jobs, len(s.Normals), cleanChunk, func(lo, hi int) {
		known := false
		for i := lo; i < hi; i++ {
			n := s.Normals[i].R3()
			if d := n.Norm2() - 1; d < -1e-6 || d > 1e-6 || d != d {
				s.Normals[i] = unitOrZero(s.Normals[i])
			}
			known = known || s.Normals[i] != Vec32{}
		}
		if known {
			some.Store(true)
		}
	})
	if !some.Load() {
		s.Normals = nil
	}
	return err
}

// unitOrZero returns v with unit length, or zero where it has no direction.
func unitOrZero(v Vec32) Vec32 {
	n := v.R3().Norm()
	if !(n > 0) || n > maxOffset {
		return Vec32{}
	}
	return Vec32{float32(float64(v[0]) / n), float32(float64(v[1]) / n), float32(float64(v[2]) / n)}
}
