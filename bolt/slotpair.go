package bolt

import (
	"math"
	"slices"
)

// slotPlace is where a slot may be.
type slotPlace struct {
	fc  *face
	rim *brink // nil where a rim does not count
	hollow
}

// betweenWalls returns the places between two walls of one radius that are no holes'
// and may be the ends of one slot. A gap in the scan as wide as the slot and beside it
// hides the slot's hollow, but not its ends.
func (f *finder) betweenWalls() []slotPlace {
	const alike, longest = 0.06, 24 // of the radius; chosen by simulation (TestEndsAndCornersAreNoHoles)
	var out []slotPlace
	var ends []int
	for i := range f.cylinders {
		c := &f.cylinders[i]
		if c.Internal && !slices.ContainsFunc(f.holes, func(h *candidate) bool { return h.wall == c.ID }) {
			ends = append(ends, i)
		}
	}
	for _, fc := range f.faces {
		for k, i := range ends {
			for _, j := range ends[k+1:] {
				a, b := &f.cylinders[i], &f.cylinders[j]
				r := (a.Radius + b.Radius) / 2
				if math.Abs(a.Radius-b.Radius) > alike*r || !fc.square(a) || !fc.square(b) {
					continue
				}
				p, q := fc.flat.xy(meet(a.Point, a.Axis, fc.flat)), fc.flat.xy(meet(b.Point, b.Axis, fc.flat))
				dx, dy := q[0]-p[0], q[1]-p[1]
				if l := math.Hypot(dx, dy); l > 0.05*r && l < 2*longest*r {
					x, y := (p[0]+q[0])/2, (p[1]+q[1])/2
					out = append(out, slotPlace{fc: fc, hollow: hollow{x: x, y: y, r: r,
						long: oblong{x: x, y: y, ux: dx / l, uy: dy / l, half: l / 2}}})
				}
			}
		}
	}
	return out
}
