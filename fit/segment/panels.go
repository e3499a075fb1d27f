package segment

import (
	"context"
	"math"
	"runtime"

	"spotface/mesh"
	"spotface/mesh/geom"
)

// segmentPanels divides a mesh of large triangles: a drawing's, whose vertices lie on the
// surfaces and only where edges are, or a scan that was thinned. Triangles in one plane make
// a flat panel, and panels are the elements of the search: those of a curved surface have
// their corners on it and turn about its axis or centre.
func segmentPanels(ctx context.Context, s *mesh.Scan, opt Options) (*Segmentation, error) {
	step := func(done int) {
		if opt.Progress != nil {
			opt.Progress(done, 4)
		}
	}
	m, err := newPanelMesh(ctx, s)
	if err != nil {
		return nil, err
	}
	if opt.HalfWidth > 0 {
		m.raise(opt.HalfWidth / noiseSigmas)
	}
	step(1)
	panels, of, err := m.panels(ctx)
	if err != nil {
		return nil, err
	}
	step(2)
	p := newPanelSet(m, panels)
	p.learnt = opt.HalfWidth > 0
	jobs := opt.Jobs
	if jobs <= 0 {
		jobs = runtime.GOMAXPROCS(0)
	}
	sr, err := p.surfaces(ctx, jobs)
	if err != nil {
		return nil, err
	}
	step(3)
	seg := p.segmentation(sr, of)
	step(4)
	return seg, nil
}

// isTessellated reports whether a mesh is searched by its triangles rather than by its
// points. Its sides are of very different lengths, short along curves and long across
// faces. Where they differ less, it must show what a drawing's mesh does and a scan never:
//
//   - many neighbouring triangles are coplanar to the rounding of their
//     coordinates: each flat side of a cylinder or cone is two of them. Noise
//     bends almost all pairs of a scan, and simplifying does not flatten them.
//   - hardly a vertex lies inside a flat place, since a modeller puts them on
//     edges. Most vertices of a scan of machined faces do, also when smoothing
//     or a voxel grid has taken the noise away.
//
// Flat caps that a scan was closed with change nothing: their triangles are
// few. A mesh of less than 100 vertices is too coarse for any scan.
func isTessellated(s *mesh.Scan) bool {
	if !s.IsMesh() {
		return false
	}
	if s.Len() < 100 {
		return true
	}
	spread := sideSpread(s)
	if spread < leastSpread || spread >= thinnedSpread {
		return spread >= thinnedSpread
	}
	flat, inside := flatShare(s)
	return flat >= leastFlat && inside <= mostInside
}

// flatShare looks at the triangles round a sample of the vertices and returns
// the share of neighbouring pairs that are coplanar to rounding, and the share
// of vertices all of whose pairs are nearly so.
func flatShare(s *mesh.Scan) (flat, inside float64) {
	const sample = 2000
	exact := 3 * math.Sqrt(3) * coordinateRounding(s)
	nearly := 20 * pointTolerance(s, exact/(3*math.Sqrt(3)))
	step := max(1, s.Len()/sample)
	fans := make([][][2]int32, (s.Len()+step-1)/step) // round vertex v: opposite sides
	for _, c := range s.Triangles {
		for k, v := range c {
			if int(v)%step == 0 {
				fans[int(v)/step] = append(fans[int(v)/step], [2]int32{c[(k+1)%3], c[(k+2)%3]})
			}
		}
	}
	pairs, flatPairs, vertices, insideVertices := 0, 0, 0, 0
	for n, fan := range fans {
		v := s.Point(n * step)
		all, met := true, 0
		for i, p := range fan {
			for j, q := range fan {
				if i == j || p[1] != q[0] {
					continue
				}
				// Triangles v p0 p1 and v p1 q1 meet along v-p1. The lower of
				// the two heights is the one over the wider triangle.
				a, b, c := s.Point(int(p[0])).Sub(v), s.Point(int(p[1])).Sub(v), s.Point(int(q[1])).Sub(v)
				volume := math.Abs(a.Cross(b).Dot(c))
				wide := max(a.Cross(b).Norm(), b.Cross(c).Norm())
				if wide == 0 {
					continue
				}
				h := volume / wide
				met++
				pairs++
				if h <= exact {
					flatPairs++
				}
				// The vertices of a fold lie in one plane as well.
				folded := a.Cross(b).Dot(b.Cross(c)) < 0
				if h > nearly || folded {
					all = false
				}
			}
		}
		if met > 0 {
			vertices++
			if all && met == len(fan) {
				insideVertices++
			}
		}
	}
	if pairs == 0 {
		return 0, 0
	}
	return float64(flatPairs) / float64(pairs), float64(insideVertices) / float64(vertices)
}

// sideSpread returns by how much longer the long sides of triangles are than
// the short ones: the ratio of the 90th to the 10th percentile of a sample.
func sideSpread(s *mesh.Scan) float64 {
	const sample = 20000
	step := max(1, len(s.Triangles)/sample)
	var sides []float64
	for t := 0; t < len(s.Triangles); t += step {
		c := s.Triangles[t]
		for k := range 3 {
			sides = append(sides, s.Point(int(c[k])).Distance(s.Point(int(c[(k+1)%3]))))
		}
	}
	short, long := geom.Nth(sides, len(sides)/10), geom.Nth(sides, len(sides)*9/10)
	if short == 0 {
		return math.Inf(1)
	}
	return long / short
}
