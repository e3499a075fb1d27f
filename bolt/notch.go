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
	enough      = 8 // 40 degrees
)

// uncovered returns the sectors that show neither the arc of c nor face beside
// it, true for uncovered, and their number.
func (c *candidate) uncovered(g grain) (open [sectorCount]bool, n int) {
	f := c.face
	seen := c.series.sectors()
	step, steps := max(f.map2.cell, 0.5*g.spacing), 6
	switch {
	case g.drawn():
		step = f.map2.cell
	case f.map2.cell > 1.5*g.spacing: // a cloud's
		steps = 2
	}
	for s := range sectorCount {
		if seen[s] {
			continue
		}
		sin, cos := math.Sincos((float64(s) + 0.5) / sectorCount * 2 * math.Pi)
		faced := false
		for k := 1; k <= steps && !faced; k++ {
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

// end of an uncovered run: its direction, rad, and which way the run lies, +1
// counter-clockwise.
type end struct{ at, way float64 }

// ends returns where uncovered runs begin and end.
func ends(open [sectorCount]bool) []end {
	var out []end
	for s := range sectorCount {
		next := (s + 1) % sectorCount
		at := float64(s+1) / sectorCount * 2 * math.Pi
		switch {
		case !open[s] && open[next]:
			out = append(out, end{at, 1})
		case open[s] && !open[next]:
			out = append(out, end{at, -1})
		}
	}
	return out
}

// notch reports whether the wall candidate is a notch, the end of a slot or a
// rounded corner: where its arc ends the scan goes on beyond it at the same
// depth, on another surface. Where the scan ends too, the wall may have been
// hidden, and it is taken for a hole.
func (f *finder) notch(c *candidate) bool {
	// The far sides of a pocket lie beside the circle of its rounded corner: of what
	// is less than a slot's end it is always asked.
	if _, n := c.uncovered(f.grain); n < enough && c.series.arc() > mostEnd {
		return false
	}
	if f.grain.drawn() {
		return true // nothing is hidden in a drawing
	}
	// Where the wall itself ends.
	walled := c.series.sectors()
	for s := range walled {
		walled[s] = !walled[s]
	}
	g := f.grain
	fc := c.face
	strip := max(4*g.spacing, 0.15*c.r)
	wide := max(strip, 5*c.scale+g.noise)
	near := f.near(fc, c.x, c.y, c.r-wide, c.r+wide, c.lo, c.hi)
	margin := (c.hi - c.lo) / 6
	goesOn, all := 0, 0
	for _, e := range ends(walled) {
		before, beyond := 0, 0
		for _, i := range near {
			q := f.scan.Point(int(i))
			if h := fc.flat.height(q); h < c.lo+margin || h > c.hi-margin {
				continue
			}
			xy := fc.flat.xy(q)
			dx, dy := xy[0]-c.x, xy[1]-c.y
			r := math.Hypot(dx, dy)
			t := wrapHalf(math.Atan2(dy, dx)-e.at) * e.way * c.r // along the arc, beyond its end
			off := math.Abs(r - c.r)
			switch {
			case t < 0 && t > -strip && off < 5*c.scale+g.noise:
				before++
			case t > 0.25*strip && t < strip && off < strip:
				beyond++
			}
		}
		all++
		if 4*beyond > before {
			goesOn++
		}
	}
	return all > 0 && goesOn > 0
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
			if math.Abs(wrapHalf(a-e.at)) < 6*g.spacing/c.r+0.2 {
				on++
				if b.drop[i] < -0.75*g.sink() {
					down++
				}
				break
			}
		}
	})
	return on > 0 && 2*down > on
}
