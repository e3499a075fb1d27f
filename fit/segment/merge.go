package segment

import "math"

// merge joins surfaces that are pieces of one: planes in one plane, cylinders
// of one axis and radius, within what their points' noise lets differ. The
// larger piece keeps its shape until the final fit.
func (r *run) merge() {
	pts := r.lists()
	for i := range r.surfs {
		for j := range r.surfs {
			a, b := &r.surfs[i], &r.surfs[j]
			if i == j || a.count == 0 || b.count == 0 || a.count < b.count || a.count == b.count && i > j {
				continue
			}
			if a.kind != b.kind || !r.explains(a, b, pts[j]) {
				continue
			}
			for _, p := range pts[j] {
				r.of[p] = int32(i)
			}
			a.count += b.count
			b.count = 0
			pts[i] = append(pts[i], pts[j]...)
			pts[j] = nil
		}
	}
}

// explains reports whether a, as it stands, holds nine in ten of b's points
// ps, with no step between: their mean distance is well inside the band.
func (r *run) explains(a, b *surf, ps []int32) bool {
	if a.kind != sphereKind && math.Abs(a.a.Dot(b.a)) < 0.9 {
		return false
	}
	step := max(1, len(ps)/500)
	var in, n int
	var sum float64
	for k := 0; k < len(ps); k += step {
		n++
		d, m := a.at(r.s.Offsets[ps[k]].R3())
		sum += d
		if math.Abs(d) <= a.band && (r.twoSd || a.side*m.Dot(r.s.Normals[ps[k]].R3()) > 0.7) {
			in++
		}
	}
	return 10*in >= 9*n && math.Abs(sum/float64(n)) < 0.5*a.band
}

// lists returns the points of each surface, ascending.
func (r *run) lists() [][]int32 {
	out := make([][]int32, len(r.surfs))
	for i, f := range r.of {
		if f >= 0 {
			out[f] = append(out[f], int32(i))
		}
	}
	return out
}
