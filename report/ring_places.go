package report

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/bolt"
	"spotface/mesh/geom"
)

// ringPlaces are a circle's holes against their places in a pattern that is turned
// to its best fit.
type ringPlaces struct {
	axis    r3.Vector
	centre  r3.Vector // of the pattern, unless it is the holes' own
	own     bool
	radius  float64 // of the pattern, mm
	factor  float64 // of lengths as scanned
	holes   []*Hole
	nominal []float64 // degrees
	// common is what two different holes' errors have in common.
	common func(a, b bolt.Hole) [2][2]float64
}

// found returns how far each hole is from its place. The holes themselves turn the
// pattern, and centre it where there is no bore, so a hole's own error is in part
// taken along, and holes that share a radius err together: covariances by central
// differences.
func (p *ringPlaces) found() []found {
	n := len(p.holes)
	bolts := boltsOf(p.holes)
	off, centre := p.off(bolts)
	e1, e2 := geom.Basis(p.axis)
	out := make([]found, n)
	for i, h := range p.holes {
		from := bolts[i].Centre.Sub(centre)
		out[i] = found{hole: h, off: off[i], from: [2]float64{from.Dot(e1), from.Dot(e2)}}
	}
	const step = 1e-3                // mm
	by := make([][2][][2]float64, n) // of all holes' places by a coordinate of each
	for j := range bolts {
		b := &bolts[j]
		was := b.Centre
		x, y := geom.Basis(b.Axis)
		for k, way := range []r3.Vector{x, y} {
			b.Centre = was.Add(way.Mul(step))
			up, _ := p.off(bolts)
			b.Centre = was.Sub(way.Mul(step))
			down, _ := p.off(bolts)
			b.Centre = was
			for i := range up {
				up[i][0], up[i][1] = (up[i][0]-down[i][0])/(2*step), (up[i][1]-down[i][1])/(2*step)
			}
			by[j][k] = up
		}
	}
	for j, a := range bolts {
		for m, b := range bolts {
			c := a.CentreCov
			if j != m {
				c = p.common(a, b)
			}
			for i := range out {
				for k := range 2 {
					for l := range 2 {
						out[i].cov.add(c[k][l], by[j][k][i], by[m][l][i])
					}
				}
			}
		}
	}
	return out
}

// off returns how far the holes are off, mm, along geom.Basis(axis), and the
// pattern's centre.
func (p *ringPlaces) off(holes []bolt.Hole) (off [][2]float64, centre r3.Vector) {
	centre = p.centre
	if p.own {
		if c, err := bolt.Clock(holes, bolt.Nominal{Irregular: true}); err == nil {
			centre = c.Centre
		}
	}
	e1, e2 := geom.Basis(p.axis)
	off = make([][2]float64, len(holes))
	angle := make([]float64, len(holes))
	turn := 0.0
	for i, h := range holes {
		d := h.Centre.Sub(centre)
		off[i] = [2]float64{d.Dot(e1), d.Dot(e2)}
		angle[i] = wrap180(degrees(math.Atan2(off[i][1], off[i][0])) - p.nominal[i])
		turn += wrap180(angle[i]-angle[0]) / float64(len(holes))
	}
	turn += angle[0]
	for i := range off {
		sin, cos := math.Sincos((p.nominal[i] + turn) * math.Pi / 180)
		off[i] = [2]float64{off[i][0]*p.factor - p.radius*cos, off[i][1]*p.factor - p.radius*sin}
	}
	return off, centre
}

func boltsOf(holes []*Hole) []bolt.Hole {
	out := make([]bolt.Hole, len(holes))
	for i, h := range holes {
		out[i] = h.asBolt()
	}
	return out
}
