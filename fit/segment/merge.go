package segment

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// merge joins pieces of one surface: first those that one fit explains
// together, then small ones that a larger neighbour explains as it stands. It
// returns the points of each surface, ascending.
func (r *run) merge(ctx context.Context) ([][]int32, error) {
	pts := r.lists()
	// apart holds the pairs that were not joined, with the points that each had.
	apart := map[[2]int][2]int{}
	for again, any := true, false; again; {
		again = false
		for i := range r.surfs {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			for j := range r.surfs { // two exact surfaces are joined already
				a, b := &r.surfs[i], &r.surfs[j]
				if i < r.exact && j < r.exact || i == j || b.count == 0 || a.fades ||
					a.count < b.count || a.count == b.count && i > j {
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
				again, any = true, true
			}
		}
		if !again && any {
			pts = r.lists()
		}
	}
	return pts, nil
}

// joins replaces a's shape by the one fitted to both pieces, if they are of one kind and
// nearly the same, and it is off neither by more than a true surface is: pieces of a step
// stay apart.
func (r *run) joins(a, b *surf, pa, pb []int32) bool {
	switch cos := a.a.Dot(b.a); {
	case a.kind != b.kind:
		return false
	case !r.tol.exact && (a.kind == planeKind && a.side*b.side*cos < 0 ||
		a.kind != planeKind && a.side != b.side):
		return false
	case a.kind != sphereKind && math.Abs(cos) < math.Cos(joinTilt):
		return false
	case (a.kind == cylinderKind || a.kind == sphereKind) &&
		math.Abs(a.r-b.r) > joinRadius*max(a.r, b.r):
		return false
	}
	qa, qb := r.points(r.some(pa, mergeSample)), r.points(r.some(pb, mergeSample))
	form := max(a.rms, b.rms) // how far form and noise bring their points off
	next, ok := a.refitTwice(slices.Concat(qa, qb))
	if !ok || !r.faces(&next, a, pa) || !r.faces(&next, a, pb) ||
		!r.close(&next, qa, form) || !r.close(&next, qb, form) {
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

// faces reports whether the normals of the points agree with those of s on
// a's side.
func (r *run) faces(s *shape, a *surf, ps []int32) bool {
	some := r.some(ps, facesSample)
	in := 0
	for _, p := range some {
		_, m := s.at(r.s.Offsets[p].R3())
		if r.agrees(a.side * m.Dot(r.s.Normals[p].R3())) {
			in++
		}
	}
	return float64(in) >= facesShare*float64(len(some))
}

// agrees reports whether a normal goes with another, cos being the cosine between them.
// Of an exact cloud normals say little, but that they are not opposite.
func (r *run) agrees(cos float64) bool { return cos > likeNormals || r.tol.exact && cos > opposite }

// close reports whether pts, a sample of a piece, lie about s as those of a true
// surface do, or one whose form is of root mean square form.
func (r *run) close(s *shape, pts []r3.Vector, form float64) bool {
	e := max(r.tol.expected(), form)
	return rmsOf(s, pts) <= closeRMS*e
}

// absorbs reports whether a, as it stands, explains most of the points of a smaller b
// within one and a half bands: a bump of its noise, or a strip of it along a rounded edge.
func (r *run) absorbs(a, b *surf, pa, pb []int32) bool {
	if absorbSmaller*b.count > a.count {
		return false
	}
	some := r.some(pb, absorbSample)
	in := 0
	for _, p := range some {
		q := r.s.Offsets[p].R3()
		d, m := a.at(q)
		if math.Abs(d) <= besideBands*a.band && r.agrees(a.side*m.Dot(r.s.Normals[p].R3())) {
			in++
		}
	}
	return float64(in) >= absorbShare*float64(len(some))
}

// some returns about count of ps, up to twice as many, evenly over the list.
func (r *run) some(ps []int32, count int) []int32 {
	step := max(1, len(ps)/count)
	out := make([]int32, 0, count+1)
	for k := 0; k < len(ps); k += step {
		out = append(out, ps[k])
	}
	return out
}

// lists returns the points of each surface, ascending.
func (r *run) lists() [][]int32 {
	out := make([][]int32, len(r.surfs))
	for k := range out {
		out[k] = make([]int32, 0, r.surfs[k].count)
	}
	for i, f := range r.of {
		if f >= 0 {
			out[f] = append(out[f], int32(i))
		}
	}
	return out
}
