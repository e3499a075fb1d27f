package bolt

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"spotface/bolt/hole"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/parallel"
)

// face is a plane that may carry holes, with its points laid on its sheet.
type face struct {
	id     string
	flat   flat
	plane  *segment.Plane
	pts    [][2]float64 // all, or of a large cloud evenly some
	height []float64    // of the points over the sheet, mm
	cover  hole.Cover
	area   float64      // mm², of the cells that it covers
	places []hole.Place // where something is missing
	edge   *hole.Edge   // of a mesh
}

// newFace lays the plane's points on its sheet; tris are its triangles. Once ctx is
// cancelled the face is worth nothing.
func newFace(ctx context.Context, s *mesh.Scan, p *segment.Plane, tris [][3]int32, g grain) *face {
	f := &face{id: p.ID, plane: p, flat: newFlat(p.Point, p.Normal)}
	step := 1
	if !s.IsMesh() {
		step += len(p.Points) / facePoints
	}
	n := len(p.Points)/step + 1
	f.pts, f.height = make([][2]float64, 0, n), make([]float64, 0, n)
	for k := 0; k < len(p.Points); k += step {
		q := s.Point(int(p.Points[k]))
		f.pts, f.height = append(f.pts, f.flat.xy(q)), append(f.height, f.flat.height(q))
	}
	f.cover = f.covered(ctx, s, tris, g)
	f.area = f.cover.Area()
	return f
}

// facesOf makes faces of the planes, side by side.
func facesOf(ctx context.Context, s *mesh.Scan, seg *segment.Segmentation, planes []segment.Plane, g grain, jobs int) ([]*face, error) {
	tris := map[string][][3]int32{}
	for k, t := range s.Triangles {
		if p := seg.TriangleSurface[k]; p >= 0 {
			id := seg.Surfaces[p].ID
			tris[id] = append(tris[id], t)
		}
	}
	out := make([]*face, len(planes))
	err := parallel.Chunks(ctx, jobs, len(planes), 1, func(k, _ int) {
		out[k] = newFace(ctx, s, &planes[k], tris[planes[k].ID], g)
	})
	return out, err
}

// thinned returns the distance between f.pts over that between the face's points.
func (f *face) thinned() float64 {
	return math.Sqrt(float64(len(f.plane.Points)) / float64(max(len(f.pts), 1)))
}

// extent returns the area of the box about the face's points on its sheet.
func (f *face) extent() float64 {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range f.pts {
		x0, x1, y0, y1 = min(x0, p[0]), max(x1, p[0]), min(y0, p[1]), max(y1, p[1])
	}
	return max(x1-x0, 1e-9) * max(y1-y0, 1e-9)
}

// begins returns, of 36 sectors about (x, y), how far out the face begins in those in which
// it does so from lo to hi.
func (f *face) begins(x, y, lo, hi float64) (at []float64) {
	for k := range 36 {
		first := math.Inf(1)
		for _, part := range [3]float64{0.1, 0.5, 0.9} {
			sin, cos := math.Sincos((float64(k) + part) / 36 * 2 * math.Pi)
			for r := lo; r <= hi && r < first; r += f.cover.Cell / 2 {
				if f.cover.Covered(x+r*cos, y+r*sin) {
					first = r
				}
			}
		}
		if first <= hi {
			at = append(at, first)
		}
	}
	return at
}

// around returns the share of the directions from (x, y) in which the face lies between
// the radii lo and hi.
func (f *face) around(x, y, lo, hi float64) float64 {
	return float64(len(f.begins(x, y, lo, hi))) / 36
}

// square reports whether the axis of a cylinder is perpendicular to the face: within
// 5 degrees, or three standard uncertainties of its tilt up to 20 degrees.
func (f *face) square(c *segment.Cylinder) bool {
	limit := 5 * math.Pi / 180
	u := math.Sqrt(max(0, c.Cov[2][2], c.Cov[3][3]))
	limit = max(limit, min(3*u, 20*math.Pi/180))
	return math.Abs(c.Axis.Dot(f.flat.n)) >= math.Cos(limit)
}

// middle returns the mean of the face's points.
func (f *face) middle() r3.Vector {
	var x, y float64
	for _, p := range f.pts {
		x, y = x+p[0], y+p[1]
	}
	n := float64(max(len(f.pts), 1))
	return f.flat.at([2]float64{x / n, y / n})
}

// covered marks the cells that hold a point of the face and, on a mesh, those
// under its triangles. Cells are half a spacing, on a cloud wide enough to hold
// four points each; wider where there would be more than a million of them.
func (f *face) covered(ctx context.Context, s *mesh.Scan, tris [][3]int32, gr grain) hole.Cover {
	cell := gr.spacing / 2
	switch {
	case gr.drawn():
		cell = math.Sqrt(f.extent() / 2e5)
	case !s.IsMesh():
		coarse := hole.NewCover(f.pts, 5*gr.spacing*f.thinned())
		cell = 2 * math.Sqrt(coarse.Area()/float64(max(len(f.plane.Points), 1)))
	}
	m := hole.NewCover(f.pts, cell)
	for k, i := range f.plane.Points {
		if k%lookEvery == 0 && ctx.Err() != nil {
			break
		}
		m.Mark(f.flat.xy(s.Point(int(i))))
	}
	for k, t := range tris {
		if k%lookEvery == 0 && ctx.Err() != nil {
			break
		}
		m.Fill(f.flat.xy(s.Point(int(t[0]))), f.flat.xy(s.Point(int(t[1]))), f.flat.xy(s.Point(int(t[2]))))
	}
	return m
}
