package mesh

import (
	"context"
	"math"
)

// A cloud's normal is taken from so many neighbours: few where they lie far
// enough apart for the noise not to matter, more where they are close.
const (
	fewNeighbours  = 12
	manyNeighbours = 32
	areaNeighbours = 6
	// sparsest is how many times as sparse as most of the scan a wall may be.
	sparsest = 25
	// wantTilt is the standard deviation of a normal's tilt, rad, that ends
	// the taking in of more neighbours.
	wantTilt = 0.03
	// A normal is doubtful where less than this share of the neighbours lies
	// on its surface.
	doubtfulShare = 0.6
	// patchBend is how far off a tangent a surface may bend over a patch, by the
	// patch's width, where there is less noise than that.
	patchBend = 0.03
	// Or where they lie more to one side than at a straight rim.
	doubtfulLopsided = 0.33
)

// cloudNormals returns a unit normal a point of either side, zero where there
// is none: points on no surface, being astray or too few; and the surface that
// each point stands for, mm².
//
// The nearest neighbours, however far they are, take the scan's changing
// density as it comes; see patch.tangent for the surface through them, which
// points astray and the other side of an edge do not bend. Where it is
// doubtful, the sure neighbours are asked on whose surface the point lies.
func cloudNormals(ctx context.Context, s *Scan, ix *KDTree, noise, band float64, jobs int) (normals []Vec32, areas []float32, err error) {
	normals = make([]Vec32, s.Len())
	areas = make([]float32, s.Len())
	doubtful := make([]bool, s.Len())
	err = eachChunk(ctx, jobs, s.Len(), 1024, func(lo, hi int) {
		var p patch
		for k := lo; k < hi; k++ {
			i := ix.Order(k)
			p.gather(s.Offsets, ix, i, manyNeighbours)
			areas[i] = p.area()
			t, ok := p.tangent(p.enough(noise), math.Hypot(band, patchBend*p.reach(p.n)))
			if ok {
				normals[i] = Vec32{float32(t.normal[0]), float32(t.normal[1]), float32(t.normal[2])}
			}
			doubtful[i] = !ok || t.share < doubtfulShare || t.inliers < 8 || t.lopsided > doubtfulLopsided
		}
	})
	if err != nil {
		return nil, nil, err
	}
	capAreas(areas)
	return normals, areas, askNeighbours(ctx, s.Offsets, normals, doubtful, ix, band, jobs)
}

// area returns the surface that the place stands for, mm²: 1/6 of the disc that
// its sixth neighbour lies on.
func (p *patch) area() float32 {
	k := min(areaNeighbours, p.n)
	if k == 0 {
		return 0
	}
	r := p.reach(k)
	return float32(math.Pi * r * r / float64(k))
}

// capAreas limits areas: a lone point stands for no more than the sparsest
// wall's.
func capAreas(areas []float32) {
	some := make([]float64, 0, 1000)
	for _, i := range samplePoints(len(areas), 1000, 0) {
		some = append(some, float64(areas[i]))
	}
	most := float32(sparsest * median(some))
	for i := range areas {
		areas[i] = min(areas[i], most)
	}
}

// enough returns how many of p's neighbours settle the normal. Points spread
// over a disc of radius R have standard deviation R/2 along each axis of it,
// so the tilt's is noise / (R/2 · √k).
func (p *patch) enough(noise float64) int {
	k := min(fewNeighbours, p.n)
	for ; k < p.n; k += 4 {
		r := p.reach(k)
		if r*r*float64(k)*wantTilt*wantTilt >= 4*noise*noise {
			break
		}
	}
	return min(k, p.n)
}

const askedNeighbours = 48

// askNeighbours replaces doubtful normals by those of the sure neighbours
// whose tangent planes pass the point within the noise of both, the nearer
// counting more; where the planes are of several surfaces, the one with most
// say decides. A point on no sure neighbour's surface is astray: it has none. A
// point without sure neighbours keeps its own.
func askNeighbours(ctx context.Context, pts, normals []Vec32, doubtful []bool, ix *KDTree, band float64, jobs int) error {
	type answer struct {
		normal [3]float64
		say    float64
	}
	out := make([]Vec32, len(pts))
	err := eachChunk(ctx, jobs, len(pts), 1024, func(lo, hi int) {
		var nb []Neighbour
		var on []answer
		for k := lo; k < hi; k++ {
			i := ix.Order(k)
			if !doubtful[i] {
				continue
			}
			on = on[:0]
			known := false
			nb = ix.Nearest(pts[i], askedNeighbours+1, 0, nb[:0])
			for _, n := range nb {
				if doubtful[n.I] || n.I == i {
					continue
				}
				p, q, m := pts[n.I], pts[i], wide(normals[n.I])
				d := dot(m, [3]float64{float64(q[0] - p[0]), float64(q[1] - p[1]), float64(q[2] - p[2])})
				known = true
				if math.Abs(d) <= band*math.Sqrt2+2*patchBend*math.Sqrt(float64(n.D2)) {
					on = append(on, answer{m, 1 / (float64(n.D2) + band*band)})
				}
			}
			var best [3]float64
			most := 0.0
			for _, a := range on {
				var sum [3]float64
				say := 0.0
				for _, b := range on {
					c := dot(a.normal, b.normal)
					if math.Abs(c) < 0.94 {
						continue
					}
					say += b.say
					for e := range sum {
						sum[e] += math.Copysign(b.say, c) * b.normal[e]
					}
				}
				if say > most {
					most, best = say, sum
				}
			}
			if !known {
				out[i] = normals[i]
			} else if most > 0 {
				out[i] = unit(Vec32{float32(best[0]), float32(best[1]), float32(best[2])})
			}
		}
	})
	if err != nil {
		return err
	}
	for i, d := range doubtful {
		if d {
			normals[i] = out[i]
		}
	}
	return nil
}
