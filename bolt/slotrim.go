package bolt

import (
	"math"
	"slices"
)

// slotByRim measures the slot in a hollow by its rim on a mesh. All round, it must
// turn down as the rim of a hole does; the brink of a gap lies at the face's height
// and is left out.
func (f *finder) slotByRim(fc *face, h hollow, b *brink) (slot, bool) {
	g := f.grain
	o := outline{h.long, h.r}
	band := 3*fc.map2.cell + 2*g.spacing + 3*g.noise
	rough := max(3*g.noise, 0.4*g.spacing)
	var idx, about []int32 // of its rim; of all that lies where that would be
	var pts [][2]float64
	var ends [2]disc
	var of [2][]int32
	for range 3 {
		about = nil
		b.grid.within(o.x, o.y, o.half+o.r+band, func(i int32) {
			if d, _, _ := o.off(b.pts[i]); math.Abs(d) <= band {
				about = append(about, i)
			}
		})
		slices.Sort(about)
		idx, pts = nil, nil
		for _, i := range about {
			if g.drawn() || b.drop[i] < -0.5*g.sink() {
				idx, pts = append(idx, i), append(pts, b.pts[i])
			}
		}
		var ok bool
		if ends, of, ok = o.fit(pts, g); !ok {
			return slot{}, false
		}
		band = max(1.2*g.spacing, 3*g.noise)
	}
	if !b.turnsDown(&o, about, g) || !f.isSlot(fc, &o, ends, pts, rough) {
		return slot{}, false
	}
	for k, d := range ends {
		var at []int32
		var its [][2]float64
		for _, i := range of[k] {
			at, its = append(at, idx[i]), append(its, pts[i])
		}
		if b.scattered(d, at, its, g) {
			return slot{}, false
		}
	}
	return f.slotOf(fc, &o, ends, pts, nil, of)
}

// leastEnd is how many of an end's six parts of 30 degrees must turn down.
const leastEnd = 4

// turnsDown reports whether the brink's points about the outline lie below the face:
// on the whole of each flank, and on most of each end, part by part, so that neither a
// few points of a gap's noisy edge are an end, nor the beginning of a gap beside one.
// (The shares of grain.sink are chosen by simulation: of 1,000 scans with a third of each
// hole missing none shows a slot.)
func (b *brink) turnsDown(o *outline, about []int32, g grain) bool {
	if g.drawn() {
		return true
	}
	type part struct{ sunk, n float64 }
	var flanks [2]part
	var ends [2][6]part
	for _, i := range about {
		p := b.pts[i]
		t, across := (p[0]-o.x)*o.ux+(p[1]-o.y)*o.uy, (p[1]-o.y)*o.ux-(p[0]-o.x)*o.uy
		at := &flanks[0]
		if across > 0 {
			at = &flanks[1]
		}
		if beyond := math.Abs(t) - o.half; beyond > 0 {
			k := 0
			if t > 0 {
				k = 1
			}
			at = &ends[k][min(int(6*(0.5+math.Atan2(across, beyond)/math.Pi)), 5)]
		}
		at.sunk += b.drop[i]
		at.n++
	}
	for _, p := range flanks {
		if p.n > 0 && p.sunk/p.n > -0.4*g.sink() {
			return false
		}
	}
	for _, end := range ends {
		down := 0
		for _, p := range end {
			if p.n > 0 && p.sunk/p.n < -0.6*g.sink() {
				down++
			}
		}
		if down < leastEnd {
			return false
		}
	}
	return true
}
