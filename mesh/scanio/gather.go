package scanio

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// gathered is what is read: points in file order and in the file's unit,
// repeated ones included, and triangles.
type gathered struct {
	single  []mesh.Vec32 // points of files in single precision
	double  []r3.Vector  // of others
	normals []mesh.Vec32 // as in the file, any length; of all points or none
	tris    [][3]int32   // corners as point numbers, counted from 0; others have no such point
	corners int          // points of the file where those of triangles are merged already
	few     int          // faces of fewer than three corners
}

// part is what a block holds, and what its parser needs.
type part struct {
	gathered
	list  []int32 // corners of a face
	obj   objPart
	table []int32 // of the corners of STL facets
	open  bool    // no endsolid at the end
}

// reset empties a part and keeps its memory.
func (p *part) reset() {
	p.single, p.double, p.normals, p.tris = p.single[:0], p.double[:0], p.normals[:0], p.tris[:0]
	p.few = 0
	p.obj.reset()
}

// reserve makes room for points, normals too if asked for, and triangles.
func (p *part) reserve(points int, normals bool, tris int) {
	p.double = grown(p.double, points)
	if normals {
		p.normals = grown(p.normals, points)
	}
	p.tris = grown(p.tris, tris)
}

// len returns the number of points.
func (g *gathered) len() int { return len(g.single) + len(g.double) }

// at returns point i.
func (g *gathered) at(i int) r3.Vector {
	if g.double != nil {
		return g.double[i]
	}
	return g.single[i].R3()
}

// addFan splits a polygon into triangles that share its first corner. For
// polygons that are convex, or nearly so, that is a right triangulation.
func (g *gathered) addFan(corners []int32) {
	if len(corners) < 3 {
		g.few++
		return
	}
	g.tris = grown(g.tris, len(corners)-2)
	for k := 2; k < len(corners); k++ {
		g.tris = append(g.tris, [3]int32{corners[0], corners[k-1], corners[k]})
	}
}

// noPolygon says that a face has more than maxCorners corners.
func noPolygon(n int64) string {
	return "a face of " + quantity(n, "corner") + " or more is no polygon"
}

// addStrip splits a triangle strip, in which -1 starts anew and every second
// triangle is turned over.
func (g *gathered) addStrip(corners []int32) {
	run := 0
	for k, c := range corners {
		switch {
		case c == -1:
			run = -1
		case run < 2:
		case run%2 == 0:
			g.tris = append(g.tris, [3]int32{corners[k-2], corners[k-1], c})
		default:
			g.tris = append(g.tris, [3]int32{corners[k-1], corners[k-2], c})
		}
		run++
	}
}

// add appends a part that lies done of the way through the file. Its triangles
// name points of the file, or its own where local is set.
func (in *input) add(p *part, done float64, local bool) error {
	g := &in.got
	base := int32(g.len())
	g.single = append(room(g.single, len(p.single), done), p.single...)
	g.double = append(room(g.double, len(p.double), done), p.double...)
	g.normals = append(room(g.normals, len(p.normals), done), p.normals...)
	if g.len() > math.MaxInt32-1 || len(g.tris)+len(p.tris) > math.MaxInt32-1 {
		return in.fail("more points or triangles than can be numbered here", "thin the scan out")
	}
	from := len(g.tris)
	g.tris = append(room(g.tris, len(p.tris), done), p.tris...)
	if local {
		for i := from; i < len(g.tris); i++ {
			t := &g.tris[i]
			t[0], t[1], t[2] = t[0]+base, t[1]+base, t[2]+base
		}
	}
	g.few += p.few
	return in.checkSurface()
}

// checkSurface refuses files whose triangles are too many for their points.
func (in *input) checkSurface() error {
	tris, points := len(in.got.tris), in.got.len()
	if tris > manyTriangles && tris > perPoint*points {
		return in.fail(quantity(tris, "triangle")+" on "+quantity(points, "point")+" are no surface",
			"export the scan again")
	}
	return nil
}

// grown makes room for n more items in s, and doubles it at least. (slices.Grow
// allocates twice under the race detector, and more often.)
func grown[T any](s []T, n int) []T {
	if len(s)+n <= cap(s) {
		return s
	}
	return append(make([]T, 0, max(len(s)+n, 2*len(s))), s...)
}

// room makes room for n more items in s: at once for as many as there will be
// if the file goes on like this, a part done of which was read.
func room[T any](s []T, n int, done float64) []T {
	need := len(s) + n
	if need <= cap(s) {
		return s
	}
	return append(make([]T, 0, max(need, int(1.05*float64(need)/done))), s...)
}
