package scansim

import (
	"cmp"
	"context"
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// FusedOptions of Fused. The zero value gives a noise-free, complete mesh of
// some 300 voxels across, in a random pose.
type FusedOptions struct {
	Seed uint64
	// Voxel is the edge of a voxel, mm. Zero means a 400th of the part's
	// diagonal.
	Voxel float64
	// Smooth is the standard deviation of the field's smoothing, in voxels,
	// which rounds edges and moves a wall of radius r by about
	// (Smooth*Voxel)²/(2r) toward its axis. Zero means 1; negative means none;
	// at most 2.
	Smooth float64
	// Noise is the standard deviation of the surface along its normal, mm.
	Noise float64
	// NoiseLength holds the noise's three correlation lengths L, mm, each with
	// the correlation exp(-d²/(2L²)). Zero entries mean 1.6 voxels, 8 voxels
	// and a ninth of the part's largest extent.
	NoiseLength [3]float64
	// NoiseShare holds their shares of the variance. All zero means 0.6, 0.3
	// and 0.1.
	NoiseShare [3]float64
	// ShowHidden keeps what the scanner cannot see.
	ShowHidden bool
	// Missing is the share of the visible triangles that is lost in patches.
	Missing float64
	// Drop, if set, says which points of the part, in its own frame, the scan
	// lacks. It is called from several goroutines.
	Drop func(p r3.Vector) bool
	// Turntable is the diameter of a flat disc that the part lies on, mm; zero
	// means none. It is one more face, of role "turntable".
	Turntable float64
	// Junk is the number of small islands floating near the part.
	Junk int
	// EdgeMargin is how far from an edge a label begins, mm. Zero means 3
	// voxels; from 5.2 voxels on (3 sqrt 3), smoothing by 1 voxel leaves no
	// trace of the edge at all.
	EdgeMargin float64
	// Aligned keeps the voxel grid along the part's axes instead of a random
	// turn; InPlace keeps the scan in the part's frame.
	Aligned, InPlace bool
	// Jobs is the number of goroutines; zero means GOMAXPROCS. It does not
	// change the result.
	Jobs int
	// Progress, if set, is called between the stages.
	Progress func(done, total int)
}

// Fused simulates a fused triangle mesh of p. See the package for the method.
func Fused(ctx context.Context, p *Part, opt FusedOptions) (*mesh.Scan, Truth, error) {
	f, err := newFuse(p, opt)
	if err != nil {
		return nil, Truth{}, err
	}
	stages := []func(context.Context) error{f.extract, f.see, f.label, f.lose, f.shake}
	for i, stage := range stages {
		if opt.Progress != nil {
			opt.Progress(i, len(stages))
		}
		if err := stage(ctx); err != nil {
			return nil, Truth{}, err
		}
	}
	truth := newTruth(p, f.faces, f.pose)
	truth.Noise, truth.Labels = opt.Noise, make([]uint16, len(f.tris))
	for i, t := range f.tris {
		if l := f.labels[t[0]]; l == f.labels[t[1]] && l == f.labels[t[2]] {
			truth.Labels[i] = l
		}
	}
	s := newScan(f.verts, f.pose)
	s.Triangles, s.Source.Triangles = f.tris, len(f.tris)
	if opt.Progress != nil {
		opt.Progress(len(stages), len(stages))
	}
	return s, truth, nil
}

// fuse is one run of Fused.
type fuse struct {
	scene
	surface
	opt  FusedOptions
	grid *voxels
}

func newFuse(p *Part, opt FusedOptions) (*fuse, error) {
	sc, err := newScene(p, opt.Seed, opt.InPlace, opt.Turntable)
	if err != nil {
		return nil, err
	}
	h := cmp.Or(opt.Voxel, sc.size()/400)
	smooth := cmp.Or(opt.Smooth, 1)
	switch {
	case !(h > 0) || math.IsInf(h, 0):
		return nil, p.fault("a voxel of %v mm: it must be positive", h)
	case !(smooth <= 2):
		return nil, p.fault("smoothing over %v voxels: at most 2", smooth)
	case !(opt.Noise >= 0) || math.IsInf(opt.Noise, 0):
		return nil, p.fault("noise of %v mm: it must not be negative", opt.Noise)
	case !(opt.Missing >= 0 && opt.Missing < 1):
		return nil, p.fault("%v of the surface missing: use a share from 0 to below 1", opt.Missing)
	case !(sc.size()/h < 5000):
		return nil, p.fault("a voxel of %v mm is too small for a part of %.0f mm", h, sc.size())
	}
	f := &fuse{scene: *sc, opt: opt}
	f.junk(opt.Seed, opt.Junk, h)
	turn := Identity()
	if !opt.Aligned {
		turn = RandomRotation(rand.New(rand.NewPCG(opt.Seed, streamGrid)))
	}
	f.grid = newVoxels(f.lo, f.hi, h, smooth, turn)
	return f, nil
}

// each calls work for every vertex.
func (f *fuse) each(ctx context.Context, work func(i int)) error {
	return parallel.Chunks(ctx, f.opt.Jobs, len(f.verts), chunk, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			work(i)
		}
	})
}

// extract makes the surface.
func (f *fuse) extract(ctx context.Context) (err error) {
	f.surface, err = f.grid.extract(ctx, f.solid, f.opt.Jobs)
	return err
}

// see drops what laser and camera do not see.
func (f *fuse) see(ctx context.Context) error {
	var e *eyes
	if !f.opt.ShowHidden {
		e = newEyes(f.shade, f.lo, f.hi, f.grid.h)
	}
	keep := make([]bool, len(f.verts))
	err := f.each(ctx, func(i int) {
		dropped := f.opt.Drop != nil && f.opt.Drop(f.verts[i])
		keep[i] = !dropped && (e == nil || e.see(f.verts[i], f.norms[i]))
	})
	if err != nil {
		return err
	}
	if f.shrink(keep); len(f.tris) == 0 {
		return f.part.fault("nothing of it is seen: use a smaller voxel")
	}
	return nil
}

// label finds the face of each vertex.
func (f *fuse) label(ctx context.Context) error {
	margin := cmp.Or(f.opt.EdgeMargin, 3*f.grid.h)
	a := newAtlas(f.solid, f.lo, f.hi, 1.5*margin)
	return f.each(ctx, func(i int) { f.labels[i] = faceAt(a.near(f.verts[i]), f.verts[i], margin) })
}

// shake moves the vertices along their normals by noise.
func (f *fuse) shake(ctx context.Context) error {
	if f.opt.Noise == 0 {
		return nil
	}
	length, share := f.opt.NoiseLength, f.opt.NoiseShare
	size := f.part.Hi.Sub(f.part.Lo)
	for k, l := range [3]float64{1.6 * f.grid.h, 8 * f.grid.h, max(size.X, size.Y, size.Z) / 9} {
		length[k] = cmp.Or(length[k], l)
	}
	if share == [3]float64{} {
		share = [3]float64{0.6, 0.3, 0.1}
	}
	n := newSurfaceNoise(mix(f.opt.Seed+streamNoise), f.opt.Noise, length, share)
	return f.each(ctx, func(i int) { f.verts[i] = f.verts[i].Add(f.norms[i].Mul(n(f.verts[i]))) })
}

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
	for k, axis := range [3]r3.Vector{turn.X, turn.Y, turn.Z} {
		reach := axis.Abs().Dot(half) // of the box along the grid's own axis
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
	middle := func(c r3.Vector) r3.Vector {
		return g.sample(blockSize*c.X, blockSize*c.Y, blockSize*c.Z)
	}
	// The samples used reach pass+1 beyond the cells. Smoothing moves the surface by less
	// than the filter's reach.
	reach := func(half float64) float64 {
		return math.Sqrt(3) * (half*blockSize + float64(g.pass) + 1) * g.h
	}
	s.cubes(g.lo, g.hi, size, false, middle, reach, func(at [3]int, s *Solid) {
		out = append(out, &block{at: at, solid: s})
	})
	return out
}

func (g *voxels) sample(i, j, k float64) r3.Vector {
	return g.frame.Apply(r3.Vector{X: i * g.h, Y: j * g.h, Z: k * g.h})
}

// field is one goroutine's room for the samples of a block.
type field struct {
	n      int // samples along an edge, halo included
	v, tmp []float64
}

func (g *voxels) newField() *field {
	n := blockSize + 1 + 2*g.pass
	return &field{n: n, v: make([]float64, n*n*n), tmp: make([]float64, n*n*n)}
}

// fill evaluates and smooths the samples of b, and reports whether the surface may pass
// it. After it, sample (i, j, k) of the block is v[((k+pass)*n+j+pass)*n+i+pass], where it
// matters: smoothing gives a cell corners of both signs only where its own samples and
// those mixed into them have both, and so are no farther from the surface than the
// diagonal of them all. Farther off the sign alone is right.
func (f *field) fill(g *voxels, b *block) (passes bool) {
	n, step := f.n, g.frame.Turn(r3.Vector{X: g.h})
	at := func(i, j, k float64) r3.Vector {
		return g.sample(float64(b.at[0]*blockSize)-float64(g.pass)+i,
			float64(b.at[1]*blockSize)-float64(g.pass)+j, float64(b.at[2]*blockSize)-float64(g.pass)+k)
	}
	const half = (fillSize - 1) / 2.0
	reach := math.Sqrt(3) * half * g.h
	matters := math.Sqrt(3)*float64(1+2*g.pass)*g.h + b.solid.slack
	parts := (n + fillSize - 1) / fillSize
	for c := range parts * parts * parts {
		i, j, k := c%parts*fillSize, c/parts%parts*fillSize, c/parts/parts*fillSize
		s, v := b.solid.prune(at(float64(i)+half, float64(j)+half, float64(k)+half), reach)
		near := math.Abs(v) <= reach+matters
		passes = passes || near
		for row := range fillSize * fillSize {
			j, k := j+row%fillSize, k+row/fillSize
			if j >= n || k >= n {
				continue
			}
			out := f.v[(k*n+j)*n:][i:min(i+fillSize, n)]
			if near {
				s.fill(at(0, float64(j), float64(k)), step, i, out)
				continue
			}
			for i := range out {
				out[i] = v
			}
		}
	}
	if b.solid.op == opLeaf && b.solid.leaf.face.Shape == Plane && b.solid.leaf.form == nil || !passes {
		return passes // smoothing leaves a linear field as it is
	}
	for range g.pass {
		f.smooth(g.share)
	}
	return passes
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

// surface is an iso-surface in the part's frame.
type surface struct {
	verts  []r3.Vector
	norms  []r3.Vector // unit, outward
	labels []uint16    // of vertices
	tris   [][3]int32
}

// extract returns the zero surface of the smoothed field of s as naive surface
// nets (Gibson 1998): one vertex in every cell that the surface passes, at the
// mean of the points where it cuts the cell's edges; one quad, split in two,
// across every cut edge. Vertices are shared, so nothing is left to weld.
func (g *voxels) extract(ctx context.Context, s *Solid, jobs int) (out surface, err error) {
	blocks := g.blocks(s)
	fields := make([]*field, parallel.Jobs(jobs))
	err = parallel.Workers(ctx, jobs, len(blocks), 1, func(w, i, _ int) error {
		if fields[w] == nil {
			fields[w] = g.newField()
		}
		if fields[w].fill(g, blocks[i]) {
			g.cut(blocks[i], fields[w])
		}
		return nil
	})
	if err != nil {
		return out, err
	}
	kept := blocks[:0]
	place := map[[3]int]*block{}
	total := int32(0)
	for _, b := range blocks {
		if len(b.verts) == 0 && len(b.edges) == 0 {
			continue
		}
		b.first = total
		total += int32(len(b.verts))
		place[b.at] = b
		kept = append(kept, b)
	}
	tris := make([][][3]int32, len(kept))
	err = parallel.Chunks(ctx, jobs, len(kept), 1, func(i, _ int) {
		tris[i] = g.join(kept[i], place)
	})
	if err != nil {
		return out, err
	}
	out = surface{verts: make([]r3.Vector, 0, total), norms: make([]r3.Vector, 0, total),
		labels: make([]uint16, total), tris: slices.Concat(tris...)}
	for _, b := range kept {
		out.verts = append(out.verts, b.verts...)
		out.norms = append(out.norms, b.norms...)
	}
	return out, nil
}

// cut finds the vertices and cut edges of one block.
func (g *voxels) cut(b *block, f *field) {
	n := f.n
	const rows = blockSize + 1
	var inside [rows * rows]uint32 // a bit for each sample of a row
	for r := range inside {
		for i, v := range f.v[((g.pass+r/rows)*n+g.pass+r%rows)*n+g.pass:][:rows] {
			// Within 1e-9 mm of the surface counts as outside, so that rounding cannot put
			// a sample on different sides for two blocks.
			if v <= -1e-9 {
				inside[r] |= 1 << i
			}
		}
	}
	for r := range blockSize * blockSize {
		j, k := r%blockSize, r/blockSize
		row := ((g.pass+k)*n+g.pass+j)*n + g.pass
		about := inside[k*rows+j:]
		some := about[0] | about[1] | about[rows] | about[rows+1]
		all := about[0] & about[1] & about[rows] & about[rows+1]
		for cut := (some | some>>1) &^ (all & (all >> 1)) & (1<<blockSize - 1); cut != 0; cut &= cut - 1 {
			i := bits.TrailingZeros32(cut)
			var v [8]float64
			in := 0 // a bit for each corner
			for c, o := range [8]int{0, 1, n, n + 1, n * n, n*n + 1, n*n + n, n*n + n + 1} {
				if v[c] = f.v[row+i+o]; v[c] <= -1e-9 {
					in |= 1 << c
				} else {
					v[c] = max(v[c], 1e-9)
				}
			}
			if b.cell == nil {
				b.cell = make([]uint16, blockSize*blockSize*blockSize)
			}
			cell := uint16(i | j<<blockBits | k<<(2*blockBits))
			for axis := range 3 {
				if in&1 != in>>(1<<axis)&1 {
					b.edges = append(b.edges, cell<<3|uint16(axis)<<1|uint16(in&1))
				}
			}
			p, m := cellVertex(&v)
			b.verts = append(b.verts, g.sample(
				float64(b.at[0]*blockSize+i)+p[0],
				float64(b.at[1]*blockSize+j)+p[1],
				float64(b.at[2]*blockSize+k)+p[2]))
			b.cell[cell] = uint16(len(b.verts))
			b.norms = append(b.norms, g.frame.Turn(m).Normalize())
		}
	}
}

// cellVertex returns the mean of the cut points of a cell's edges, in cells,
// and the field's mean gradient over the cell. The corners of a cell are numbered
// x + 2y + 4z.
func cellVertex(v *[8]float64) (p [3]float64, m r3.Vector) {
	n := 0.0
	for axis := range 3 {
		for c := range 8 {
			if c>>axis&1 == 1 {
				continue // the edge's far end
			}
			a, b := v[c], v[c|1<<axis]
			if (a < 0) == (b < 0) {
				continue
			}
			for k := range 3 {
				p[k] += float64(c >> k & 1)
			}
			p[axis] += a / (a - b)
			n++
		}
	}
	for k := range p {
		p[k] /= n
	}
	m.X = v[1] - v[0] + v[3] - v[2] + v[5] - v[4] + v[7] - v[6]
	m.Y = v[2] - v[0] + v[3] - v[1] + v[6] - v[4] + v[7] - v[5]
	m.Z = v[4] - v[0] + v[5] - v[1] + v[6] - v[2] + v[7] - v[3]
	return p, m
}

// join makes the triangles across the cut edges of b.
func (g *voxels) join(b *block, place map[[3]int]*block) [][3]int32 {
	out := make([][3]int32, 0, 2*len(b.edges))
edges:
	for _, e := range b.edges {
		axis, c := int(e>>1&3), int(e>>3)
		at := [3]int{c & blockMask, c >> blockBits & blockMask, c >> (2 * blockBits) & blockMask}
		u, v := (axis+1)%3, (axis+2)%3
		// The four cells around the edge, counter-clockwise about its axis.
		var q [4]int32
		var at4 [4]r3.Vector
		for c, o := range [4][2]int{{-1, -1}, {0, -1}, {0, 0}, {-1, 0}} {
			cell := at
			cell[u] += o[0]
			cell[v] += o[1]
			owner, home := b, b.at
			for _, k := range [2]int{u, v} {
				if cell[k] < 0 {
					cell[k] += blockSize
					home[k]--
				}
			}
			if home != b.at {
				owner = place[home]
			}
			if owner == nil {
				continue edges
			}
			i := owner.cell[cell[0]|cell[1]<<blockBits|cell[2]<<(2*blockBits)]
			if i == 0 {
				continue edges
			}
			q[c] = owner.first + int32(i) - 1
			at4[c] = owner.verts[i-1]
		}
		if e&1 == 0 { // the field falls along the axis: outside is behind
			q[1], q[3] = q[3], q[1]
			at4[1], at4[3] = at4[3], at4[1]
		}
		if at4[0].Sub(at4[2]).Norm2() <= at4[1].Sub(at4[3]).Norm2() {
			out = append(out, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
		} else {
			out = append(out, [3]int32{q[1], q[2], q[3]}, [3]int32{q[1], q[3], q[0]})
		}
	}
	return out
}

// shrink drops the triangles with a corner that is not kept, then the vertices
// without a triangle.
func (s *surface) shrink(keep []bool) {
	n := 0
	used := make([]int32, len(s.verts))
	for _, t := range s.tris {
		if keep[t[0]] && keep[t[1]] && keep[t[2]] {
			s.tris[n] = t
			n++
			used[t[0]], used[t[1]], used[t[2]] = 1, 1, 1
		}
	}
	s.tris = s.tris[:n]
	next := int32(0)
	for i, u := range used {
		if u == 0 {
			continue
		}
		used[i] = next
		s.verts[next], s.norms[next], s.labels[next] = s.verts[i], s.norms[i], s.labels[i]
		next++
	}
	s.verts, s.norms, s.labels = s.verts[:next], s.norms[:next], s.labels[:next]
	for i, t := range s.tris {
		s.tris[i] = [3]int32{used[t[0]], used[t[1]], used[t[2]]}
	}
}

// lose takes random patches out of the surface until the share asked is
// gone, to the last patch. Their radii are spread over all sizes from 2 voxels
// to an eighth of the part; noise makes their outlines uneven.
func (f *fuse) lose(context.Context) error {
	if f.opt.Missing == 0 {
		return nil
	}
	s := &f.surface
	rng := rand.New(rand.NewPCG(f.opt.Seed, streamPatch))
	rough := newLattice(rng.Uint64(), 6*f.grid.h)
	size := f.part.Hi.Sub(f.part.Lo)
	small := 2 * f.grid.h
	ratio := max(size.X, size.Y, size.Z) / 8 / small
	keep := slices.Repeat([]bool{true}, len(s.verts))
	left := len(s.verts)
	want := int(math.Round(float64(left) * (1 - f.opt.Missing)))
	for left > want {
		c := s.verts[rng.IntN(len(s.verts))]
		r := small * math.Pow(max(ratio, 1), rng.Float64())
		for i, v := range s.verts {
			if left == want || !keep[i] || math.Abs(v.X-c.X) > 2*r || v.Sub(c).Norm2() > 4*r*r {
				continue
			}
			if v.Sub(c).Norm() < r*min(2, max(0.3, 1+0.35*rough.at(v))) {
				keep[i] = false
				left--
			}
		}
	}
	s.shrink(keep)
	return nil
}
