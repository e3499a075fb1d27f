// Package testpart is a kettle port whose measurement is put together by hand, with exact
// truth, so that what is above package bolt is tested without any scan. Tests alone use it.
package testpart

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"spotface/bolt"
	"spotface/bolt/pattern"
	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/geom"
)

// Part is a made-up kettle port: a face, a main bore, and holes on a circle. Poses are in
// the scan's own position.
type Part struct {
	Pitch     float64   // mm
	Diameter  float64   // of each hole, mm
	Angles    []float64 // true places, degrees
	Radial    []float64 // outward of the pitch circle, mm; nil: none
	Extra     []r3.Vector
	ExtraD    float64
	BoreD     float64 // 0: none
	Clock     int     // which of angles is the clocking hole
	Nominal   []float64
	U         float64 // standard uncertainty of a centre, each way, mm
	Turn      float64 // of the whole part in its face, degrees
	Origin    r3.Vector
	Z         r3.Vector // out of the material
	Irregular bool
}

// Kettle is a ring of six holes, the third 0.4 degrees off, about a bore of 40.02 mm.
func Kettle() Part {
	return Part{Pitch: 84, Diameter: 6.61, Angles: []float64{0, 60, 120.4, 180, 240, 300},
		BoreD: 40.02, U: 0.004, Origin: r3.Vector{X: 12, Y: -7, Z: 310},
		Z: r3.Vector{X: 0.36, Y: -0.48, Z: 0.8}, Turn: 17}
}

// Axes of the part in the scan, Z out of the material.
func (p Part) Axes() (x, y, z r3.Vector) {
	z = p.Z.Normalize()
	e1, e2 := geom.Basis(z)
	sin, cos := math.Sincos(p.Turn * math.Pi / 180)
	return e1.Mul(cos).Add(e2.Mul(sin)), e2.Mul(cos).Sub(e1.Mul(sin)), z
}

// At returns a place of the part in the scan.
func (p Part) At(x, y, z float64) r3.Vector {
	ex, ey, ez := p.Axes()
	return p.Origin.Add(ex.Mul(x)).Add(ey.Mul(y)).Add(ez.Mul(z))
}

// Measure returns what the packages find in a scan of it.
func (p Part) Measure(t testing.TB) (*mesh.Scan, *segment.Segmentation, *bolt.Measurement) {
	t.Helper()
	seg := p.surfaces()
	return p.scan(seg), seg, p.Bolts(t)
}

// Bolts is what package bolt makes of it.
func (p Part) Bolts(t testing.TB) *bolt.Measurement {
	t.Helper()
	_, _, z := p.Axes()
	var m bolt.Measurement
	var ring []bolt.Hole
	for i, a := range p.Angles {
		r := p.Pitch / 2
		if p.Radial != nil {
			r += p.Radial[i]
		}
		sin, cos := math.Sincos(a * math.Pi / 180)
		h := bolt.Hole{ID: fmt.Sprintf("H%d", i+1), Kind: bolt.Round,
			Centre: p.At(r*cos, r*sin, 0), Axis: z, Diameter: p.Diameter, Face: "P1",
			Wall: fmt.Sprintf("C%d", i+2), From: bolt.Wall, Arc: 360 * s1.Degree,
			CentreCov: [2][2]float64{{p.U * p.U, 0}, {0, p.U * p.U}}, DiameterU: p.U}
		ring = append(ring, h)
	}
	m.Holes = append(m.Holes, ring...)
	for i, q := range p.Extra {
		m.Holes = append(m.Holes, bolt.Hole{ID: fmt.Sprintf("H%d", len(p.Angles)+i+1), Kind: bolt.Round,
			Centre: p.At(q.X, q.Y, 0), Axis: z, Diameter: p.ExtraD, Face: "P1", From: bolt.Rim,
			Arc:       224 * s1.Degree,
			CentreCov: [2][2]float64{{p.U * p.U, 0}, {0, p.U * p.U}}, DiameterU: p.U})
	}
	if len(ring) >= 3 {
		m.Circles = append(m.Circles, p.circle(t, ring))
	}
	m.Frame = p.frame(m.Circles)
	return &m
}

func (p Part) circle(t testing.TB, ring []bolt.Hole) bolt.Circle {
	n := len(ring)
	nominal := p.Nominal
	if nominal == nil {
		for i := range n {
			nominal = append(nominal, float64(i)*360/float64(n))
		}
	}
	nom := pattern.Reading{Kind: pattern.Ring}
	if p.Irregular {
		nom.Kind = pattern.Irregular
	}
	for i := range n {
		j := (i + p.Clock) % n
		nom.Angles = append(nom.Angles, bolt.Wrap(s1.Angle(nominal[j]-nominal[p.Clock])*s1.Degree))
	}
	if !p.Irregular {
		nom.Positions = n
		nom.Step = s1.Angle(nominal[1]) * s1.Degree
		nom.Full = math.Abs(nominal[n-1]+nominal[1]-360) < 1e-6
		nom.Probability = 0.999
	}
	ordered := append(append([]bolt.Hole{}, ring[p.Clock:]...), ring[:p.Clock]...)
	c, err := bolt.Clock(ordered, nom)
	require.NoError(t, err)
	c.ID = "B1"
	return c
}

func (p Part) frame(circles []bolt.Circle) *bolt.Frame {
	x, y, z := p.Axes()
	f := &bolt.Frame{Origin: p.Origin, X: x, Y: y, Z: z, Face: "P1"}
	if len(circles) == 0 {
		return nil
	}
	f.Axis = "B1"
	if p.BoreD > 0 {
		f.Axis = "C1"
	}
	f.Clock = circles[0].Holes[0]
	sin, cos := math.Sincos(p.Angles[p.Clock] * math.Pi / 180)
	f.X = x.Mul(cos).Add(y.Mul(sin))
	f.Y = f.Z.Cross(f.X)
	return f
}

func (p Part) surfaces() *segment.Segmentation {
	_, _, z := p.Axes()
	seg := &segment.Segmentation{Noise: 0.021, Spacing: 0.29}
	rms := fit.ResidualStats{N: 90000, RMS: 0.021, Min: -0.09, Max: 0.09, FormError: 0.18,
		Sigma: 0.021}
	plane := func(id string, at, n r3.Vector, area float64) {
		seg.Surfaces = append(seg.Surfaces, segment.Surface{ID: id, Area: area, Fit: fit.PlaneFit{
			Plane: fit.Plane{Point: at, Normal: n}, Result: fit.Result{Residuals: rms,
				Cov: [6][6]float64{{1e-8}, {0, 1e-11}, {0, 0, 1e-11}}}}})
	}
	plane("P1", p.At(0, 0, 0), z, 5000)
	plane("P2", p.At(-3, 1, -12), z.Mul(-1), 4000)
	hole := func(id string, at r3.Vector, r float64) {
		c := fit.CylinderFit{Cylinder: fit.Cylinder{Point: at, Axis: z, Radius: r}}
		c.Cov = [6][6]float64{{1e-6}, {0, 1e-6}, {0, 0, 1e-8}, {0, 0, 0, 1e-8}, {0, 0, 0, 0, 1e-6}}
		c.Residuals = fit.ResidualStats{N: 8000, RMS: 0.02, Min: -0.07, Max: 0.07,
			FormError: 0.14, Sigma: 0.02}
		seg.Surfaces = append(seg.Surfaces, segment.Surface{ID: id, Fit: c, Internal: true,
			Arc: 360 * s1.Degree, Extent: [2]float64{-6, 6}})
	}
	if p.BoreD > 0 {
		hole("C1", p.At(0, 0, -6), p.BoreD/2)
	}
	for i, a := range p.Angles {
		sin, cos := math.Sincos(a * math.Pi / 180)
		hole(fmt.Sprintf("C%d", i+2), p.At(p.Pitch/2*cos, p.Pitch/2*sin, -6), p.Diameter/2)
	}
	return seg
}

// scan puts points on the face and in the bore, with 0.021 mm of noise, and some
// beside them.
func (p Part) scan(seg *segment.Segmentation) *mesh.Scan {
	rng := rand.New(rand.NewPCG(1, 2))
	s := &mesh.Scan{Origin: p.Origin}
	add := func(q r3.Vector, id int32) int32 {
		d := q.Sub(p.Origin)
		s.Offsets = append(s.Offsets, mesh.Vec32{float32(d.X), float32(d.Y), float32(d.Z)})
		seg.PointSurface = append(seg.PointSurface, id)
		return int32(len(s.Offsets) - 1)
	}
	noise := func() float64 { return 0.021 * rng.NormFloat64() }
	for len(seg.Surfaces[0].Points) < 3000 {
		x, y := 100*rng.Float64()-50, 100*rng.Float64()-50
		if r := math.Hypot(x, y); r > 25 && r < 50 {
			seg.Surfaces[0].Points = append(seg.Surfaces[0].Points, add(p.At(x, y, noise()), 0))
		}
	}
	if p.BoreD > 0 {
		for range 1200 {
			sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
			r := p.BoreD/2 + noise()
			seg.Surfaces[2].Points = append(seg.Surfaces[2].Points,
				add(p.At(r*cos, r*sin, -12*rng.Float64()), 2))
		}
	}
	for range 40 {
		add(p.At(30*rng.NormFloat64(), 30*rng.NormFloat64(), 30*rng.NormFloat64()), -1)
	}
	s.Source = mesh.Source{File: "kettle-port.xyz", Format: "xyz", Unit: mesh.Millimetre,
		UnitSource: mesh.UnitGiven, Points: s.Len() + 3}
	s.Removed = mesh.Removed{Broken: 2, Duplicate: 1}
	return s
}

// Plan is of the port, as meant.
const Plan = `part: kettle port ring
unit: mm
frame:   {face: P1, axis: C1, clock: H1}
bolt_circles:
  - id: B1
    count: 6
    spacing: {nominal: 60, band: [-0.25, 0.25]}
    pitch_diameter: {nominal: 84, band: [-0.2, 0.2]}
    hole_diameter:  {nominal: 6.6, band: [0, 0.25]}
    clocking:       {band: [-0.25, 0.25]}
cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: [-0.1, 0.1]},
  perpendicular_to: P1, perpendicularity: 0.1}]
`
