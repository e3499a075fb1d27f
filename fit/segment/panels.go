package segment

import (
	"context"
	"math"

	"spotface/mesh"
	"spotface/mesh/geom"
	"spotface/mesh/parallel"
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
	jobs := parallel.Jobs(opt.Jobs)
	sr, err := p.surfaces(ctx, jobs)
	if err != nil {
		return nil, err
	}
	step(3)
	seg, err := p.segmentation(ctx, sr, of, jobs)
	step(4)
	return seg, err
}

// isTessellated reports whether a mesh is searched by its triangles rather than by its
// points. Its sides are of very different lengths, short along curves and long across
// faces. Where they differ less, it must show what a drawing's mesh does and a scan does
// not: most vertices lie on an edge of a flat side, with triangles in one plane and others
// that are not. Noise bends almost all pairs of a scan's triangles, and inside a face that
// smoothing or a voxel grid has flattened all pairs are flat. A mesh of fewer
// than leastScan vertices is too coarse for any scan.
func isTessellated(s *mesh.Scan) bool {
	if !s.IsMesh() {
		return false
	}
	if s.Len() < leastScan {
		return true
	}
	spread := sideSpread(s)
	if spread < leastSpread || spread >= thinnedSpread {
		return spread >= thinnedSpread
	}
	return drawnShare(s) >= leastDrawn
}

// drawnShare returns the share of the vertices, of a sample, that a modeller may have
// placed: of the triangles round it some lie in one plane to rounding and some do not.
func drawnShare(s *mesh.Scan) float64 {
	step := max(1, s.Len()/drawnSample)
	fans := make([][][2]int32, (s.Len()+step-1)/step) // round vertex v: opposite sides
	for _, c := range s.Triangles {
		for k, v := range c {
			if int(v)%step == 0 {
				fans[int(v)/step] = append(fans[int(v)/step], [2]int32{c[(k+1)%3], c[(k+2)%3]})
			}
		}
	}
	exact := pointTolerance(s, coordinateRounding(s))
	drawn := 0
	for n, fan := range fans {
		v := s.Point(n * step)
		flat, bent := false, false
		for i, p := range fan {
			normal := geom.Unit(s.Point(int(p[0])).Sub(v).Cross(s.Point(int(p[1])).Sub(v)))
			for j, q := range fan {
				a, b := s.Point(int(q[0])).Sub(v), s.Point(int(q[1])).Sub(v)
				h := max(math.Abs(a.Dot(normal)), math.Abs(b.Dot(normal)))
				if i != j && normal.Norm2() > 0 {
					flat, bent = flat || h <= exact, bent || h > bentRoundings*exact
				}
			}
		}
		if flat && bent {
			drawn++
		}
	}
	return float64(drawn) / float64(max(1, len(fans)))
}

// sideLengths returns the 10th, 50th and 90th percentile of the lengths of the
// triangles' sides, of a sample.
func sideLengths(s *mesh.Scan) (short, middle, long float64) {
	step := max(1, len(s.Triangles)/sideSample)
	var sides []float64
	for t := 0; t < len(s.Triangles); t += step {
		c := s.Triangles[t]
		for k := range 3 {
			sides = append(sides, s.Point(int(c[k])).Distance(s.Point(int(c[(k+1)%3]))))
		}
	}
	if len(sides) == 0 {
		return 0, 0, 0
	}
	at := func(share float64) float64 { return geom.Nth(sides, int(share*float64(len(sides)))) }
	return at(shortSides), at(0.5), at(1 - shortSides)
}

// sideSpread returns how much longer the long sides of triangles are than the short
// ones.
func sideSpread(s *mesh.Scan) float64 {
	short, _, long := sideLengths(s)
	if short == 0 {
		return math.Inf(1)
	}
	return long / short
}
