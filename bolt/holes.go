package bolt

import (
	"context"
	"math"
	"slices"

	"spotface/fit/segment"
	"spotface/mesh"
)

// finder gathers the holes and studs of a segmented scan.
type finder struct {
	scan  *mesh.Scan
	seg   *segment.Segmentation
	grain grain
	faces []*face
	holes []*candidate
	studs []*candidate
}

// minFace is the number of points below which a plane is no face for holes.
const minFace = 30

func newFinder(s *mesh.Scan, seg *segment.Segmentation) *finder {
	f := &finder{scan: s, seg: seg, grain: grain{noise: seg.Noise, spacing: seg.Spacing}}
	// A scan without noise (a drawing's mesh) still has rounding.
	lo, hi := s.Bounds()
	f.grain.noise = max(f.grain.noise, 1e-7*hi.Sub(lo).Norm())
	f.grain.spacing = max(f.grain.spacing, f.grain.noise)
	for i := range seg.Planes {
		if p := &seg.Planes[i]; len(p.Points) >= min(minFace, 4) {
			f.faces = append(f.faces, newFace(s, p, 3*f.grain.spacing))
		}
	}
	return f
}

// find gathers walls and rims and makes one candidate of what is one hole.
func (f *finder) find(ctx context.Context) error {
	for i := range f.seg.Cylinders {
		if err := ctx.Err(); err != nil {
			return err
		}
		c := &f.seg.Cylinders[i]
		bridge := f.bridge(c)
		for _, fc := range f.faces {
			cand, ok := wallOn(f.scan, fc, c, f.grain, bridge)
			switch {
			case !ok:
			case c.Internal:
				f.holes = append(f.holes, &cand)
			default:
				f.studs = append(f.studs, &cand)
			}
		}
	}
	f.holes, f.studs = f.nearestFace(f.holes), f.nearestFace(f.studs)
	weighAll(f.holes)
	weighAll(f.studs)
	f.holes = slices.DeleteFunc(f.holes, func(c *candidate) bool { return c.dropped })
	f.studs = slices.DeleteFunc(f.studs, func(c *candidate) bool { return c.dropped })
	return nil
}

// bridge returns how far a countersink or chamfer keeps the wall of c from the
// face: the length of a cone about the same axis, or 0.
func (f *finder) bridge(c *segment.Cylinder) float64 {
	var b float64
	for i := range f.seg.Cones {
		k := &f.seg.Cones[i]
		d := k.Apex.Sub(c.Point)
		if math.Abs(k.Axis.Dot(c.Axis)) > math.Cos(5*math.Pi/180) && d.Cross(c.Axis).Norm() < 0.2*c.Radius {
			b = max(b, k.Extent[1]-k.Extent[0])
		}
	}
	return b
}

// nearestFace keeps, for each wall and each side that it opens to, the face
// that it ends nearest at.
func (f *finder) nearestFace(all []*candidate) []*candidate {
	gap := func(c *candidate) float64 { return min(math.Abs(c.hi), math.Abs(c.lo)) }
	return slices.DeleteFunc(all, func(c *candidate) bool {
		for _, o := range all {
			if o != c && o.wall == c.wall && o.face.flat.n.Dot(c.face.flat.n) > 0 &&
				(gap(o) < gap(c) || gap(o) == gap(c) && o.face.id < c.face.id) {
				return true
			}
		}
		return false
	})
}

// weighAll learns the noise of each kind of evidence and weighs all with it.
func weighAll(all []*candidate) {
	for _, kind := range []From{Wall, Rim} {
		var series []arcSeries
		for _, c := range all {
			if c.from == kind {
				series = append(series, c.series)
			}
		}
		if len(series) == 0 {
			continue
		}
		noise := learnNoise(series)
		for _, c := range all {
			if c.from == kind && !c.weigh(noise) {
				c.dropped = true
			}
		}
	}
}
