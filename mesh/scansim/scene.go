package scansim

import (
	"math/rand/v2"

	"github.com/golang/geo/r3"
)

// Streams of random numbers, one for each purpose, so that turning one thing on
// leaves the others as they were.
const (
	streamPose uint64 = iota + 1
	streamGrid
	streamJunk
	streamPatch
	streamNoise
	streamCloud
	_
	streamForm
)

// scene is a part as it stands before the scanner, in the part's frame.
type scene struct {
	part   *Part
	solid  *Solid // part, turntable, junk
	shade  *Solid // what casts shadows: part and turntable
	faces  []Face
	lo, hi r3.Vector // of all
	pose   Pose
}

func newScene(p *Part, seed uint64, inPlace bool, turntable float64) (*scene, error) {
	if p.err != nil {
		return nil, p.err
	}
	s := &scene{part: p, solid: p.solid, lo: p.Lo, hi: p.Hi, faces: p.Faces, pose: Identity()}
	if !inPlace {
		s.pose = randomPose(rand.New(rand.NewPCG(seed, streamPose)))
	}
	if turntable > 0 {
		s.turntable(turntable)
	}
	s.shade = s.solid
	return s, nil
}

// size is the diagonal of the part's box, mm.
func (s *scene) size() float64 { return s.part.Hi.Sub(s.part.Lo).Norm() }

// turntable puts a disc of 5 mm under the part.
func (s *scene) turntable(diameter float64) {
	c := s.lo.Add(s.hi).Mul(0.5)
	c.Z = s.lo.Z
	d := Disc("turntable", "", "", c, diameter/2, 5)
	top := d.kids[0].leaf
	top.face.ID = uint16(len(s.faces) + 1)
	top.id = top.face.ID
	s.faces = append(s.faces[:len(s.faces):len(s.faces)], top.face)
	s.solid = Union(s.solid, d)
	r := diameter / 2
	s.lo = r3.Vector{X: min(s.lo.X, c.X-r), Y: min(s.lo.Y, c.Y-r), Z: c.Z - 5}
	s.hi = r3.Vector{X: max(s.hi.X, c.X+r), Y: max(s.hi.Y, c.Y+r), Z: s.hi.Z}
}

// junk hangs n small balls, of 2 to 5 voxels h, in the air near the part.
func (s *scene) junk(seed uint64, n int, h float64) {
	if n <= 0 {
		return
	}
	rng := rand.New(rand.NewPCG(seed, streamJunk))
	kids := []*Solid{s.solid}
	lo, hi := s.part.Lo, s.part.Hi.Add(r3.Vector{Z: 0.1 * s.size()})
	for tries := 0; len(kids) <= n && tries < 1000*n; tries++ {
		r := h * (2 + 3*rng.Float64())
		at := r3.Vector{
			X: lo.X + (hi.X-lo.X)*rng.Float64(),
			Y: lo.Y + (hi.Y-lo.Y)*rng.Float64(),
			Z: lo.Z + (hi.Z-lo.Z)*rng.Float64(),
		}
		if s.shade.at(at) < r+4*h {
			continue
		}
		b := Ball("junk", at, r)
		b.leaf.id = LabelOutlier
		kids = append(kids, b)
		s.hi.Z = max(s.hi.Z, at.Z+r)
	}
	s.solid = Union(kids...)
}
