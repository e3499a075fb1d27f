package scansim

import (
	"math"
	"math/rand/v2"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/mesh"
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

// scene is a part before the scanner, in the part's frame.
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

// Pose carries the part's frame to the scan's: q = R p + T. R is a proper rotation, whose
// columns X, Y, Z are the part's axes in the scan.
type Pose struct{ X, Y, Z, T r3.Vector }

// Identity returns the pose that moves nothing.
func Identity() Pose { return Pose{X: r3.Vector{X: 1}, Y: r3.Vector{Y: 1}, Z: r3.Vector{Z: 1}} }

// Apply returns where the point p of the part lies in the scan, mm.
func (g Pose) Apply(p r3.Vector) r3.Vector { return g.Turn(p).Add(g.T) }

// Turn returns the direction d of the part in the scan.
func (g Pose) Turn(d r3.Vector) r3.Vector {
	return g.X.Mul(d.X).Add(g.Y.Mul(d.Y)).Add(g.Z.Mul(d.Z))
}

// Inverse returns the pose that carries the scan's frame to the part's.
func (g Pose) Inverse() Pose {
	inv := Pose{X: r3.Vector{X: g.X.X, Y: g.Y.X, Z: g.Z.X}, Y: r3.Vector{X: g.X.Y, Y: g.Y.Y, Z: g.Z.Y},
		Z: r3.Vector{X: g.X.Z, Y: g.Y.Z, Z: g.Z.Z}}
	inv.T = inv.Turn(g.T).Mul(-1)
	return inv
}

// RandomRotation draws a rotation uniformly: Shoemake (1992), a unit
// quaternion (x, y, z, w) from three uniform numbers.
func RandomRotation(rng *rand.Rand) Pose {
	u1, u2, u3 := rng.Float64(), 2*math.Pi*rng.Float64(), 2*math.Pi*rng.Float64()
	s2, c2 := math.Sincos(u2)
	s3, c3 := math.Sincos(u3)
	a, b := math.Sqrt(1-u1), math.Sqrt(u1)
	x, y, z, w := a*s2, a*c2, b*s3, b*c3
	return Pose{
		X: r3.Vector{X: 1 - 2*(y*y+z*z), Y: 2 * (x*y + w*z), Z: 2 * (x*z - w*y)},
		Y: r3.Vector{X: 2 * (x*y - w*z), Y: 1 - 2*(x*x+z*z), Z: 2 * (y*z + w*x)},
		Z: r3.Vector{X: 2 * (x*z + w*y), Y: 2 * (y*z - w*x), Z: 1 - 2*(x*x+y*y)},
	}
}

// randomPose draws a rotation, and a shift of up to 100 mm along each axis.
func randomPose(rng *rand.Rand) Pose {
	g := RandomRotation(rng)
	g.T = r3.Vector{X: 200*rng.Float64() - 100, Y: 200*rng.Float64() - 100, Z: 200*rng.Float64() - 100}
	return g
}

// eyes are the places of laser and camera of a scanner: above the part on its turntable,
// far away, at stops all round it. A point of the surface is seen if some pair of
// directions both reach it.
type eyes struct {
	pairs  [][2]r3.Vector // unit vectors from the surface to laser and camera
	minCos float64        // of the steepest incidence at which the surface still shows
	solid  *atlas
	top    float64   // above this z nothing is in the way
	lo, hi r3.Vector // nor beyond this box
	start  float64   // rays leave the surface this far out, mm
	hit    float64   // nearer than this is a hit, mm
}

func newEyes(solid *Solid, lo, hi r3.Vector, start float64) *eyes {
	e := &eyes{
		minCos: math.Cos(scanIncidence.Radians()),
		solid:  newAtlas(solid, lo, hi, 0), top: hi.Z + solid.slack, lo: lo, hi: hi,
		start: start + solid.slack/5, hit: start * hitShare,
	}
	sb, cb := math.Sincos(scanBaseline.Radians() / 2)
	for _, el := range [3]s1.Angle{70 * s1.Degree, 45 * s1.Degree, 25 * s1.Degree} {
		se, ce := math.Sincos(el.Radians())
		for a := range scanStops {
			sa, ca := math.Sincos(2 * math.Pi * float64(a) / scanStops)
			view := r3.Vector{X: ce * ca, Y: ce * sa, Z: se}
			side := r3.Vector{X: -sa, Y: ca}
			e.pairs = append(e.pairs, [2]r3.Vector{
				view.Mul(cb).Add(side.Mul(sb)), view.Mul(cb).Sub(side.Mul(sb)),
			})
		}
	}
	return e
}

// see reports whether some pair sees the point p of the surface with normal n.
func (e *eyes) see(p, n r3.Vector) bool {
	for _, pair := range e.pairs {
		if e.faces(pair, n) && e.open(pair, p, n) {
			return true
		}
	}
	return false
}

// catch reports whether one stop of the scanner, drawn at random, sees p and
// catches it: the chance falls with the cosine of the laser's incidence, as the
// laser's lines lie further apart on steep ground.
func (e *eyes) catch(rng *rand.Rand, p, n r3.Vector) bool {
	pair := e.pairs[rng.IntN(len(e.pairs))]
	laser := pair[1-rng.IntN(2)] // laser and camera may be either way round
	return e.faces(pair, n) && rng.Float64() < laser.Dot(n) && e.open(pair, p, n)
}

// faces reports whether a surface with the normal n shows itself to the pair.
func (e *eyes) faces(pair [2]r3.Vector, n r3.Vector) bool {
	return pair[0].Dot(n) > e.minCos && pair[1].Dot(n) > e.minCos
}

// open reports whether nothing is between p and the pair.
func (e *eyes) open(pair [2]r3.Vector, p, n r3.Vector) bool {
	from := p.Add(n.Mul(e.start))
	return e.clear(from, pair[0]) && e.clear(from, pair[1])
}

// clear follows the ray from p along d until it hits the solid or leaves its
// box: sphere tracing, Hart (1996). The field never overstates a distance, so
// no step passes through a wall, once less what form can add; each is at least
// a hit's width long.
func (e *eyes) clear(p, d r3.Vector) bool {
	slack, slope := e.solid.whole.slack, e.solid.whole.slope
	for range 1000 {
		if p.Z > e.top || p.X < e.lo.X || p.X > e.hi.X || p.Y < e.lo.Y || p.Y > e.hi.Y || p.Z < e.lo.Z {
			return true
		}
		v := e.solid.near(p).at(p)
		if v < e.hit {
			return false
		}
		p = p.Add(d.Mul(max(v-slack, v/(1+slope))))
	}
	return true
}

// newScan returns a scan of points of the part where the pose puts them.
func newScan(points []r3.Vector, g Pose) *mesh.Scan {
	s := &mesh.Scan{Offsets: make([]mesh.Vec32, len(points)), Origin: g.T}
	for i, p := range points {
		p = g.Turn(p)
		s.Offsets[i] = mesh.Vec32{float32(p.X), float32(p.Y), float32(p.Z)}
	}
	s.Source = mesh.Source{Format: "simulated", Unit: mesh.Millimetre, UnitSource: mesh.UnitGiven,
		Points: len(points)}
	return s
}
