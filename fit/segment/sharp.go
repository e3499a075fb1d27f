package segment

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// sharpBands are the half widths of an exact surface's band that are tried,
// spacings: for clouds to the last digit, and for rounded ones.
var sharpBands = [...]float64{1e-3, 5e-3}

// sharp works on a sparse cloud whose points lie on the surfaces to the last
// digits, as clouds made from drawings do. There the distance from a surface
// alone tells whether a point is on it, however narrow the surface and however
// doubtful the normals, which near edges are of no use in a sparse cloud: a
// thousandth of the spacing is so little that a handful of points within it are
// no chance.
//
// Seeds suggest surfaces through the few points around them (see guesses), these
// grow over connected neighbours as far as points lie on them, and are faces if
// what lies on them ends there (see ends). In the end each point goes to the
// nearest of the surfaces around it. What is left is searched as any cloud is.
type sharp struct {
	r     *run
	eps   float64 // half width of a band, mm
	nbr   []int32 // sharpDegree a point, -1 where there are fewer
	stamp []int32 // marks of points, of the turn now
	now   int32

	rng    *rand.Rand
	widest float64 // largest radius, mm
	dirs   []r3.Vector
	axes   []axis
	pat    patch
	hyp    []shape
}

// sharpen finds the exact surfaces, where the scan is a sparse exact cloud. Else
// it changes nothing.
func (r *run) sharpen(ctx context.Context) error {
	if r.s.IsMesh() || r.s.Len() < sharpFew || r.s.Len() > sharpMost || r.tol.held || !r.facing() {
		return nil
	}
	x := &sharp{r: r, stamp: make([]int32, r.s.Len()), rng: rand.New(rand.NewPCG(r.opt.Seed, 0x54a9)), widest: r.s.Diagonal()}
	if ok, err := x.measure(ctx); !ok || err != nil {
		return err
	}
	// Large surfaces first: they make directions and axes known.
	for _, pass := range [...]struct{ points, seeds int }{{100, sharpLook}, {sharpLeast, math.MaxInt}} {
		if ok, err := x.find(ctx, pass.points, pass.seeds); !ok || err != nil {
			x.forget()
			return err
		}
		x.join()
	}
	x.shed()
	x.settle()
	if float64(x.held()) < sharpHeld*float64(len(r.of)) { // no exact cloud after all
		x.forget()
		return nil
	}
	r.least = sharpLeast
	r.exact = len(r.surfs)
	for p, f := range r.of {
		r.deep[p] = f >= 0
		if f < 0 {
			r.rest = append(r.rest, int32(p))
		}
	}
	// Neighbours across a thin wall look like noise.
	r.tex.Noise = min(r.tex.Noise, x.eps)
	r.tol.floor = r.floor()
	return nil
}

// held is the number of points on surfaces.
func (x *sharp) held() int {
	n := 0
	for _, f := range x.r.of {
		if f >= 0 {
			n++
		}
	}
	return n
}

// forget lets go of all surfaces.
func (x *sharp) forget() {
	x.r.surfs = nil
	for p := range x.r.of {
		x.r.of[p] = -1
	}
}

// facing reports whether most points have a normal, which tells the sides of the
// surfaces.
func (r *run) facing() bool {
	n := 0
	for _, v := range r.s.Normals {
		if v != (mesh.Vec32{}) {
			n++
		}
	}
	return 2*n > len(r.s.Normals)
}

// measure joins each point to its nearest and sets the band. ok is false where the
// points around most places lie on no surface: the cloud is not exact.
func (x *sharp) measure(ctx context.Context) (ok bool, err error) {
	s := x.r.s
	ix := mesh.NewKDTree(s.Offsets, x.r.jobs)
	var buf []mesh.Neighbour
	var gs []guess
	for _, band := range sharpBands {
		x.eps = max(band*x.r.tex.Spacing, 4e-7*s.Diagonal())
		said := 0
		for range sharpProbes {
			p := int32(x.rng.IntN(s.Len()))
			nb := neighbours(ix, s.Offsets[p], p, x.reach(), make([]int32, findDegree), &buf)
			gs = x.guesses(p, nb, gs)
			if slices.ContainsFunc(gs, func(g guess) bool { return x.exact(&g, nb) }) {
				said++
			}
		}
		if ok = float64(said) >= sharpShare*sharpProbes; ok {
			break
		}
	}
	if !ok || ctx.Err() != nil {
		return false, ctx.Err()
	}
	x.nbr = make([]int32, sharpDegree*s.Len())
	return true, parallel.Chunks(ctx, x.r.jobs, s.Len(), 2048, func(lo, hi int) {
		var buf []mesh.Neighbour
		for i := lo; i < hi; i++ {
			row := x.of(int32(i))
			for k := len(neighbours(ix, s.Offsets[i], int32(i), x.reach(), row, &buf)); k < len(row); k++ {
				row[k] = -1
			}
		}
	})
}

// exact reports whether the neighbours nb of a seed lie on the surface guessed, or
// well off it on another, so that it is no chance that it holds those it does: of
// the points within twenty bands, seven more than settle it and more, nearly all are
// within one.
func (x *sharp) exact(g *guess, nb []int32) bool {
	near := 1
	for _, q := range nb {
		if d, _ := g.at(x.at(q)); math.Abs(d) <= sharpNear*x.eps {
			near++
		}
	}
	return g.votes >= g.dof+7 && float64(g.votes) >= sharpMostOf*float64(near)
}

// reach is the distance between neighbours, at most, mm.
func (x *sharp) reach() float64 { return sharpReach * x.r.tex.Spacing }

// neighbours fills row with the nearest of the points of ix to q, which has the
// number i, and returns as many as there are within reach.
func neighbours(ix *mesh.KDTree, q mesh.Vec32, i int32, reach float64, row []int32, buf *[]mesh.Neighbour) []int32 {
	*buf = ix.Nearest(q, len(row)+1, float32(reach), (*buf)[:0])
	k := 0
	for _, b := range *buf {
		if b.I != i && k < len(row) {
			row[k] = b.I
			k++
		}
	}
	return row[:k]
}

func (x *sharp) of(p int32) []int32 {
	return x.nbr[int(p)*sharpDegree : (int(p)+1)*sharpDegree]
}

func (x *sharp) at(p int32) r3.Vector { return x.r.s.Offsets[p].R3() }

// on reports whether point p lies on s, and how far off.
func (x *sharp) on(s *shape, p int32) (float64, bool) {
	d, _ := s.at(x.at(p))
	d = math.Abs(d)
	return d, d <= x.eps
}

// ends reports whether what lies on s stops there, as a face does at its edges:
// few of the free neighbours of its points lie off by up to ten bands, and no
// more than its points by up to a hundred. Around a slice of a smooth surface, or a
// strip along a bent one, there are several times as many as in it.
func (x *sharp) ends(s *shape, ps []int32) bool {
	x.now++
	for _, p := range ps {
		x.stamp[p] = x.now
	}
	near, far := 0, 0
	for _, p := range ps {
		for _, q := range x.of(p) {
			if q < 0 || x.stamp[q] == x.now || x.r.of[q] >= 0 {
				continue
			}
			x.stamp[q] = x.now
			switch d, _ := s.at(x.at(q)); {
			case math.Abs(d) <= x.eps:
			case math.Abs(d) <= 10*x.eps:
				near++
			case math.Abs(d) <= 100*x.eps:
				far++
			}
		}
	}
	return 4*near <= len(ps) && near+far <= len(ps)
}
