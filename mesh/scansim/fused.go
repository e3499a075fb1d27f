package scansim

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

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
	// Scanner says what can be seen. ShowHidden keeps what it cannot see.
	Scanner    Scanner
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
	const stages = 5
	step := func(done int) {
		if opt.Progress != nil {
			opt.Progress(done, stages)
		}
	}
	step(0)
	surf, err := f.grid.extract(ctx, f.solid, opt.Jobs)
	if err != nil {
		return nil, Truth{}, err
	}
	step(1)
	keep := make([]bool, len(surf.verts))
	if err := f.see(ctx, surf, keep); err != nil {
		return nil, Truth{}, err
	}
	surf.shrink(keep, nil)
	if len(surf.tris) == 0 {
		return nil, Truth{}, fmt.Errorf("simulate %s: nothing of the part is seen: use a smaller voxel or another scanner", p.Name)
	}
	step(2)
	labels := make([]uint16, len(surf.verts))
	if err := f.label(ctx, surf, labels); err != nil {
		return nil, Truth{}, err
	}
	step(3)
	labels = f.patches(surf, labels)
	if err := f.shake(ctx, surf); err != nil {
		return nil, Truth{}, err
	}
	step(4)
	truth := newTruth(p, f.faces, f.pose)
	truth.Noise, truth.Voxel = opt.Noise, f.grid.h
	byTri := make([]uint16, len(surf.tris))
	for i, t := range surf.tris {
		if l := labels[t[0]]; l == labels[t[1]] && l == labels[t[2]] {
			byTri[i] = l
		}
	}
	s := newScan(len(surf.verts), f.pose, func(i int) r3.Vector { return surf.verts[i] })
	s.Triangles = surf.tris
	s.Source.Triangles = len(surf.tris)
	truth.label(byTri)
	step(stages)
	return s, truth, nil
}

// fuse is one run of Fused.
type fuse struct {
	scene
	opt  FusedOptions
	grid *voxels
}

func newFuse(p *Part, opt FusedOptions) (*fuse, error) {
	sc, err := newScene(p, opt.Seed, opt.InPlace, opt.Turntable)
	if err != nil {
		return nil, err
	}
	h := orElse(opt.Voxel, sc.size()/400)
	smooth := orElse(opt.Smooth, 1)
	switch {
	case !(h > 0) || math.IsInf(h, 0):
		return nil, fmt.Errorf("simulate %s: a voxel of %v mm: it must be positive", p.Name, h)
	case !(smooth <= 2):
		return nil, fmt.Errorf("simulate %s: smoothing over %v voxels: at most 2", p.Name, smooth)
	case !(opt.Noise >= 0) || math.IsInf(opt.Noise, 0):
		return nil, fmt.Errorf("simulate %s: noise of %v mm: it must not be negative", p.Name, opt.Noise)
	case !(opt.Missing >= 0 && opt.Missing < 1):
		return nil, fmt.Errorf("simulate %s: %v of the surface missing: use a share from 0 to below 1", p.Name, opt.Missing)
	case !(sc.size()/h < 5000):
		return nil, fmt.Errorf("simulate %s: a voxel of %v mm is too small for a part of %.0f mm", p.Name, h, sc.size())
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

// see marks the vertices that laser and camera see.
func (f *fuse) see(ctx context.Context, s *surface, keep []bool) error {
	var e *eyes
	if !f.opt.ShowHidden {
		e = f.opt.Scanner.eyes(f.shade, f.lo, f.hi, f.grid.h)
	}
	return parallel.Chunks(ctx, f.opt.Jobs, len(s.verts), chunk, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			dropped := f.opt.Drop != nil && f.opt.Drop(s.verts[i])
			keep[i] = !dropped && (e == nil || e.see(s.verts[i], s.norms[i]))
		}
	})
}

// label finds the face of each vertex.
func (f *fuse) label(ctx context.Context, s *surface, labels []uint16) error {
	margin := orElse(f.opt.EdgeMargin, 3*f.grid.h)
	a := newAtlas(f.solid, f.lo, f.hi, 1.5*margin)
	return parallel.Chunks(ctx, f.opt.Jobs, len(s.verts), chunk, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			labels[i] = faceAt(a.near(s.verts[i]), s.verts[i], margin)
		}
	})
}

// shake moves the vertices along their normals by noise.
func (f *fuse) shake(ctx context.Context, s *surface) error {
	if f.opt.Noise == 0 {
		return nil
	}
	length, share := f.opt.NoiseLength, f.opt.NoiseShare
	size := f.part.Hi.Sub(f.part.Lo)
	for k, l := range [3]float64{1.6 * f.grid.h, 8 * f.grid.h, max(size.X, size.Y, size.Z) / 9} {
		length[k] = orElse(length[k], l)
	}
	if share == [3]float64{} {
		share = [3]float64{0.6, 0.3, 0.1}
	}
	n := newSurfaceNoise(mix(f.opt.Seed+streamNoise), f.opt.Noise, length, share)
	return parallel.Chunks(ctx, f.opt.Jobs, len(s.verts), chunk, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			v, m := s.verts[i], s.norms[i]
			s.verts[i] = v.Add(m.Mul(n.at(v)))
		}
	})
}
