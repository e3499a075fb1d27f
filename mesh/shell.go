package mesh

import "math"

// enclosure is what tells the inside of a surface from its outside.
type enclosure struct {
	area, volume float64    // volume: three times the signed volume about mid
	at, sum      [3]float64 // sums of area times place and of area times normal
	square       [6]float64 // of area times n nᵀ: xx, yy, zz, xy, xz, yz

	// Creases by length: their sum signed, convex ones positive; unsigned; and
	// the sum of squares.
	convex, bends, squares float64
}

func (s *enclosure) addFacet(f facet) {
	s.area += f.area
	n := f.normal
	for c := range 3 {
		s.at[c] += f.area * f.at[c]
		s.sum[c] += f.area * n[c]
		s.square[c] += f.area * n[c] * n[c]
	}
	s.square[3] += f.area * n[0] * n[1]
	s.square[4] += f.area * n[0] * n[2]
	s.square[5] += f.area * n[1] * n[2]
}

func (s *enclosure) addVolume(f facet) {
	var d [3]float64
	for c := range 3 {
		d[c] = f.at[c] - s.at[c]/s.area
	}
	s.volume += f.area * dot(d, f.normal)
}

// addBend counts a crease between two facets: neighbours whose normals differ
// by more than 50 degrees. (n2-n1)·e is positive where the surface bends away
// from its outer side.
func (s *enclosure) addBend(f, g *facet) {
	if dot(f.normal, g.normal) > 0.64 {
		return
	}
	e := [3]float64{g.at[0] - f.at[0], g.at[1] - f.at[1], g.at[2] - f.at[2]}
	d := math.Sqrt(dot(e, e))
	reach := f.size + g.size
	if d == 0 || d > 2*reach {
		return
	}
	b := (dot(g.normal, e) - dot(f.normal, e)) / d
	length := min(f.size, g.size)
	s.convex += b * length
	s.bends += math.Abs(b) * length
	s.squares += b * length * b * length
}

// side returns -1 where the normals point into the material, else 1, and
// whether the data says so.
//
// A surface seen all around closes: its area vectors add up to nothing and the
// volume that it holds (divergence theorem) tells its outside. It must face
// more than two ways: the wall of a tube alone may be a bore or a shaft.
//
// A part scanned from one side is open. Its outline and its holes end in
// convex edges, and what rises from a face or is sunk into it has a convex
// edge for about every concave one, so the creases, weighed by length, are
// convex when seen from outside; and its walls fall away from the scanner, so
// that it holds volume against its middle. Where both agree, the side is known
// if the creases are no chance; where they do not, say at a deep bore in a
// scrap of face, the creases must be clear. A surface without creases, say a
// plane or a dish, is not known; it is turned so that it bulges.
func (s *enclosure) side() (side float64, known bool) {
	if s.area == 0 {
		return 1, false
	}
	sign := 1.0
	if s.volume < 0 {
		sign = -1
	}
	_, least, _ := smallestEigen(s.square[0], s.square[1], s.square[2], s.square[3], s.square[4], s.square[5])
	open := math.Sqrt(dot(s.sum, s.sum)) / s.area
	// 36πV² = A³ for a sphere.
	v := s.volume / 3
	if open < 0.15 && least > 0.05*s.area && 36*math.Pi*v*v > 0.01*s.area*s.area*s.area {
		return sign, true
	}
	clear := math.Abs(s.convex) > 0.5*s.bends
	agree := s.convex*sign > 0 && math.Abs(s.convex) > 0.05*s.bends && 36*math.Pi*v*v > 1e-3*s.area*s.area*s.area
	// As many random signs would sum to six standard deviations once in 10^9;
	// and a few creases do not speak for the whole.
	chance := s.convex*s.convex < 36*s.squares || s.bends < 3*math.Sqrt(s.area)
	if !chance && (clear || agree) {
		return math.Copysign(1, s.convex), true
	}
	return sign, false
}
