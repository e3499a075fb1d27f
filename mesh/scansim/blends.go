package scansim

import (
	"math"

	"github.com/golang/geo/r3"
)

// Ring returns the torus about the axis through centre: a circle of the given
// minor radius carried round at the given radius. Subtracted it cuts a round
// groove; added or subtracted at an edge it makes a fillet.
func Ring(role string, centre, axis r3.Vector, radius, minor float64) *Solid {
	return leafSolid(Face{Role: role, Shape: Torus, Point: centre, Axis: axis.Normalize(), Radius: radius, Minor: minor})
}

// Waves returns all that lies below a wavy surface: the plane through point,
// raised along normal by amplitude sin(2πu/length) sin(2πv/length). It is none
// of the shapes that a scan is searched for.
func Waves(role string, point, normal r3.Vector, amplitude, length float64) *Solid {
	normal = normal.Normalize()
	return leafSolid(Face{
		Role: role, Shape: Freeform, Point: point, Axis: normal, Along: normal.Ortho(),
		Amplitude: amplitude, WaveLength: length,
	})
}

// wave returns the height of a wavy surface over the foot of q in its plane,
// the height of q, and the slopes along e1 and e2.
func (f *Face) wave(q r3.Vector) (z, h, z1, z2 float64, e1, e2 r3.Vector) {
	e1, e2 = f.Along, f.Axis.Cross(f.Along)
	d := q.Sub(f.Point)
	k := 2 * math.Pi / f.WaveLength
	s1, c1 := math.Sincos(k * d.Dot(e1))
	s2, c2 := math.Sincos(k * d.Dot(e2))
	a := f.Amplitude
	return a * s1 * s2, d.Dot(f.Axis), a * k * c1 * s2, a * k * s1 * c2, e1, e2
}

// steepest bounds sqrt(1 + slope²) of a wavy surface: its slope² is
// (ak)² (cos² sin² + sin² cos²) <= (ak)².
func (f *Face) steepest() float64 {
	return math.Hypot(1, 2*math.Pi*f.Amplitude/f.WaveLength)
}
