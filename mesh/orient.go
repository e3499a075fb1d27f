package mesh

import (
	"context"
)

// orient turns the normals of a cloud to one side and reports whether it is
// known to be the outer one: see settle for how neighbours agree on a side and
// outward for how the outer one is told.
//
// noise is a height, mm, below which a step means nothing. Where pieces do not hang together each is judged by itself; the answer is
// that of the pieces which hold nine tenths of the area.
func orient(ctx context.Context, pts, normals []Vec32, areas []float32, noise float64, ix *KDTree, jobs int) (bool, error) {
	fs, of, err := facetsOf(ctx, pts, normals, areas, noise, ix, jobs)
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
	ix := NewKDTree(at, jobs)
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
	shapes := map[int32]*enclosure{}
	for i, f := range fs {
		s := shapes[group[i]]
		if s == nil {
			s = &enclosure{}
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
