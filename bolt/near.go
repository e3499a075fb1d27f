package bolt

import (
	"math"
	"slices"

	"spotface/bolt/hole"
	"spotface/mesh"
)

// cells finds the scan's points by cells of the plane of the two longest sides of its box:
// parts that carry holes are flat. It costs a fraction of an index of nearest neighbours.
type cells struct {
	hole.Grid
	u, v int // the two sides
}

func newCells(s *mesh.Scan) cells {
	lo, hi := s.Bounds()
	size := hi.Sub(lo)
	side := [3]float64{size.X, size.Y, size.Z}
	flat := slices.Index(side[:], min(size.X, size.Y, size.Z))
	c := cells{u: (flat + 1) % 3, v: (flat + 2) % 3}
	n := float64(max(1, min(bucketCells, s.Len()/4)))
	c.Grid = hole.NewGrid(s.Len(), func(i int32) [2]float64 {
		return [2]float64{float64(s.Offsets[i][c.u]), float64(s.Offsets[i][c.v])}
	}, math.Sqrt(side[c.u]*side[c.v]/n))
	return c
}

// near returns the scan's points in a tube about a place on the face's sheet: from r0 to r1
// from its axis, from height h0 to h1 over the face.
func (f *finder) near(fc *face, x, y, r0, r1, h0, h1 float64) (out []int32) {
	n := fc.flat.n
	at := fc.flat.at([2]float64{x, y}).Sub(f.scan.Origin)
	m := at.Add(n.Mul((h0 + h1) / 2))
	mid, axis := [3]float64{m.X, m.Y, m.Z}, [3]float64{n.X, n.Y, n.Z}
	half := func(k int) float64 { // of the box about it
		a := axis[k]
		return r1*math.Sqrt(max(0, 1-a*a)) + (h1-h0)/2*math.Abs(a)
	}
	u, v := f.cells.u, f.cells.v
	f.cells.Box(mid[u], mid[v], half(u), half(v), func(i int32) {
		d := f.scan.Offsets[i].R3().Sub(at)
		h := d.Dot(n)
		if r := d.Sub(n.Mul(h)).Norm(); h >= h0 && h <= h1 && r >= r0 && r <= r1 {
			out = append(out, i)
		}
	})
	return out
}

// nearWall returns some of near, evenly: enough to measure walls by.
func (f *finder) nearWall(fc *face, x, y, r0, r1, h0, h1 float64) []int32 {
	all := f.near(fc, x, y, r0, r1, h0, h1)
	step := 1 + len(all)/wallSample
	n := 0
	for k := 0; k < len(all); k += step {
		all[n] = all[k]
		n++
	}
	return all[:n]
}
