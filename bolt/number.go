package bolt

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// inTurn sorts holes of one face counter-clockwise about centre, from the
// first one met turning from the scan's +X laid on the face (+Y where the face
// looks along X).
func inTurn(holes []*candidate, centre, axis r3.Vector) []*candidate {
	x := laidX(axis)
	y := axis.Cross(x)
	turn := func(h *candidate) float64 {
		d := h.hole().Centre.Sub(centre)
		a := geom.Wrap(math.Atan2(d.Dot(y), d.Dot(x)))
		if a > 2*math.Pi-numberFrom {
			return 0
		}
		return a
	}
	out := slices.Clone(holes)
	slices.SortStableFunc(out, func(a, b *candidate) int {
		return cmp.Compare(turn(a), turn(b))
	})
	return out
}
