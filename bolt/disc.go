package bolt

import (
	"math"
	"slices"

	"spotface/bolt/hole"
	"spotface/fit/segment"
	"spotface/mesh/geom"
)

// A cloud has no edges to follow: a hole whose wall was not scanned is a disc
// of the face without points. Its edge shows by the nearest point in each
// direction. With λ points a mm² in the face, the gap between the true edge and
// the nearest point in a sector of angle Δ is exponential with the mean
//
//	g = 1/(λ R Δ)
//
// (nearest point of a Poisson process in a thin ring), so that the circle
// through the nearest points reads g too large, and scatters by g.

// ring returns the points of a face that lie about the edge of an empty disc, of which one
// in a sector is expected within gap.
func (f *finder) ring(fc *face, h hole.Place, gap float64) (out [][2]float64) {
	id := int32(slices.IndexFunc(f.seg.Surfaces, func(u segment.Surface) bool { return u.ID == fc.id }))
	far := 5*h.R/3 + 12*gap + 2*fc.cover.Cell
	for _, i := range f.near(fc, h.X, h.Y, h.R/2, far, -6*f.grain.noise, 6*f.grain.noise) {
		if f.seg.PointSurface[i] == id {
			out = append(out, fc.flat.xy(f.scan.Point(int(i))))
		}
	}
	return out
}

// discIn measures an empty disc of a cloud's face as a hole. ok is false where
// it may be chance, is not round, or where something stands on it.
func (f *finder) discIn(fc *face, h hole.Place) (candidate, bool) {
	g := f.grain
	density := float64(len(fc.plane.Points)) / max(fc.area, 1e-12)
	// As large by chance: fewer than 1e-5 discs in all of the face.
	if density*math.Pi*h.R*h.R < math.Log(float64(len(fc.plane.Points)))+12 {
		return candidate{}, false
	}
	const sectors, turn = discSectors, 2 * math.Pi / float64(discSectors)
	ring := f.ring(fc, h, 1/(density*h.R*turn))
	d := disc{Outline: hole.Circle(h.X, h.Y, h.R)}
	var pts [][2]float64
	gap := 0.0
	for range 8 {
		gap = 1 / (density * d.B * turn)
		pts = nearest(ring, d.X, d.Y, d.B+8*gap+2*fc.cover.Cell)
		if len(pts) < sectors-2 {
			return candidate{}, false
		}
		next, err := robustDisc(pts, &d, gap/2)
		if err != nil || math.Hypot(next.X-h.X, next.Y-h.Y) > h.R/3 || math.Abs(next.B-h.R) > h.R/3+4*gap {
			return candidate{}, false
		}
		move := math.Hypot(next.X-d.X, next.Y-d.Y) + math.Abs(next.B-d.B)
		d = next
		if move < 1e-6*d.B {
			break
		}
	}
	spread := math.Hypot(gap, g.noise)
	ev := hole.Evidence{Pts: pts, Pieces: sectors, Cover: &hole.Cover{Cell: fc.cover.Cell}, Spacing: gap, Noise: spread}
	o, ok := ev.Explain(d.Outline)
	if !ok || o.Kind != hole.Round || d.scale > 1.5*spread || f.standsOn(fc, d, density) {
		return candidate{}, false
	}
	return candidate{
		face: fc, x: d.X, y: d.Y, r: d.B - gap, from: Rim, scale: d.scale, points: d.used,
		series: newSeries(pts, hole.Round, d), extraR: gap / 4,
	}, true
}

// nearest returns the point nearest to (x, y) in each sector in which there is one within
// the radius far.
func nearest(pts [][2]float64, x, y, far float64) (out [][2]float64) {
	var near [discSectors][2]float64
	dist := slices.Repeat([]float64{far}, discSectors)
	for _, p := range pts {
		dx, dy := p[0]-x, p[1]-y
		k := min(int(geom.Wrap(math.Atan2(dy, dx))/(2*math.Pi)*discSectors), discSectors-1)
		if d := math.Hypot(dx, dy); d < dist[k] {
			near[k], dist[k] = p, d
		}
	}
	for k, p := range near {
		if dist[k] < far {
			out = append(out, p)
		}
	}
	return out
}

// standsOn reports whether the scan has points above the disc: a boss.
func (f *finder) standsOn(fc *face, d disc, density float64) bool {
	above := len(f.near(fc, d.X, d.Y, 0, 1.05*d.B, 5*f.grain.noise, f.size))
	return float64(above) > 0.1*density*math.Pi*d.B*d.B
}
