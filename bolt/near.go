package bolt

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// buckets finds the scan's points by cells of a cubic grid: all that the walls
// and rims of holes need, at a fraction of what an index of nearest neighbours
// costs.
type buckets struct {
	lo         r3.Vector // offset frame
	edge       float64
	nx, ny, nz int
	start      []int32 // of each cell in item, and the end
	item       []int32
}

func newBuckets(ctx context.Context, s *mesh.Scan) (*buckets, error) {
	low, high := s.Bounds()
	size := high.Sub(low)
	longest := max(size.X, size.Y, size.Z, 1e-9)
	b := &buckets{lo: low.Sub(s.Origin)}
	cells := float64(min(bucketCells, max(1, s.Len()/4)))
	b.edge = max(longest/250, math.Cbrt(size.X*size.Y*size.Z/cells))
	b.nx, b.ny, b.nz = int(size.X/b.edge)+1, int(size.Y/b.edge)+1, int(size.Z/b.edge)+1
	inv := float32(1 / b.edge)
	lo := mesh.Vec32{float32(b.lo.X), float32(b.lo.Y), float32(b.lo.Z)}
	of := make([]int32, s.Len()) // cell of each point
	b.start = make([]int32, b.nx*b.ny*b.nz+1)
	for i, o := range s.Offsets {
		if i%lookEvery == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		x, y, z := int((o[0]-lo[0])*inv), int((o[1]-lo[1])*inv), int((o[2]-lo[2])*inv)
		of[i] = int32((min(x, b.nx-1)*b.ny+min(y, b.ny-1))*b.nz + min(z, b.nz-1))
		b.start[of[i]+1]++
	}
	for c := range len(b.start) - 1 {
		b.start[c+1] += b.start[c]
	}
	next := slices.Clone(b.start)
	b.item = make([]int32, s.Len())
	for i, c := range of {
		b.item[next[c]] = int32(i)
		next[c]++
	}
	return b, nil
}

// shell is a stretch of a thick-walled tube.
type shell struct {
	at, axis r3.Vector // offset frame; axis a unit vector
	r0, r1   float64   // distance from the axis
	h0, h1   float64   // along the axis, from at
}

// in returns the points of all cells that the shell may meet, by cell: all in
// the shell and some round it.
func (b *buckets) in(s shell) []int32 {
	var out []int32
	half := b.edge * math.Sqrt(3) / 2 * (1 + 1e-4)
	// The box round the shell.
	mid := s.at.Add(s.axis.Mul((s.h0 + s.h1) / 2))
	span := func(v, lo, a float64, n int) (int, int) {
		r := s.r1*math.Sqrt(max(0, 1-a*a)) + (s.h1-s.h0)/2*math.Abs(a) + b.edge/1000
		return max(0, int(math.Floor((v-r-lo)/b.edge))), min(n-1, int(math.Floor((v+r-lo)/b.edge)))
	}
	x0, x1 := span(mid.X, b.lo.X, s.axis.X, b.nx)
	y0, y1 := span(mid.Y, b.lo.Y, s.axis.Y, b.ny)
	z0, z1 := span(mid.Z, b.lo.Z, s.axis.Z, b.nz)
	for x := x0; x <= x1; x++ {
		for y := y0; y <= y1; y++ {
			for z := z0; z <= z1; z++ {
				c := (x*b.ny+y)*b.nz + z
				if b.start[c] == b.start[c+1] {
					continue
				}
				v := r3.Vector{X: b.lo.X + (float64(x)+0.5)*b.edge, Y: b.lo.Y + (float64(y)+0.5)*b.edge, Z: b.lo.Z + (float64(z)+0.5)*b.edge}.Sub(s.at)
				h := v.Dot(s.axis)
				if h < s.h0-half || h > s.h1+half {
					continue
				}
				if r := v.Sub(s.axis.Mul(h)).Norm(); r < s.r0-half || r > s.r1+half {
					continue
				}
				out = append(out, b.item[b.start[c]:b.start[c+1]]...)
			}
		}
	}
	return out
}

// near returns the scan's points in a tube about a place on the face's sheet: from r0 to r1
// from its axis, from height h0 to h1 over the face.
func (f *finder) near(fc *face, x, y, r0, r1, h0, h1 float64) (out []int32) {
	n := fc.flat.n
	at := fc.flat.at([2]float64{x, y}).Sub(f.scan.Origin)
	for _, i := range f.cells.in(shell{at: at, axis: n, r0: r0, r1: r1, h0: h0, h1: h1}) {
		d := f.scan.Offsets[i].R3().Sub(at)
		h := d.Dot(n)
		if r := d.Sub(n.Mul(h)).Norm(); h >= h0 && h <= h1 && r >= r0 && r <= r1 {
			out = append(out, i)
		}
	}
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
