package segment_test

import (
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
)

// score is how well a segmentation tells a simulated scan's true faces.
type score struct {
	accuracy float64  // share of the points of true faces that stand in the region of their face
	dice     float64  // mean over the true faces of the best region's Dice coefficient
	worst    float64  // least of them
	faces    int      // true faces large enough to be found
	found    int      // of these with a region of their own
	missing  []string // their roles and counts
	wrong    []string // regions that are no true face: false, split, duplicated
	errors   []paramError
}

// paramError is the error of one parameter in units of its standard
// uncertainty.
type paramError struct {
	kind string // of the surface and the parameter
	what string
	mm   float64
	z    float64
}

// leastItems is how many points or triangles a true face must have, away from
// its edges, to count as one that should be found.
const leastItems = 150

// kindOf is the kind of each region by its place in IDs.
func kindOf(seg *segment.Segmentation, k int) scansim.Shape {
	switch seg.Surfaces[k].ID[0] {
	case 'P':
		return scansim.Plane
	case 'C':
		return scansim.Cylinder
	case 'K':
		return scansim.Cone
	}
	return scansim.Sphere
}

// sameSurface reports whether two true faces lie on one surface, so that one
// region for both is right, as two are.
func sameSurface(a, b scansim.Face) bool {
	if a.Shape != b.Shape {
		return false
	}
	const eps = 1e-6
	line := func() bool {
		return math.Abs(a.Axis.Dot(b.Axis)) > 1-1e-9 && b.Point.Sub(a.Point).Cross(a.Axis).Norm() < eps
	}
	switch a.Shape {
	case scansim.Plane:
		return a.Axis.Dot(b.Axis) > 1-1e-9 && math.Abs(b.Point.Sub(a.Point).Dot(a.Axis)) < eps
	case scansim.Cylinder:
		return line() && math.Abs(a.Radius-b.Radius) < eps && a.Internal == b.Internal
	case scansim.Cone:
		return line() && b.Point.Distance(a.Point) < eps && math.Abs((a.HalfAngle-b.HalfAngle).Radians()) < eps
	case scansim.Sphere:
		return b.Point.Distance(a.Point) < eps && math.Abs(a.Radius-b.Radius) < eps
	}
	return false
}

// scoreOf scores seg against the truth. Items are triangles of a mesh, by
// Facets, or points of a cloud. smooth is the width, mm, that the scan was smoothed
// by.
func scoreOf(s *mesh.Scan, tr *scansim.Truth, seg *segment.Segmentation, smooth float64) score {
	of := seg.PointSurface
	if s.IsMesh() {
		of = seg.TriangleSurface
	}
	type key struct {
		region int32
		face   uint16
	}
	both := map[key]int{}
	size := make([]int, len(seg.Surfaces)) // without edges
	count := map[uint16]int{}
	edge := make([]int, len(seg.Surfaces))
	group := map[uint16]uint16{}
	for i, f := range tr.Faces {
		group[f.ID] = f.ID
		for _, g := range tr.Faces[:i] {
			if sameSurface(f, g) {
				group[f.ID] = group[g.ID]
				break
			}
		}
	}
	for i := range of {
		l := tr.Labels[i]
		if s.SourceIndex != nil {
			l = tr.Labels[s.SourceIndex[i]]
		}
		if l == scansim.LabelEdge {
			if of[i] >= 0 {
				edge[of[i]]++
			}
			continue
		}
		count[l]++
		both[key{of[i], l}]++
		if of[i] >= 0 {
			size[of[i]]++
		}
	}
	// Each region belongs to the face that most of its items are of.
	owner := make([]uint16, len(seg.Surfaces))
	var out score
	taken := map[uint16]int32{}
	for k := range seg.Surfaces {
		best, most := uint16(0), 0
		for _, f := range tr.Faces {
			if n := both[key{int32(k), f.ID}]; n > most {
				best, most = f.ID, n
			}
		}
		owner[k] = best
		f := tr.Face(best)
		if f.Shape == scansim.Cone && kindOf(seg, k) == scansim.Cylinder {
			f = wallOf(s, tr, f)
		}
		all := 0 // on the same surface, in whatever pieces
		for _, g := range tr.Faces {
			if group[g.ID] == group[best] {
				all += both[key{int32(k), g.ID}]
			}
		}
		switch other, again := taken[best]; {
		case 4*size[k] < edge[k] && liesOn(s, tr, seg, int32(k)) != 0:
			owner[k] = 0 // a true face that is all edge
		case best == 0 || 2*all < size[k] || 4*size[k] < edge[k]:
			out.wrong = append(out.wrong, fmt.Sprintf("false %s (%d points, %d at edges)", seg.Surfaces[k].ID, size[k]+edge[k], edge[k]))
			owner[k] = 0
		case f.Shape != kindOf(seg, k):
			out.wrong = append(out.wrong, fmt.Sprintf("%s (%d points) on %s %s", seg.Surfaces[k].ID, size[k], f.Shape, f.Role))
			owner[k] = 0
		case again:
			out.wrong = append(out.wrong, fmt.Sprintf("%s (%d points) doubles %s (%d) on %s", seg.Surfaces[k].ID, size[k], seg.Surfaces[other].ID, size[other], f.Role))
		default:
			taken[best] = int32(k)
			out.errors = append(out.errors, errorsOf(seg, k, f, smooth)...)
		}
	}
	right, total := 0, 0
	var dices []float64
	for _, f := range tr.Faces {
		n := count[f.ID]
		if f.Shape == scansim.Torus || f.Role == freeform {
			continue
		}
		total += n
		best := 0.0
		in, most := "nothing", both[key{-1, f.ID}]
		for k := range seg.Surfaces {
			if n := both[key{int32(k), f.ID}]; n > most {
				in, most = seg.Surfaces[k].ID, n
			}
			if owner[k] != 0 && group[owner[k]] == group[f.ID] {
				right += both[key{int32(k), f.ID}]
			}
			whole := size[k]
			for _, g := range tr.Faces { // other pieces of the same surface do no harm
				if g.ID != f.ID && group[g.ID] == group[f.ID] {
					whole -= both[key{int32(k), g.ID}]
				}
			}
			best = max(best, 2*float64(both[key{int32(k), f.ID}])/float64(whole+n))
		}
		if n < leastItems {
			continue
		}
		out.faces++
		dices = append(dices, best)
		if best > 0.5 {
			out.found++
		} else {
			out.missing = append(out.missing, fmt.Sprintf("%s %s (%d points, r %.2f; %d in %s)", f.Shape, f.Role, n, f.Radius, most, in))
		}
	}
	if total > 0 {
		out.accuracy = float64(right) / float64(total)
	}
	if len(dices) > 0 {
		out.worst = slices.Min(dices)
		for _, d := range dices {
			out.dice += d / float64(len(dices))
		}
	}
	return out
}

// wallOf returns a slender cone as the cylinder that is as wide amid its points where
// these do not show its draft, else as it is.
func wallOf(s *mesh.Scan, tr *scansim.Truth, f scansim.Face) scansim.Face {
	if f.HalfAngle > 5*s1.Degree {
		return f
	}
	var pts []r3.Vector
	var mid float64
	add := func(item int, p int32) {
		if s.SourceIndex != nil {
			item = int(s.SourceIndex[item])
		}
		if tr.Labels[item] == f.ID {
			pts = append(pts, s.Point(int(p)))
			mid += pts[len(pts)-1].Sub(f.Point).Dot(f.Axis)
		}
	}
	for i, c := range s.Triangles {
		add(i, c[0])
	}
	if !s.IsMesh() {
		for i := range s.Len() {
			add(i, int32(i))
		}
	}
	mid /= float64(len(pts))
	c := f
	c.Shape, c.Point, c.Radius = scansim.Cylinder, f.Point.Add(f.Axis.Mul(mid)), mid*math.Tan(f.HalfAngle.Radians())
	if segment.DraftShows(pts, fit.Cylinder{Point: c.Point, Axis: c.Axis, Radius: c.Radius}, tr.Noise) {
		return f
	}
	return c
}

// liesOn returns the true face of region k's kind on which nine in ten of its
// points lie, or 0.
func liesOn(s *mesh.Scan, tr *scansim.Truth, seg *segment.Segmentation, k int32) uint16 {
	for _, f := range tr.Faces {
		if f.Shape != kindOf(seg, int(k)) {
			continue
		}
		in, n := 0, 0
		for p, r := range seg.PointSurface {
			if r == k {
				n++
				if math.Abs(f.Signed(s.Point(p))) < 5*tr.Noise {
					in++
				}
			}
		}
		if 10*in >= 9*n {
			return f.ID
		}
	}
	return 0
}

// errorsOf compares region k with its true face, as a scan shows it that moves
// curved walls toward their axis by s²/2r: that is corrected later, by what rims show
// (package bolt), and is no noise.
func errorsOf(seg *segment.Segmentation, k int, f scansim.Face, s float64) []paramError {
	if f.Radius > 0 {
		f.Radius -= s * s / (2 * f.Radius)
	}
	id := seg.Surfaces[k].ID
	switch g := seg.Surfaces[k].Fit.(type) {
	case fit.PlaneFit:
		d := f.Signed(g.Point)
		return []paramError{{"plane height", id + " height of " + f.Role, d, d / math.Sqrt(g.Cov[0][0])}}
	case fit.CylinderFit:
		d := g.Radius - f.Radius
		off := across(g.Point.Sub(f.Point), f.Axis).Norm()
		return []paramError{
			{"cylinder radius", id + " radius of " + f.Role, d, d / math.Sqrt(g.Cov[4][4])},
			{"cylinder axis", id + " axis of " + f.Role, off, off / math.Sqrt(g.Cov[0][0]+g.Cov[1][1])},
		}
	case fit.ConeFit:
		d := g.HalfAngle.Radians() - f.HalfAngle.Radians()
		return []paramError{{"cone half angle", id + " half angle of " + f.Role, d, d / math.Sqrt(g.Cov[5][5])}}
	case fit.SphereFit:
		d := g.Radius - f.Radius
		return []paramError{{"sphere radius", id + " radius of " + f.Role, d, d / math.Sqrt(g.Cov[3][3])}}
	}
	return nil
}

func across(v, axis r3.Vector) r3.Vector { return v.Sub(axis.Mul(v.Dot(axis))) }
