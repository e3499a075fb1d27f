package segment

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit"
	"spotface/mesh/geom"
)

// A tapped hole's wall is rougher than form: its flanks break every link. But it is one
// connected piece of what is left between the faces, its axis is a face's normal, and
// averaged over a third of its length, which is longer than the pitch, it is a cylinder.

// roughWalls looks for such walls among the free nodes, perpendicular to the planes found.
func (s *searcher) roughWalls(ctx context.Context) {
	var dirs []r3.Vector
	for _, f := range s.all() {
		if f.kind == planeKind && f.count >= formLeast {
			dirs = withDirection(dirs, f.a, 1-oneDirection)
		}
	}
	for _, ns := range s.pieces() {
		sups := s.grown(ctx, len(dirs), func(w *worker, k int) (support, bool) {
			return s.roughWall(w, ns, dirs[k])
		})
		if len(sups) > 0 {
			s.keep(&sups[0])
		}
	}
}

// pieces returns the connected sets of free nodes that are large enough to have form.
func (s *searcher) pieces() (out [][]int32) {
	seen := make([]bool, s.n.len())
	for i := range s.n.len() {
		if s.label[i] >= 0 || seen[i] {
			continue
		}
		piece := s.ws[0].flood([]int32{int32(i)}, s.n.len(), nil, func(_, j int32, _ int) bool {
			fresh := !seen[j] // links lead one way
			seen[j] = true
			return fresh
		})
		if len(piece) >= formLeast {
			out = append(out, piece)
		}
	}
	return out
}

// withoutEnds returns ns less the chamfers at either end of the wall sup: rings, as high
// as nodes are apart, that lie off it on the average. A thread's rings do not, since each
// has all of its profile.
func (s *searcher) withoutEnds(sup *support, ns []int32) []int32 {
	lo, hi := along(s.positions(ns), sup.p, sup.a, astrayCut)
	rows := max(1, int((hi-lo)/s.pitch))
	sum, count := make([]float64, rows), make([]float64, rows)
	rowOf := func(i int32) int {
		h := s.n.at(i).Sub(sup.p).Dot(sup.a) - lo
		return max(0, min(rows-1, int(h/(hi-lo)*float64(rows))))
	}
	for _, i := range ns {
		d, _ := sup.at(s.n.at(i))
		sum[rowOf(i)] += d
		count[rowOf(i)]++
	}
	off := func(row int) bool { return math.Abs(sum[row]) >= roughOff*sup.rms*count[row] }
	from, to := 0, rows-1
	for from < to && off(from) {
		from++
	}
	for to > from && off(to) {
		to--
	}
	return slices.DeleteFunc(slices.Clone(ns), func(i int32) bool {
		return rowOf(i) < from || rowOf(i) > to
	})
}

// roughWall fits a cylinder along a to the piece ns without the chamfers at its ends. It
// is a wall if it goes round its axis, if its normals on the average face the axis, and
// if its roughness, more than noise and form, averages out.
func (s *searcher) roughWall(w *worker, ns []int32, a r3.Vector) (sup support, ok bool) {
	for range roughTurns {
		if len(ns) < formLeast {
			return sup, false
		}
		g, err := fit.CylinderTo(w.sample(ns, roughSample), fit.Options{Direction: a})
		sup = support{surf: surf{shape: shapeOf(g), rms: g.Residuals.RMS, rough: true}}
		sup.score = float64(len(ns))
		if !usable(err) || sup.rms > roughStart*sup.r {
			return sup, false
		}
		ns = s.withoutEnds(&sup, ns)
	}
	if sup.rms < textureGain*s.tol.expected() || sup.rms > mostRough*sup.r {
		return sup, false
	}
	pts := s.positions(ns)
	lo, hi := along(pts, sup.p, sup.a, astrayCut)
	arc := arcOf(pts, sup.p, sup.a)
	sup.nodes, sup.side = ns, w.sideOf(&sup.shape, ns)
	if arc < wholeTurn || hi-lo < roughLong*s.pitch || !s.dense(&sup, arc*sup.r*(hi-lo)) {
		return sup, false
	}
	e1, e2 := geom.Basis(sup.a)
	var sum, count [roughCells * roughCells * 2]float64
	var facing, square float64
	off := make([]float64, len(ns))
	for k, i := range ns {
		d, m := sup.at(pts[k])
		facing += sup.side * m.Dot(s.n.nrm[i].R3())
		square += d * d
		off[k] = math.Abs(d)
		row := min(roughCells-1, max(0, int(roughCells*(pts[k].Sub(sup.p).Dot(sup.a)-lo)/(hi-lo))))
		turn := math.Atan2(m.Dot(e2), m.Dot(e1))/(2*math.Pi) + 0.5
		col := min(2*roughCells-1, int(turn*2*roughCells))
		sum[row*2*roughCells+col] += d
		count[row*2*roughCells+col]++
	}
	var left float64
	for c := range sum {
		left += sum[c] * sum[c] / max(1, count[c])
	}
	sup.band = max(s.tol.floor, geom.Nth(off, len(off)*(roughAstray-1)/roughAstray))
	n := float64(len(ns))
	return sup, facing > roughFacing*n && left < roughLeft*roughLeft*square
}
