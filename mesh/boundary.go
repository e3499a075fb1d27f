package mesh

import (
	"context"
	"math"
	"slices"
)

// BoundaryPoints returns, of the points idx of a cloud (nil for all), those on
// the edge of their local surface, in the order of idx: the directions to
// their k nearest neighbours, seen in the tangent plane, leave a gap of more
// than gap radians. This is the angle criterion of Bendels, Schnabel & Klein
// (2006), Detecting holes in point set surfaces, J. WSCG 14, section 4.1.
//
// Only neighbours on the same surface count: not further off the tangent plane
// than half of their distance in it or three times the spread of the others,
// and, where s has normals, facing within 45 degrees the same way (either
// sign). So a hole's wall below its rim, or a point astray within the hole,
// does not fill the gap. A point with fewer than three such neighbours is not
// on a surface and is not returned.
//
// Among neighbours strewn at random the largest gap is about 2π ln(k)/k, so
// that k = 30 and gap = π/2 mark few points inside a surface.
func BoundaryPoints(s *Scan, ix *Index, idx []int32, k int, gap float64) []int32 {
	if ix == nil {
		ix = NewIndex(s.Offsets, 0)
	}
	if idx == nil {
		idx = make([]int32, s.Len())
		for i := range idx {
			idx[i] = int32(i)
		}
	}
	on := make([]bool, len(idx))
	work := func(lo, hi int) {
		var b edgeTest
		for m := lo; m < hi; m++ {
			on[m] = b.widestGap(s, ix, idx[m], k) > gap
		}
	}
	_ = eachChunk(context.Background(), 0, len(idx), 1024, work)
	var out []int32
	for m, yes := range on {
		if yes {
			out = append(out, idx[m])
		}
	}
	return out
}

// edgeTest keeps the room that a test needs.
type edgeTest struct {
	p      patch
	angles []float64
}

// widestGap returns the largest angle between successive directions to the
// neighbours of point i, or 0 where it is not on a surface.
func (b *edgeTest) widestGap(s *Scan, ix *Index, i int32, k int) float64 {
	q := s.Offsets[i]
	b.p.nb = ix.Nearest(q, k+1, 0, b.p.nb[:0])
	var n [3]float64
	if s.Normals != nil {
		n = wide(s.Normals[i])
	} else {
		var all scatter
		for _, nb := range b.p.nb {
			v := s.Offsets[nb.I]
			all.add([3]float32{v[0] - q[0], v[1] - q[1], v[2] - q[2]})
		}
		n, _, _, _ = all.plane()
	}
	if dot(n, n) < 0.5 {
		return 0
	}
	e1 := anyAcross(n)
	e2 := cross(n, e1)
	b.angles = b.angles[:0]
	for _, nb := range b.p.nb {
		if nb.D2 == 0 {
			continue
		}
		v := s.Offsets[nb.I]
		o := [3]float64{float64(v[0] - q[0]), float64(v[1] - q[1]), float64(v[2] - q[2])}
		x, y, h := dot(o, e1), dot(o, e2), dot(o, n)
		if math.Abs(h) > 0.5*math.Hypot(x, y) {
			continue
		}
		if s.Normals != nil && math.Abs(dot(n, wide(s.Normals[nb.I]))) < math.Sqrt2/2 {
			continue
		}
		b.angles = append(b.angles, math.Atan2(y, x))
	}
	if len(b.angles) < 3 {
		return 0
	}
	slices.Sort(b.angles)
	widest := b.angles[0] + 2*math.Pi - b.angles[len(b.angles)-1]
	for j := 1; j < len(b.angles); j++ {
		widest = max(widest, b.angles[j]-b.angles[j-1])
	}
	return widest
}
