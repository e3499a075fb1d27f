package segment

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/geom"
)

// junkOf marks the points of a mesh that lie on small closed pieces afloat: dust and
// reflections that the scanner closed into a blob. Small pieces with an open edge
// may be a face whose walls were not seen; they stay, unless they are blobs. It
// returns nil for a cloud, and where no piece is small.
func junkOf(s *mesh.Scan, spacing float64) []bool {
	if !s.IsMesh() {
		return nil
	}
	label, sizes := mesh.ConnectedComponents(s)
	small := make([]bool, len(sizes))
	any := false
	for l := 1; l < len(sizes); l++ {
		small[l] = float64(sizes[l]) < junkShare*float64(len(s.Triangles))
		any = any || small[l]
	}
	if !any {
		return nil
	}
	edges := map[[2]int32]int{} // of small pieces, both ways as one: triangles on it
	for _, c := range s.Triangles {
		if small[label[c[0]]] {
			for k := range 3 {
				a, b := c[k], c[(k+1)%3]
				edges[[2]int32{min(a, b), max(a, b)}]++
			}
		}
	}
	open := make([]bool, len(sizes))
	for e, n := range edges {
		if n == 1 {
			open[label[e[0]]] = true
		}
	}
	points := make([][]int32, len(sizes)) // of the open ones
	for i, l := range label {
		if open[l] {
			points[l] = append(points[l], int32(i))
		}
	}
	for l := range small {
		small[l] = small[l] && (!open[l] || isBlob(s, points[l], spacing))
	}
	out := make([]bool, len(label))
	for i, l := range label {
		out[i] = small[l]
	}
	return out
}

// isBlob says of a piece of a mesh whether it bulges: most of its normals point
// away from its middle, in all directions of space. What a scanner saw of a
// speck from above does, and is open below; a face, and a hole's wall, do not.
// Only a piece of less than some fifteen spacings across counts.
func isBlob(s *mesh.Scan, points []int32, spacing float64) bool {
	pts := s.Points(points)
	lo, hi := geom.Bounds(pts)
	if hi.Sub(lo).Norm() > blobSpacings*math.Sqrt(3)*spacing {
		return false
	}
	var mid r3.Vector
	for _, q := range pts {
		mid = mid.Add(q.Mul(1 / float64(len(pts))))
	}
	var scatter geom.Sym3 // of the normals
	out := 0
	for k, i := range points {
		n := s.Normals[i].R3()
		scatter.AddOuter(n, 1/float64(len(points)))
		if n.Dot(pts[k].Sub(mid)) > 0 {
			out++
		}
	}
	// Normals over a half or the whole of a ball have the variance 1/3 in all
	// directions, those of a wall none along its axis.
	_, least, _ := scatter.Smallest()
	return float64(out) >= blobShare*float64(len(points)) && least > blobVariance
}
