package bolt

import (
	"math"
	"slices"
)

// A hole of which part was not scanned and a notch in the face's edge look
// alike: an arc of wall or rim, and beyond it neither wall nor face. What
// tells them apart is how the arc ends: where the scan has a gap, or where
// another surface begins.

// enough is how much of the circumference, in sectors of sectorCount, may show
// neither wall nor face before it is asked how the arc ends.
const (
	sectorCount = 72
	enough      = 14 // 70 degrees
)

// uncovered returns the sectors that show neither the arc of c nor face beside
// it, true for uncovered, and their number.
func (c *candidate) uncovered(g grain) (open [sectorCount]bool, n int) {
	f := c.face
	seen := c.series.sectors()
	step := max(f.map2.cell, 0.5*g.spacing)
	if g.drawn() {
		step = f.map2.cell
	}
	for s := range sectorCount {
		if seen[s] {
			continue
		}
		sin, cos := math.Sincos((float64(s) + 0.5) / sectorCount * 2 * math.Pi)
		faced := false
		for k := 1; k <= 6 && !faced; k++ {
			r := c.r + float64(k)*step
			faced = f.map2.covered(c.x+r*cos, c.y+r*sin)
		}
		if !faced {
			open[s] = true
			n++
		}
	}
	return open, n
}

// sectors returns which sectors the arc spans: bins without points count where
// they are no wider than the gaps between points are elsewhere.
func (s arcSeries) sectors() (seen [sectorCount]bool) {
	if len(s.theta) == 0 {
		return seen
	}
	limit := s.widest()
	for i, a := range s.theta {
		b := s.theta[(i+1)%len(s.theta)]
		gap := step(a, b)
		if gap > limit && len(s.theta) > 1 {
			gap = 0
		}
		for t := a; t <= a+gap; t += math.Pi / sectorCount {
			seen[min(int(wrap(t)/(2*math.Pi)*sectorCount), sectorCount-1)] = true
		}
	}
	return seen
}

// widest is the gap between neighbouring bins, rad, beyond which something is
// missing.
func (s arcSeries) widest() float64 {
	gaps := make([]float64, len(s.theta))
	for i, a := range s.theta {
		gaps[i] = step(a, s.theta[(i+1)%len(s.theta)])
	}
	slices.Sort(gaps)
	return max(2.5*gaps[(len(gaps)-1)/2], 4*2*math.Pi/arcBins)
}

// arc returns how much of the circumference was seen, rad.
func (s arcSeries) arc() float64 {
	if len(s.theta) < 2 {
		return 0
	}
	arc := 2 * math.Pi
	limit := s.widest()
	for i, a := range s.theta {
		if gap := step(a, s.theta[(i+1)%len(s.theta)]); gap > limit {
			arc -= gap
		}
	}
	return max(arc, 0)
}

// ends returns the directions, rad, in which an uncovered run begins or ends.
func ends(open [sectorCount]bool) []float64 {
	var out []float64
	for s := range sectorCount {
		if open[s] != open[(s+1)%sectorCount] {
			out = append(out, float64(s+1)/sectorCount*2*math.Pi)
		}
	}
	return out
}

// notch reports whether the wall candidate, points w about it, is a notch: its
// arc ends at another surface, not at a gap in the scan. On a cloud it cannot
// be told, and is taken for a hole.
func (f *finder) notch(c *candidate, near []int32) bool {
	if !f.scan.IsMesh() {
		return false
	}
	open, n := c.uncovered(f.grain)
	if n < enough {
		return false
	}
	all, atEdge := 0, 0
	turn := max(10*math.Pi/180, 2*f.grain.spacing/c.r)
	at := ends(open)
	for _, i := range near {
		xy := c.face.flat.xy(f.scan.Point(int(i)))
		a := math.Atan2(xy[1]-c.y, xy[0]-c.x)
		for _, e := range at {
			if math.Abs(wrapHalf(a-e)) < turn {
				all++
				if f.openEdge(i) {
					atEdge++
				}
				break
			}
		}
	}
	return float64(atEdge) < 0.05*float64(all)
}

// rimNotch reports whether the rim candidate is a notch: where its arc ends,
// the brink goes on outside the circle and still turns down.
func (f *finder) rimNotch(c *candidate, b *brink) bool {
	open, n := c.uncovered(f.grain)
	if n < enough {
		return false
	}
	g := f.grain
	on, down := 0, 0
	at := ends(open)
	b.grid.within(c.x, c.y, c.r+8*g.spacing, func(i int32) {
		dx, dy := b.pts[i][0]-c.x, b.pts[i][1]-c.y
		if math.Hypot(dx, dy) < c.r+max(4*c.scale, g.spacing) {
			return
		}
		a := math.Atan2(dy, dx)
		for _, e := range at {
			if math.Abs(wrapHalf(a-e)) < 6*g.spacing/c.r+0.2 {
				on++
				if b.drop[i] < -max(1.2*g.noise, 0.05*g.spacing) {
					down++
				}
				break
			}
		}
	})
	return on > 0 && 2*down > on
}
