package bolt

import (
	"context"
	"math"
	"sync"

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

// newFace lays the plane's points on its sheet; own and tris as for cover. Once
// ctx is cancelled the face is worth nothing.
func newFace(ctx context.Context, s *mesh.Scan, p *segment.Plane, own []int32, tris [][3]int32, g grain) *face {
	f := &face{id: p.ID, plane: p, flat: newFlat(p.Point, p.Normal)}
	step := 1
	if !s.IsMesh() {
		step += len(p.Points) / facePoints
	}
	n := (len(p.Points) + step - 1) / step
	f.pts = make([][2]float64, n)
	f.height = make([]float64, n)
	for k := range n {
		q := s.Point(int(p.Points[k*step]))
		f.pts[k], f.height[k] = f.flat.xy(q), f.flat.height(q)
	}
	f.cover = f.covered(ctx, s, own, tris, g)
	f.area = f.cover.Area()
	return f
}

// facesOf makes faces of the planes, side by side.
func facesOf(ctx context.Context, s *mesh.Scan, planes []segment.Plane, g grain, jobs int) ([]*face, error) {
	out := make([]*face, len(planes))
	tris := trianglesOf(s, planes, g)
	var scratch sync.Pool // of numbers of a mesh's points, all 0
	err := parallel.Chunks(ctx, jobs, len(planes), 1, func(k, _ int) {
		own, _ := scratch.Get().(*[]int32)
		if own == nil {
			own = new([]int32)
			if s.IsMesh() {
				*own = make([]int32, s.Len())
			}
		}
		out[k] = newFace(ctx, s, &planes[k], *own, tris(k), g)
		scratch.Put(own)
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

// trianglesOf sorts a scanned mesh's triangles by the plane that all three
// corners belong to. A drawing's points lie on edges and belong to several
// planes at once: all its triangles may lie in any.
func trianglesOf(s *mesh.Scan, planes []segment.Plane, g grain) func(plane int) [][3]int32 {
	if !s.IsMesh() || g.drawn() {
		return func(int) [][3]int32 { return s.Triangles }
	}
	of := make([]int32, s.Len()) // 1 + plane
	for k := range planes {
		for _, i := range planes[k].Points {
			of[i] = int32(k + 1)
		}
	}
	by := make([][][3]int32, len(planes)+1)
	for _, t := range s.Triangles {
		if p := of[t[0]]; p > 0 && p == of[t[1]] && p == of[t[2]] {
			by[p] = append(by[p], t)
		}
	}
	return func(plane int) [][3]int32 { return by[plane+1] }
}

// covered marks the cells that hold a point of the face and, on a mesh, those
// under its triangles. Cells are half a spacing, on a cloud wide enough to hold
// four points each; wider where there would be more than a million of them. own
// is room for 1 + the place in f.pts of each of the scan's points, all 0 before
// and after; tris are the triangles that may lie in the face.
func (f *face) covered(ctx context.Context, s *mesh.Scan, own []int32, tris [][3]int32, gr grain) hole.Cover {
	cell := gr.spacing / 2
	switch {
	case gr.drawn():
		cell = math.Sqrt(f.extent() / 2e5)
	case !s.IsMesh():
		coarse := hole.NewCover(f.pts, 5*gr.spacing*f.thinned())
		cell = 2 * math.Sqrt(coarse.Area()/float64(max(len(f.plane.Points), 1)))
	}
	m := hole.NewCover(f.pts, cell)
	if !s.IsMesh() {
		for lo := 0; lo < len(f.plane.Points) && ctx.Err() == nil; lo += lookEvery {
			for _, i := range f.plane.Points[lo:min(lo+lookEvery, len(f.plane.Points))] {
				m.Mark(f.flat.xy(s.Point(int(i))))
			}
		}
		return m
	}
	for k, i := range f.plane.Points {
		own[i] = int32(k + 1)
	}
	for k, t := range tris {
		if k%lookEvery == 0 && ctx.Err() != nil {
			break
		}
		a, b, c := own[t[0]], own[t[1]], own[t[2]]
		if a > 0 && b > 0 && c > 0 {
			m.Fill(f.pts[a-1], f.pts[b-1], f.pts[c-1])
		}
	}
	for _, i := range f.plane.Points {
		own[i] = 0
	}
	return m
}
