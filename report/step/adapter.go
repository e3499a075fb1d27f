package step

import (
	"github.com/golang/geo/r2"

	"spotface/report"
)

// Adapter returns the plate as a closed body, its lower side at z = 0.
func Adapter(ad *report.Adapter) Body {
	outline, t := Circle(r2.Point{}, ad.Outside/2), ad.Thickness
	upper := Floor{Name: "upper side", Z: t, Up: true, Outer: outline}
	lower := Floor{Name: "lower side", Outer: outline}
	b := Body{Name: "adapter", Walls: []Wall{Straight("outside", outline, 0, t, false)}}
	through := func(name string, c Contour, z0, z1 float64) {
		b.Walls = append(b.Walls, Straight(name, c, z0, z1, true))
	}
	if k := ad.Bore; k != nil {
		c := Circle(r2.Point{X: k.XY[0], Y: k.XY[1]}, k.Diameter/2)
		through("bore", c, 0, t)
		upper.Inner, lower.Inner = append(upper.Inner, c), append(lower.Inner, c)
	}
	for _, h := range ad.Holes {
		at := r2.Point{X: h.XY[0], Y: h.XY[1]}
		hole := Circle(at, h.Diameter/2)
		name := h.ID
		if h.Thread != "" {
			name += " tap " + h.Thread
		}
		top, bottom := hole, hole
		z0, z1 := 0.0, t
		if k := h.Counterbore; k != nil {
			wide := Circle(at, k.Diameter/2)
			seat := Floor{Name: h.ID + " seat", Z: t - k.Depth, Up: true, Outer: wide,
				Inner: []Contour{hole}}
			if h.Below {
				seat.Z, seat.Up, bottom, z0 = k.Depth, false, wide, k.Depth
				through(h.ID+" counterbore", wide, 0, z0)
			} else {
				top, z1 = wide, t-k.Depth
				through(h.ID+" counterbore", wide, z1, t)
			}
			b.Floors = append(b.Floors, seat)
		}
		through(name, hole, z0, z1)
		upper.Inner, lower.Inner = append(upper.Inner, top), append(lower.Inner, bottom)
	}
	b.Floors = append(b.Floors, upper, lower)
	return b
}
