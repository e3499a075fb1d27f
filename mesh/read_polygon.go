package mesh

// longFan is the number of corners from which on a polygon is cleaned while
// it is split: files can list the same few points over and over, at a byte or
// two each, where a triangle takes twelve.
const longFan = 12

// addFan splits a polygon into triangles that share its first corner. For
// polygons that are convex, or nearly so, that is a right triangulation.
func (r *raw) addFan(c []int32) {
	if len(c) >= longFan {
		seen := make(map[[3]int32]bool)
		for k := 2; k < len(c); k++ {
			t := [3]int32{c[0], c[k-1], c[k]}
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
		return
	}
	for k := 2; k < len(c); k++ {
		r.add([3]int32{c[0], c[k-1], c[k]})
	}
}

// addStrip splits a triangle strip, in which -1 starts anew and every second
// triangle is turned over.
func (r *raw) addStrip(c []int32) {
	start := 0
	for k, v := range c {
		switch {
		case v == -1:
			start = k + 1
		case k-start < 2:
		case (k-start)%2 == 0:
			r.add([3]int32{c[k-2], c[k-1], v})
		default:
			r.add([3]int32{c[k-1], c[k-2], v})
		}
	}
}

// add appends a triangle of the file.
func (r *raw) add(t [3]int32) {
	r.tris = append(r.tris, t)
	if r.triItem != nil {
		r.triItem = append(r.triItem, int32(r.fileTris))
	}
	r.fileTris++
}

// leaveOut counts a triangle of the file that is not kept.
func (r *raw) leaveOut() {
	if r.triItem == nil {
		r.triItem = make([]int32, len(r.tris), cap(r.tris))
		for i := range r.triItem {
			r.triItem[i] = int32(i)
		}
	}
	r.fileTris++
}
