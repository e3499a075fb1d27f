package bolt

import (
	"cmp"
	"context"
	"math"
	"slices"

	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/parallel"
)

// finder gathers the holes and studs of a segmented scan.
type finder struct {
	scan *mesh.Scan
	seg  *segment.Segmentation
	// Those of seg.
	cylinders []segment.Cylinder
	cones     []segment.Cone

	grain grain
	faces []*face
	loops []mesh.BoundaryLoop // of a mesh
	holes []*candidate
	studs []*candidate
	rims  []*candidate
	long  []*opening   // slots and rectangles by their rims
	taken []*opening   // those, and those by walls, that are none of a hole
	ends  []*candidate // of slots by their rims
	shown faceNoise    // of the largest face
	cells *buckets
	size  float64 // diagonal of the scan's box, mm
	jobs  int
	// Width of rounded edges, mm, and its standard uncertainty; 0 if unknown.
	edgeWidth, edgeWidthU float64
}

func newFinder(ctx context.Context, s *mesh.Scan, seg *segment.Segmentation, jobs int) (*finder, error) {
	f := &finder{scan: s, seg: seg, jobs: jobs, grain: newGrain(s, seg), cylinders: seg.Cylinders()}
	for _, k := range seg.Cones() {
		if c, ok := drafted(&k); ok {
			f.cylinders = append(f.cylinders, c)
		} else {
			f.cones = append(f.cones, k)
		}
	}
	planes := seg.Planes()
	// Nothing is noisier than the largest plane, which may be bent as well.
	if len(planes) > 0 && planes[0].Residuals.RMS > 0 {
		f.grain.noise = min(f.grain.noise, planes[0].Residuals.RMS)
	}
	// A scan without noise (a drawing's mesh) still has rounding.
	lo, hi := s.Bounds()
	f.size = hi.Sub(lo).Norm()
	f.grain.noise = max(f.grain.noise, 1e-7*f.size)
	f.grain.spacing = max(f.grain.spacing, f.grain.noise)
	planes = slices.DeleteFunc(planes, func(p segment.Plane) bool {
		return len(p.Points) < minFace
	})
	var err error
	if s.IsMesh() && len(planes) > 0 {
		if f.loops, err = mesh.BoundaryLoops(ctx, s, jobs); err != nil {
			return nil, err
		}
	}
	if f.faces, err = facesOf(ctx, s, seg, planes, f.grain, jobs); err != nil {
		return nil, err
	}
	if len(f.faces) > 0 {
		if f.cells, err = newBuckets(ctx, s); err != nil {
			return nil, err
		}
	}
	var largest *face
	for _, fc := range f.faces {
		if largest == nil || fc.area > largest.area {
			largest = fc
		}
	}
	if largest != nil {
		f.shown = noiseOf(largest, f.grain)
	}
	return f, nil
}

// drafted returns a cone of little taper, as the walls of cast holes and bores are, as the
// cylinder in the middle of what was seen of it, whose residuals contain the taper. Of a
// line over the length l with the slope t the standard deviation is l t/sqrt(12).
func drafted(k *segment.Cone) (segment.Cylinder, bool) {
	t := math.Tan(k.HalfAngle.Radians())
	mid := (k.Extent[0] + k.Extent[1]) / 2
	c := segment.Cylinder{Surface: k.Surface}
	c.Cylinder = fit.Cylinder{Point: k.Apex.Add(k.Axis.Mul(mid)), Axis: k.Axis, Radius: mid * t}
	c.Residuals = k.Residuals
	c.Residuals.Sigma = math.Hypot(c.Residuals.Sigma, (k.Extent[1]-k.Extent[0])*t/math.Sqrt(12))
	c.Extent = [2]float64{k.Extent[0] - mid, k.Extent[1] - mid}
	return c, math.Abs(k.HalfAngle.Degrees()) < mostDraft
}

// find gathers walls and rims and makes one candidate of what is one hole.
func (f *finder) find(ctx context.Context) error {
	if err := f.findRims(ctx); err != nil {
		return err
	}
	found := make([]*candidate, len(f.cylinders)*len(f.faces))
	long := make([]*opening, len(found))
	err := parallel.Chunks(ctx, f.jobs, len(found), 1, func(k, _ int) {
		c, fc := &f.cylinders[k/len(f.faces)], f.faces[k%len(f.faces)]
		if cand, ok := f.wallOn(fc, c, max(f.bridge(c), f.sunk(fc, c))); ok {
			if c.Internal {
				if long[k], ok = f.roundWall(&cand); !ok {
					return
				}
			}
			found[k] = &cand
		}
	})
	if err != nil {
		return err
	}
	for k, w := range found {
		switch {
		case w == nil:
		case f.cylinders[k/len(f.faces)].Internal:
			f.holes = append(f.holes, w)
		case w.series.arc() > mostCorner:
			f.studs = append(f.studs, w)
		}
	}
	for k := 0; k < len(f.holes); k++ { // and below what that finds
		if c, ok := f.below(f.holes[k]); ok {
			f.holes = append(f.holes, c)
		}
	}
	f.holes, f.studs = settle(f.holes), settle(f.studs)
	if err := f.findLong(ctx, slices.DeleteFunc(long, func(o *opening) bool { return o == nil })); err != nil {
		return err
	}
	seen := make([]*candidate, len(f.rims)) // as they read
	for k, c := range f.rims {
		as := *c
		seen[k] = &as
	}
	if f.scan.IsMesh() {
		if err := f.fitEdges(ctx, slices.Concat(f.rims, f.ends)); err != nil {
			return err
		}
	}
	f.unsmooth(f.holes)
	f.unsmooth(f.studs)
	walls, edges := f.longCandidates()
	for _, all := range [][]*candidate{slices.Concat(f.holes, walls), f.studs, slices.Concat(f.rims, edges)} {
		if err := f.weighAll(ctx, all); err != nil {
			return err
		}
	}
	f.holes = slices.DeleteFunc(f.holes, func(c *candidate) bool { return c.dropped })
	f.studs = slices.DeleteFunc(f.studs, func(c *candidate) bool { return c.dropped })
	// Rims of what has no wall, and of what has one.
	for k, c := range f.rims {
		if c.dropped {
			continue
		}
		i := slices.IndexFunc(f.holes, func(o *candidate) bool { return o.wall != "" && o.covers(seen[k]) })
		if i < 0 {
			f.holes = append(f.holes, c)
		} else if o := f.holes[i]; c.asSheet && o.hi-o.lo < lowWall*f.edgeWidth {
			c.wall, f.holes[i] = o.wall, c // no part of its wall is clear of the edges
		} else if !f.scan.IsMesh() || c.rimR > 0 && !c.asRead {
			f.holes[i].join(c)
		}
	}
	f.holes = f.stack(f.holes)
	for _, c := range f.holes {
		f.deep(c)
	}
	return nil
}

// sunk returns how far from the face a countersink may keep the wall of c,
// where the face shows a wider rim about the same axis: to the depth of one of
// 60 degrees.
func (f *finder) sunk(fc *face, c *segment.Cylinder) float64 {
	if !c.Internal || !fc.square(c) {
		return 0
	}
	at := fc.flat.xy(meet(c.Point, c.Axis, fc.flat))
	for _, r := range f.rims {
		if r.face == fc && r.r > 1.05*c.Radius && math.Hypot(r.x-at[0], r.y-at[1]) < 0.3*c.Radius+0.05*math.Abs(fc.flat.height(c.Point)) {
			return math.Sqrt(3) * (r.r - c.Radius)
		}
	}
	if !f.scan.IsMesh() {
		if r := fc.opening(at[0], at[1], 2.2*c.Radius); r > c.Radius {
			return math.Sqrt(3) * (r - c.Radius)
		}
	}
	return 0
}

// opening returns the radius at which the face begins round (x, y), the median
// over the directions, where they agree within two cells; else 0.
func (f *face) opening(x, y, most float64) float64 {
	at := slices.Sorted(slices.Values(f.begins(x, y, 0, most)))
	if len(at) < 30 || at[len(at)-4]-at[3] > 2*f.cover.Cell {
		return 0
	}
	return median(at)
}

// bridge returns how far a countersink or chamfer keeps the wall of c from the
// face: the length of a cone about the same axis, or 0.
func (f *finder) bridge(c *segment.Cylinder) float64 {
	var b float64
	for i := range f.cones {
		k := &f.cones[i]
		d := k.Apex.Sub(c.Point)
		if math.Abs(k.Axis.Dot(c.Axis)) > math.Cos(5*math.Pi/180) && d.Cross(c.Axis).Norm() < 0.2*c.Radius {
			b = max(b, k.Extent[1]-k.Extent[0])
		}
	}
	return b
}

// settle keeps one of the candidates that show one hole: one whose mouth has more of
// its face about it, then the one on the largest face (pieces that a segmentation splits off
// a face are smaller, and their normals worse), then the one with most points.
func settle(all []*candidate) []*candidate {
	slices.SortStableFunc(all, func(p, q *candidate) int {
		return cmp.Or(q.around-p.around, cmp.Compare(q.face.area, p.face.area), q.points-p.points)
	})
	var out []*candidate
	for _, c := range all {
		if !slices.ContainsFunc(out, func(o *candidate) bool { return o.covers(c) && !o.under(c) && !c.under(o) }) {
			out = append(out, c)
		}
	}
	return out
}

// covers reports whether c and o show the same hole from the same side: they
// look one way within 20 degrees, and their middles lie within half a radius
// of each other, across and, but for what a countersink may put between them,
// along.
func (c *candidate) covers(o *candidate) bool {
	if c.face != o.face && c.face.flat.n.Dot(o.face.flat.n) < math.Cos(20*math.Pi/180) {
		return false
	}
	at := o.face.flat.at([2]float64{o.x, o.y})
	xy := c.face.flat.xy(at)
	r := max(c.r, o.r)
	if math.Hypot(xy[0]-c.x, xy[1]-c.y) > 0.5*r {
		return false
	}
	return c.wall != "" && c.wall == o.wall || math.Abs(c.face.flat.height(at)) < 0.5*r
}

// weighAll learns the noise of candidates of one kind and weighs all with it.
func (f *finder) weighAll(ctx context.Context, all []*candidate) error {
	return weighAlike(ctx, slices.DeleteFunc(slices.Clone(all), func(c *candidate) bool { return c.dropped }), f.shown, f.jobs)
}
