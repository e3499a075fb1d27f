package mesh

import "slices"

// longFan is the number of corners from which on a polygon is cleaned while
// it is split: files can list the same few points over and over, at a byte or
// two each, where a triangle takes twelve.
const longFan = 12

// addFan splits a polygon of n corners into triangles that share its first
// corner. For polygons that are convex, or nearly so, that is a right
// triangulation.
func (r *raw) addFan(n int, corner func(k int) int32) {
	if n < 3 {
		return
	}
	a, b := corner(0), corner(1)
	if n < longFan {
		for k := 2; k < n; k++ {
			c := corner(k)
			r.add([3]int32{a, b, c})
			b = c
		}
		return
	}
	seen := make(map[[3]int32]bool)
	for k := 2; k < n; k++ {
		c := corner(k)
		t := [3]int32{a, b, c}
		b = c
		sorted := [3]int32{min(t[0], t[1], t[2]), int32(upper(t) >> 32), int32(upper(t))}
		switch {
		case t[0] == t[1] || t[1] == t[2] || t[2] == t[0]:
			r.removed.ZeroArea++
			r.leaveOut()
		case seen[sorted]:
			r.removed.Duplicate++
			r.leaveOut()
		default:
			seen[sorted] = true
			r.add(t)
		}
	}
}

// addStrip splits a triangle strip of n corners, in which -1 starts anew and
// every second triangle is turned over.
func (r *raw) addStrip(n int, corner func(k int) int32) {
	var a, b int32
	run := 0
	for k := range n {
		c := corner(k)
		switch {
		case c == -1:
			run = 0
			continue
		case run < 2:
		case run%2 == 0:
			r.add([3]int32{a, b, c})
		default:
			r.add([3]int32{b, a, c})
		}
		a, b = b, c
		run++
	}
}

// add appends a triangle of the file.
func (r *raw) add(t [3]int32) {
	if len(r.tris) == cap(r.tris) {
		r.tris = slices.Grow(r.tris, max(64, len(r.tris)))
	}
	r.tris = append(r.tris, t)
	if r.triItem != nil {
		r.triItem = append(r.triItem, int32(r.fileTris))
	}
	r.fileTris++
}

// leaveOut counts a triangle of the file that is not kept.
func (r *raw) leaveOut() {
	if r.triItem == nil {
		r.triItem = make([]int32, len(r.tris))
		for i := range r.triItem {
			r.triItem[i] = int32(i)
		}
	}
	r.fileTris++
}
