package scansim

import (
	"math"

	"github.com/golang/geo/r3"
)

const (
	blockSize = 1 << blockBits // cells along a block's edge
	blockMask = blockSize - 1
)

// voxels is a lattice of its own orientation over a box of the part's
// frame: sample (i, j, k) lies at frame.Apply(h*(i, j, k)).
type voxels struct {
	h     float64
	frame Pose
	lo    [3]int // block numbers
	hi    [3]int // exclusive
	pass  int    // smoothing passes, which is also the halo in samples
	share float64
}

// newVoxels lays voxels of size h over the box. The field is smoothed by a
// Gaussian of smooth voxels.
func newVoxels(lo, hi r3.Vector, h, smooth float64, turn Pose) *voxels {
	g := &voxels{h: h, frame: turn}
	g.frame.T = lo.Add(hi).Mul(0.5)
	if smooth > 0 {
		// n passes of (a, 1-2a, a) have the variance 2 n a; a <= 1/4.
		g.pass = int(math.Ceil(2*smooth*smooth - 1e-9))
		g.share = smooth * smooth / (2 * float64(g.pass))
	}
	half := hi.Sub(lo).Mul(0.5)
	for k := range 3 {
		r := turn.R
		// Reach of the box along the grid's own axis k, the k-th column of R.
		reach := math.Abs(r[0][k])*half.X + math.Abs(r[1][k])*half.Y + math.Abs(r[2][k])*half.Z
		n := int(math.Ceil((reach + 4*h) / (h * blockSize)))
		g.lo[k], g.hi[k] = -n, n
	}
	return g
}

// block is a cube of blockSize³ cells that the surface passes.
type block struct {
	at    [3]int
	solid *Solid // pruned to what matters here
	verts []r3.Vector
	norms []r3.Vector
	cells uint16   // vertices
	edges []uint16 // sample<<3 | axis<<1 | outward, of each edge that the surface cuts
	first int32    // number of its first vertex
	cell  []uint16 // vertex of each cell, plus one
}

// blocks returns the blocks that the surface of s may pass, in a fixed order.
func (g *voxels) blocks(s *Solid) []*block {
	size := 1
	for k := range 3 {
		for size < g.hi[k]-g.lo[k] {
			size *= 2
		}
	}
	var out []*block
	var descend func(s *Solid, at [3]int, size int)
	descend = func(s *Solid, at [3]int, size int) {
		for k := range 3 {
			if at[k] >= g.hi[k] {
				return
			}
		}
		half := float64(size*blockSize) / 2
		c := g.sample(float64(at[0]*blockSize)+half, float64(at[1]*blockSize)+half, float64(at[2]*blockSize)+half)
		// The samples used reach pass+1 beyond the cells. Smoothing moves the
		// surface by less than the filter's reach.
		reach := math.Sqrt(3) * (half + float64(g.pass) + 1) * g.h
		kept, v := s.prune(c, reach)
		if math.Abs(v) > reach+s.slack {
			return
		}
		if size == 1 {
			out = append(out, &block{at: at, solid: kept})
			return
		}
		size /= 2
		for o := range 8 {
			descend(kept, [3]int{at[0] + o&1*size, at[1] + o>>1&1*size, at[2] + o>>2&1*size}, size)
		}
	}
	descend(s, g.lo, size)
	return out
}

func (g *voxels) sample(i, j, k float64) r3.Vector {
	return g.frame.Apply(r3.Vector{X: i * g.h, Y: j * g.h, Z: k * g.h})
}

// field is one goroutine's room for the samples of a block.
type field struct {
	n       int // samples along an edge, halo included
	v, tmp  []float64
	scratch [][]float64
}

func (g *voxels) newField(depth int) *field {
	f := &field{n: blockSize + 1 + 2*g.pass}
	f.v = make([]float64, f.n*f.n*f.n)
	f.tmp = make([]float64, f.n*f.n*f.n)
	for range depth + 1 {
		f.scratch = append(f.scratch, make([]float64, f.n))
	}
	return f
}

// fill evaluates and smooths the samples of b. After it, sample (i, j, k) of
// the block is v[((k+pass)*n+j+pass)*n+i+pass].
func (f *field) fill(g *voxels, b *block) {
	n, halo := f.n, float64(g.pass)
	ox, oy, oz := float64(b.at[0]*blockSize)-halo, float64(b.at[1]*blockSize)-halo, float64(b.at[2]*blockSize)-halo
	step := g.frame.Turn(r3.Vector{X: g.h})
	for k := range n {
		for j := range n {
			b.solid.fill(g.sample(ox, oy+float64(j), oz+float64(k)), step, f.v[(k*n+j)*n:][:n], f.scratch)
		}
	}
	if b.solid.op == opLeaf && b.solid.leaf.face.Shape == Plane && b.solid.leaf.form == nil {
		return // smoothing leaves a linear field as it is
	}
	for range g.pass {
		f.smooth(g.share)
	}
}

// smooth passes the kernel (a, 1-2a, a) along each axis. The outermost samples
// lose their meaning; the halo is that much wider.
func (f *field) smooth(a float64) {
	n := f.n
	c := 1 - 2*a
	for row := range n * n {
		v, t := f.v[row*n:][:n], f.tmp[row*n:][:n]
		for i := 1; i < n-1; i++ {
			t[i] = c*v[i] + a*(v[i-1]+v[i+1])
		}
		t[0], t[n-1] = v[0], v[n-1]
	}
	f.across(f.tmp, f.v, n, a)
	f.across(f.v, f.tmp, n*n, a)
	f.v, f.tmp = f.tmp, f.v
}

// across passes the kernel along the axis of the given stride, 1 < stride.
func (f *field) across(src, dst []float64, stride int, a float64) {
	n := f.n
	c := 1 - 2*a
	for base := 0; base < n*n*n; base += n {
		d, s := dst[base:][:n], src[base:][:n]
		if at := base / stride % n; at == 0 || at == n-1 {
			copy(d, s)
			continue
		}
		lo, hi := src[base-stride:][:n], src[base+stride:][:n]
		for i := range d {
			d[i] = c*s[i] + a*(lo[i]+hi[i])
		}
	}
}
