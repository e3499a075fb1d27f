package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"spotface/bolt"
	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/geom"
)

// part is a made-up kettle port: a face, a main bore, and holes on a circle,
// whose measurement is put together by hand, so that package report is tested
// without any scan. Poses are in the scan's own position.
type part struct {
	pitch     float64   // mm
	diameter  float64   // of each hole, mm
	angles    []float64 // true places, degrees
	radial    []float64 // outward of the pitch circle, mm; nil: none
	extra     []r3.Vector
	extraD    float64
	boreD     float64 // 0: none
	clock     int     // which of angles is the clocking hole
	nominal   []float64
	u         float64 // standard uncertainty of a centre, each way, mm
	turn      float64 // of the whole part in its face, degrees
	origin    r3.Vector
	z         r3.Vector // out of the material
	irregular bool
}

func kettlePort() part {
	return part{pitch: 84, diameter: 6.61, angles: []float64{0, 60, 120.4, 180, 240, 300}, boreD: 40.02,
		u: 0.004, origin: r3.Vector{X: 12, Y: -7, Z: 310}, z: r3.Vector{X: 0.36, Y: -0.48, Z: 0.8}, turn: 17}
}

func (p part) axes() (x, y, z r3.Vector) {
	z = p.z.Normalize()
	e1, e2 := geom.Basis(z)
	sin, cos := math.Sincos(p.turn * math.Pi / 180)
	return e1.Mul(cos).Add(e2.Mul(sin)), e2.Mul(cos).Sub(e1.Mul(sin)), z
}

func (p part) at(x, y, z float64) r3.Vector {
	ex, ey, ez := p.axes()
	return p.origin.Add(ex.Mul(x)).Add(ey.Mul(y)).Add(ez.Mul(z))
}

func (p part) measure(t testing.TB) (*mesh.Scan, *segment.Segmentation, *bolt.Measurement) {
	t.Helper()
	seg := p.surfaces()
	return p.scan(seg), seg, p.bolts(t)
}

// bolts is what package bolt makes of it.
func (p part) bolts(t testing.TB) *bolt.Measurement {
	t.Helper()
	_, _, z := p.axes()
	var m bolt.Measurement
	var ring []bolt.Hole
	for i, a := range p.angles {
		r := p.pitch / 2
		if p.radial != nil {
			r += p.radial[i]
		}
		sin, cos := math.Sincos(a * math.Pi / 180)
		h := bolt.Hole{ID: fmt.Sprintf("H%d", i+1), Kind: bolt.Round, Centre: p.at(r*cos, r*sin, 0), Axis: z,
			Diameter: p.diameter, Face: "P1", Wall: fmt.Sprintf("C%d", i+2), From: bolt.Wall, Arc: 360 * s1.Degree,
			CentreCov: [2][2]float64{{p.u * p.u, 0}, {0, p.u * p.u}}, DiameterU: p.u}
		ring = append(ring, h)
	}
	m.Holes = append(m.Holes, ring...)
	for i, q := range p.extra {
		m.Holes = append(m.Holes, bolt.Hole{ID: fmt.Sprintf("H%d", len(p.angles)+i+1), Kind: bolt.Round,
			Centre: p.at(q.X, q.Y, 0), Axis: z, Diameter: p.extraD, Face: "P1", From: bolt.Rim, Arc: 224 * s1.Degree,
			CentreCov: [2][2]float64{{p.u * p.u, 0}, {0, p.u * p.u}}, DiameterU: p.u})
	}
	if len(ring) >= 3 {
		m.Circles = append(m.Circles, p.circle(t, ring))
	}
	m.Frame = p.frame(m.Circles)
	return &m
}

func (p part) circle(t testing.TB, ring []bolt.Hole) bolt.Circle {
	n := len(ring)
	nominal := p.nominal
	if nominal == nil {
		for i := range n {
			nominal = append(nominal, float64(i)*360/float64(n))
		}
	}
	nom := bolt.Nominal{Irregular: p.irregular}
	for i := range n {
		j := (i + p.clock) % n
		nom.Angles = append(nom.Angles, bolt.Wrap(s1.Angle(nominal[j]-nominal[p.clock])*s1.Degree))
	}
	if !p.irregular {
		nom.Positions = n
		nom.Spacing = s1.Angle(nominal[1]) * s1.Degree
		nom.FullRing = math.Abs(nominal[n-1]+nominal[1]-360) < 1e-6
		nom.Confidence = 0.999
	}
	ordered := append(append([]bolt.Hole{}, ring[p.clock:]...), ring[:p.clock]...)
	c, err := bolt.Clock(ordered, nom)
	require.NoError(t, err)
	c.ID = "B1"
	return c
}

func (p part) frame(circles []bolt.Circle) *bolt.Frame {
	x, y, z := p.axes()
	f := &bolt.Frame{Origin: p.origin, X: x, Y: y, Z: z, Face: "P1"}
	if len(circles) == 0 {
		return nil
	}
	f.Axis = "B1"
	if p.boreD > 0 {
		f.Axis = "C1"
	}
	f.Clock = circles[0].Holes[0]
	sin, cos := math.Sincos(p.angles[p.clock] * math.Pi / 180)
	f.X = x.Mul(cos).Add(y.Mul(sin))
	f.Y = f.Z.Cross(f.X)
	return f
}

func (p part) surfaces() *segment.Segmentation {
	_, _, z := p.axes()
	seg := &segment.Segmentation{Noise: 0.021, Spacing: 0.29}
	rms := fit.ResidualStats{N: 90000, RMS: 0.021, Min: -0.09, Max: 0.09, FormError: 0.18, Sigma: 0.021}
	plane := func(id string, at, n r3.Vector, area float64) {
		seg.Surfaces = append(seg.Surfaces, segment.Surface{ID: id, Area: area, Fit: fit.PlaneFit{
			Plane: fit.Plane{Point: at, Normal: n}, Result: fit.Result{Residuals: rms,
				Cov: [6][6]float64{{1e-8}, {0, 1e-11}, {0, 0, 1e-11}}}}})
	}
	plane("P1", p.at(0, 0, 0), z, 5000)
	plane("P2", p.at(-3, 1, -12), z.Mul(-1), 4000)
	hole := func(id string, at r3.Vector, r float64) {
		c := fit.CylinderFit{Cylinder: fit.Cylinder{Point: at, Axis: z, Radius: r}}
		c.Cov = [6][6]float64{{1e-6}, {0, 1e-6}, {0, 0, 1e-8}, {0, 0, 0, 1e-8}, {0, 0, 0, 0, 1e-6}}
		c.Residuals = fit.ResidualStats{N: 8000, RMS: 0.02, Min: -0.07, Max: 0.07, FormError: 0.14, Sigma: 0.02}
		seg.Surfaces = append(seg.Surfaces, segment.Surface{ID: id, Fit: c, Internal: true,
			Arc: 360 * s1.Degree, Extent: [2]float64{-6, 6}})
	}
	if p.boreD > 0 {
		hole("C1", p.at(0, 0, -6), p.boreD/2)
	}
	for i, a := range p.angles {
		sin, cos := math.Sincos(a * math.Pi / 180)
		hole(fmt.Sprintf("C%d", i+2), p.at(p.pitch/2*cos, p.pitch/2*sin, -6), p.diameter/2)
	}
	return seg
}

// scan puts points on the face and in the bore, with 0.021 mm of noise, and some
// beside them.
func (p part) scan(seg *segment.Segmentation) *mesh.Scan {
	rng := rand.New(rand.NewPCG(1, 2))
	s := &mesh.Scan{Origin: p.origin}
	add := func(q r3.Vector, id int32) int32 {
		d := q.Sub(p.origin)
		s.Offsets = append(s.Offsets, mesh.Vec32{float32(d.X), float32(d.Y), float32(d.Z)})
		seg.PointSurface = append(seg.PointSurface, id)
		return int32(len(s.Offsets) - 1)
	}
	noise := func() float64 { return 0.021 * rng.NormFloat64() }
	for len(seg.Surfaces[0].Points) < 3000 {
		x, y := 100*rng.Float64()-50, 100*rng.Float64()-50
		if r := math.Hypot(x, y); r > 25 && r < 50 {
			seg.Surfaces[0].Points = append(seg.Surfaces[0].Points, add(p.at(x, y, noise()), 0))
		}
	}
	if p.boreD > 0 {
		for range 1200 {
			sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
			r := p.boreD/2 + noise()
			seg.Surfaces[2].Points = append(seg.Surfaces[2].Points, add(p.at(r*cos, r*sin, -12*rng.Float64()), 2))
		}
	}
	for range 40 {
		add(p.at(30*rng.NormFloat64(), 30*rng.NormFloat64(), 30*rng.NormFloat64()), -1)
	}
	s.Source = mesh.Source{File: "kettle-port.xyz", Format: "xyz", Unit: mesh.Millimetre, UnitSource: mesh.UnitGiven, Points: s.Len() + 3}
	s.Removed = mesh.Removed{Broken: 2, Duplicate: 1}
	return s
}

func (p part) report(t testing.TB) *Report {
	t.Helper()
	s, seg, m := p.measure(t)
	return built(t, s, seg, m)
}

func built(t testing.TB, s *mesh.Scan, seg *segment.Segmentation, m *bolt.Measurement) *Report {
	t.Helper()
	rep, err := Build(t.Context(), s, seg, m)
	require.NoError(t, err)
	return rep
}
