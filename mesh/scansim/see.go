package scansim

import (
	"math"
	"math/rand/v2"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// Scanner is where the laser and the camera stand: above the part, all round
// it, far away. A point of the surface is seen if some pair of directions both
// reach it. The zero value is a scanner on a turntable.
type Scanner struct {
	// Azimuths is the number of turntable stops; zero means 12.
	Azimuths int
	// Elevations of the scanner above the turntable; nil means 70, 45 and 25
	// degrees.
	Elevations []s1.Angle
	// Baseline is the angle between laser and camera; zero means 24 degrees.
	Baseline s1.Angle
	// MaxIncidence is the steepest angle between a ray and the normal at which
	// the surface still shows; zero means 75 degrees.
	MaxIncidence s1.Angle
}

// eyes is a scanner ready for use: unit vectors from the surface to laser and
// camera.
type eyes struct {
	pairs  [][2]r3.Vector
	minCos float64
	solid  *atlas
	top    float64   // above this z nothing is in the way
	lo, hi r3.Vector // nor beyond this box
	start  float64   // rays leave the surface this far out, mm
	hit    float64   // nearer than this is a hit, mm
}

func (s Scanner) eyes(solid *Solid, lo, hi r3.Vector, start float64) *eyes {
	n := s.Azimuths
	if n <= 0 {
		n = 12
	}
	elevations := s.Elevations
	if elevations == nil {
		elevations = []s1.Angle{70 * s1.Degree, 45 * s1.Degree, 25 * s1.Degree}
	}
	base := s1.Angle(orElse(float64(s.Baseline), (24 * s1.Degree).Radians()))
	e := &eyes{
		minCos: math.Cos(orElse(float64(s.MaxIncidence), (75 * s1.Degree).Radians())),
		solid:  newAtlas(solid, lo, hi, 0), top: hi.Z + solid.slack, lo: lo, hi: hi, start: start + solid.slack/5, hit: start * hitShare,
	}
	sb, cb := math.Sincos(base.Radians() / 2)
	for _, el := range elevations {
		se, ce := math.Sincos(el.Radians())
		for a := range n {
			sa, ca := math.Sincos(2 * math.Pi * float64(a) / float64(n))
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
	from := p.Add(n.Mul(e.start))
	for _, pair := range e.pairs {
		if pair[0].Dot(n) > e.minCos && pair[1].Dot(n) > e.minCos &&
			e.clear(from, pair[0]) && e.clear(from, pair[1]) {
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
	if rng.IntN(2) == 0 { // laser and camera may stand either way round
		pair[0], pair[1] = pair[1], pair[0]
	}
	c := pair[0].Dot(n)
	if c <= e.minCos || pair[1].Dot(n) <= e.minCos || rng.Float64() >= c {
		return false
	}
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
