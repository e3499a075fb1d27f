package segment

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// merge joins pieces of one surface: first those that one fit explains
// together, then small ones that a larger neighbour explains as it stands.
func (r *run) merge(ctx context.Context) error {
	pts := r.lists()
	// apart holds the pairs that were not joined, with the points that each had.
	apart := map[[2]int][2]int{}
	for {
		joined := false
		for i := range r.surfs {
			if err := ctx.Err(); err != nil {
				return err
			}
			for j := range r.surfs { // two exact surfaces are joined already
				a, b := &r.surfs[i], &r.surfs[j]
				if i < r.exact && j < r.exact || i == j || b.count == 0 || a.fades || a.count < b.count || a.count == b.count && i > j {
					continue
				}
				pair, size := [2]int{i, j}, [2]int{len(pts[i]), len(pts[j])}
				if apart[pair] == size {
					continue
				}
				if !r.absorbs(a, b, pts[i], pts[j]) && !r.joins(a, b, pts[i], pts[j]) {
					apart[pair] = size
					continue
				}
				for _, p := range pts[j] {
					r.of[p] = int32(i)
				}
				pts[i] = append(pts[i], pts[j]...)
				pts[j] = nil
				a.count, b.count = len(pts[i]), 0
				joined = true
			}
		}
		if !joined {
			return nil
		}
	}
}

func (r *run) some(ps []int32, count int) []int32 {
	step := max(1, len(ps)/count)
	out := make([]int32, 0, count+1)
	for k := 0; k < len(ps); k += step {
		out = append(out, ps[k])
	}
	return out
}

// joins refits a on the points of both pieces, if they are of one kind and
// nearly the same, and takes the answer if it strays from neither more than a
// true surface does: pieces of a step stay apart.
func (r *run) joins(a, b *surf, pa, pb []int32) bool {
	if a.kind != b.kind {
		// A strip of a large cylinder may have passed for a plane.
		return a.kind != planeKind && 4*b.count < a.count && r.refits(a, b, pa, pb)
	}
	if a.kind != sphereKind && math.Abs(a.a.Dot(b.a)) < math.Cos(12*math.Pi/180) {
		return false
	}
	same := a.side * b.side
	if a.kind == planeKind {
		same *= a.a.Dot(b.a)
	}
	if same < 0 && !r.tol.exact {
		return false
	}
	if (a.kind == cylinderKind || a.kind == sphereKind) && math.Abs(a.r-b.r) > 0.15*max(a.r, b.r) {
		return false
	}
	return r.refits(a, b, pa, pb)
}

// refits replaces a's shape by the one fitted to both pieces, if that is close
// to both.
func (r *run) refits(a, b *surf, pa, pb []int32) bool {
	qa, qb := r.points(r.some(pa, mergeSample)), r.points(r.some(pb, mergeSample))
	if r.strangers(&a.shape, qa, qb, max(len(pa), len(pb)), a.formRMS(b)) {
		return false
	}
	next, ok := a.refitTwice(slices.Concat(qa, qb))
	if !ok || !r.faces(&next, a, pa) || !r.faces(&next, a, pb) || !r.close(&next, qa, len(pa), a.formRMS(b)) || !r.close(&next, qb, len(pb), a.formRMS(b)) {
		return false
	}
	a.shape = next
	a.band = max(a.band, b.band)
	a.form = max(a.form, b.form)
	return true
}

func (s *shape) refitTwice(pts []r3.Vector) (next shape, ok bool) {
	if next, ok = s.refit(pts); !ok {
		return next, false
	}
	return next.refit(pts)
}

// strangers reports whether a tenth of the points qa and qb of two pieces, the
// larger of count points, lie three times farther from the best shape through them
// than close allows: a sampling error of chance is some 6 %.
func (r *run) strangers(s *shape, qa, qb []r3.Vector, count int, form float64) bool {
	var few []r3.Vector
	for _, q := range [][]r3.Vector{qa, qb} {
		for k := 0; k < len(q); k += 10 {
			few = append(few, q[k])
		}
	}
	if len(few) < 60 {
		return false
	}
	next, ok := s.refitTwice(few)
	return ok && rmsOf(&next, few) > 3*closeRMS*max(form, r.tol.expected())
}

// faces reports whether the normals of the points agree with those of s on
// a's side.
func (r *run) faces(s *shape, a *surf, ps []int32) bool {
	var in, n int
	for _, p := range r.some(ps, 100) {
		n++
		_, m := s.at(r.s.Offsets[p].R3())
		if r.agrees(a.side * m.Dot(r.s.Normals[p].R3())) {
			in++
		}
	}
	return 10*in >= 8*n
}

// agrees reports whether a normal goes with another, cos being the cosine between them.
// Of an exact cloud normals say little, but that they are not opposite.
func (r *run) agrees(cos float64) bool { return cos > 0.8 || r.tol.exact && cos > -0.9 }

// formRMS is how far form and noise bring the points of two surfaces off them.
func (a *surf) formRMS(b *surf) float64 { return max(a.rms, b.rms) }

// close reports whether pts, a sample of a piece of count points, lie about s
// as those of a true surface do, or one whose form is of root mean square form.
func (r *run) close(s *shape, pts []r3.Vector, count int, form float64) bool {
	e := max(r.tol.expected(), form)
	var sum float64
	for _, q := range pts {
		d, _ := s.at(q)
		sum += d
	}
	mean := math.Abs(sum) / float64(len(pts))
	return rmsOf(s, pts) <= closeRMS*e && mean <= 1.2*e && (s.kind != cylinderKind || mean <= 0.01*s.r)
}

// absorbs reports whether a, as it stands, explains nine in ten of the points
// of a much smaller b within one and a half bands, inside the box that a's own
// points fill: a bump of its noise.
func (r *run) absorbs(a, b *surf, pa, pb []int32) bool {
	if 8*b.count > a.count {
		return false
	}
	lo, hi := r.box(pa)
	var in, n int
	for _, p := range r.some(pb, 200) {
		n++
		q := r.s.Offsets[p].R3()
		d, m := a.at(q)
		if math.Abs(d) <= 1.5*a.band && r.agrees(a.side*m.Dot(r.s.Normals[p].R3())) &&
			q.X >= lo.X && q.Y >= lo.Y && q.Z >= lo.Z && q.X <= hi.X && q.Y <= hi.Y && q.Z <= hi.Z {
			in++
		}
	}
	return 10*in >= 9*n
}

// box returns the corners of the box around a sample of the points, widened
// by two spacings.
func (r *run) box(ps []int32) (lo, hi r3.Vector) {
	inf := math.Inf(1)
	lo, hi = r3.Vector{X: inf, Y: inf, Z: inf}, r3.Vector{X: -inf, Y: -inf, Z: -inf}
	for _, p := range r.some(ps, 2000) {
		q := r.s.Offsets[p].R3()
		lo = r3.Vector{X: min(lo.X, q.X), Y: min(lo.Y, q.Y), Z: min(lo.Z, q.Z)}
		hi = r3.Vector{X: max(hi.X, q.X), Y: max(hi.Y, q.Y), Z: max(hi.Z, q.Z)}
	}
	m := r3.Vector{X: 1, Y: 1, Z: 1}.Mul(2 * r.tex.Spacing)
	return lo.Sub(m), hi.Add(m)
}

// lists returns the points of each surface, ascending.
func (r *run) lists() [][]int32 {
	count := make([]int, len(r.surfs))
	for _, f := range r.of {
		if f >= 0 {
			count[f]++
		}
	}
	out := make([][]int32, len(r.surfs))
	for k, n := range count {
		if n > 0 {
			out[k] = make([]int32, 0, n)
		}
	}
	for i, f := range r.of {
		if f >= 0 {
			out[f] = append(out[f], int32(i))
		}
	}
	return out
}
