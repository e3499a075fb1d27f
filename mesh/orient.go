package mesh

import (
	"context"
	"math"
)

// orient turns the normals of a cloud to one side and reports whether it is
// known to be the outer one: see settle for how neighbours agree on a side and
// outward for how the outer one is told.
//
// noise is a height, mm, below which a step means nothing. Where pieces do not hang together each is judged by itself; the answer is
// that of the pieces which hold nine tenths of the area.
func orient(ctx context.Context, pts, normals []Vec32, areas []float32, noise float64, ix *Index, jobs int) (bool, error) {
	fs, of, err := facetsOf(ctx, pts, normals, areas, ix, jobs)
	if err != nil || len(fs) == 0 {
		return false, err
	}
	l, err := links(ctx, fs, noise, jobs)
	if err != nil {
		return false, err
	}
	group, sign, err := settle(ctx, fs, l)
	if err != nil {
		return false, err
	}
	for i := range fs {
		for c := range 3 {
			fs[i].normal[c] *= sign[i]
		}
	}
	known := outward(fs, l, group)
	err = eachChunk(ctx, jobs, len(pts), chunkSize, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			if f := of[i]; f >= 0 {
				face(&normals[i], fs[f].normal)
			}
		}
	})
	if err != nil {
		return false, err
	}
	return known, strays(ctx, pts, normals, fs, of, noise, jobs)
}

// face turns n to the side of m.
func face(n *Vec32, m [3]float64) {
	if dot(wide(*n), m) < 0 {
		*n = Vec32{-n[0], -n[1], -n[2]}
	}
}

// strays turns the normals of points that belong to no facet by the nearest
// facet, compared as in links.
func strays(ctx context.Context, pts, normals []Vec32, fs []facet, of []int32, noise float64, jobs int) error {
	at := make([]Vec32, len(fs))
	for i, f := range fs {
		at[i] = Vec32{float32(f.at[0]), float32(f.at[1]), float32(f.at[2])}
	}
	ix := NewIndex(at, jobs)
	return eachChunk(ctx, jobs, len(pts), 1024, func(lo, hi int) {
		var nb []Neighbour
		for i := lo; i < hi; i++ {
			if of[i] >= 0 || normals[i] == (Vec32{}) {
				continue
			}
			nb = ix.Nearest(pts[i], 4, 0, nb[:0])
			p := facet{at: wide(pts[i]), normal: wide(normals[i])}
			vote := 0.0
			for _, n := range nb {
				p.size = fs[n.I].size
				vote += agreement(&p, &fs[n.I], noise)
			}
			if vote < 0 {
				normals[i] = Vec32{-normals[i][0], -normals[i][1], -normals[i][2]}
			}
		}
	})
}

// outward turns each group of facets outside out and reports whether the data
// could say so for nine tenths of the area.
func outward(fs []facet, l []link, group []int32) bool {
	shapes := map[int32]*shell{}
	for i, f := range fs {
		s := shapes[group[i]]
		if s == nil {
			s = &shell{}
			shapes[group[i]] = s
		}
		s.addFacet(f)
	}
	for i, f := range fs {
		shapes[group[i]].addVolume(f)
	}
	for _, e := range l {
		if group[e.a] == group[e.b] {
			shapes[group[e.a]].addBend(&fs[e.a], &fs[e.b])
		}
	}
	// Areas are added in the order of the facets: maps have none.
	var all, sure float64
	for i, f := range fs {
		s := shapes[group[i]]
		side, known := s.side()
		all += f.area
		if known {
			sure += f.area
		}
		for c := range 3 {
			fs[i].normal[c] *= side
		}
	}
	return sure >= 0.9*all && all > 0
}

// shell is what tells the inside of a surface from its outside.
type shell struct {
	area, volume  float64    // volume: three times the signed volume about mid
	at, sum       [3]float64 // sums of area times place and of area times normal
	square        [6]float64 // of area times n nᵀ: xx, yy, zz, xy, xz, yz
	convex, bends float64    // creases: signed and unsigned, by length
}

func (s *shell) addFacet(f facet) {
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

func (s *shell) addVolume(f facet) {
	var d [3]float64
	for c := range 3 {
		d[c] = f.at[c] - s.at[c]/s.area
	}
	s.volume += f.area * dot(d, f.normal)
}

// addBend counts a crease between two facets: neighbours whose normals differ
// by more than 50 degrees. (n2-n1)·e is positive where the surface bends away
// from its outer side.
func (s *shell) addBend(f, g *facet) {
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
// edge for every concave one, so the creases, weighed by length, are convex
// when seen from outside. A surface without creases, say a plane or a dish, is
// not known; it is turned so that it bulges.
func (s *shell) side() (side float64, known bool) {
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
	if math.Abs(s.convex) > 0.3*s.bends && s.bends > 2*math.Sqrt(s.area)*0.5 {
		if s.convex < 0 {
			return -1, true
		}
		return 1, true
	}
	return sign, false
}
