package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/geom"
	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
)

// foundArcs are how much of each hole of a column of the plate is seen, degrees.
var foundArcs = [4]float64{90, 120, 180, 360}

// shownRow is what scans of a plate of equal holes show of them.
type shownRow struct {
	name         string
	cloud, walls bool
	beyond       float64 // spacings that a gap reaches out over the face; 0: 0.6 radii
	from         int     // holes of this of foundArcs and more are found
}

func shownRows() []shownRow {
	return []shownRow{
		{name: "mesh, walls, wide gap", walls: true},
		{name: "mesh, rims, narrow gap", beyond: 2.5, from: 2},
		{name: "mesh, rims, wide gap", from: 3},
		{name: "cloud, walls, wide gap", cloud: true, walls: true},
		{name: "cloud, discs, narrow gap", cloud: true, beyond: 2.5, from: 3},
	}
}

// scan simulates a plate of rows of four holes of diameter d, each open to its arc in any
// direction.
func (c shownRow) scan(t *testing.T, seed uint64, rows int, d, spacing float64) (*mesh.Scan, *segment.Segmentation, scansim.Truth) {
	t.Helper()
	pitch, thick := 1.9*d+1, max(3, 0.6*d)
	var holes []scansim.HoleSpec
	for i := range 4 * rows {
		holes = append(holes, scansim.HoleSpec{X: (float64(i%4) - 1.5) * pitch, Y: (float64(i/4) - float64(rows-1)/2) * pitch, Diameter: d})
	}
	long, wide := 4*pitch+2, float64(rows)*pitch+2
	p := scansim.Plate(scansim.PlateSpec{Length: long, Width: wide, Thickness: thick, Extras: scansim.Extras{Holes: holes}})
	gap := 0.8*d + 0.3
	if c.beyond > 0 {
		gap = d/2 + c.beyond*spacing
	}
	drop := func(q r3.Vector) bool {
		if !c.walls && (q.Z < -spacing || c.cloud && q.Z < -1e-9) {
			return true
		}
		for i, h := range holes {
			dx, dy := q.X-h.X, q.Y-h.Y
			if math.Hypot(dx, dy) < gap && math.Abs(geom.WrapHalf(math.Atan2(dy, dx)-1.1*float64(i)-0.3*float64(seed))) > foundArcs[i%4]/2*math.Pi/180 {
				return true
			}
		}
		return false
	}
	var s *mesh.Scan
	var seg *segment.Segmentation
	var truth scansim.Truth
	if c.cloud {
		var err error
		area := 2*long*wide + 4*float64(rows)*math.Pi*d*thick
		s, truth, err = scansim.Cloud(t.Context(), p, scansim.CloudOptions{Seed: seed, Points: int(area / spacing / spacing), Noise: 0.02, Normals: true, Drop: drop})
		require.NoError(t, err)
		seg, err = labelled(s, truth)
		require.NoError(t, err)
		seg.Spacing = spacing
	} else {
		s, seg, truth = simulate(t, p, scansim.FusedOptions{Seed: seed, Voxel: spacing, Noise: 0.02, Drop: drop})
	}
	if !c.walls {
		withoutWalls(seg, s)
	}
	return s, seg, truth
}

// found measures a scan of holes of diameter d, and returns how many of each arc are
// found, and what else is called a hole.
func (c shownRow) found(t *testing.T, seed uint64, rows int, d float64) (found [4]int, other int) {
	s, seg, truth := c.scan(t, seed, rows, d, map[float64]float64{2: 0.15, 4: 0.25, 9: 0.35}[d])
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	for _, h := range m.Holes {
		is := -1
		for i, q := range truth.Holes {
			if h.Kind == Round && q.Axis.Dot(h.Axis) > 0.9 && q.Centre.Distance(h.Centre) < 0.3*d {
				is = i
			}
		}
		switch {
		case is >= 0:
			found[is%4]++
			assert.InDelta(t, d, h.Diameter, 6*h.DiameterU, "%v of %v degrees", h.From, foundArcs[is%4])
		case h.Axis.Dot(truth.Holes[0].Axis) > 0.9:
			other++
		}
	}
	return found, other
}

// Which holes of 4 mm are found at a spacing of 0.25 mm: walls of 90 degrees and more, and
// rims where no gap reaches so far out over the face that the end of a short slot would
// look the same, nor discs of a cloud that are open. By the study at least 142 of 144 are.
//
// What is not there was reported 3 times in 72 larger scans, all slots where holes are. A
// diameter is 6 of its uncertainties off by chance in 1e-6 of them. False-alarm rate: 1e-4
// a check.
func TestWhatIsFound(t *testing.T) {
	const rows = 2
	wrong, sure, all, kinds := 0, 0, 0, shownRows()[:trials.Of(5, 2)]
	for _, c := range kinds {
		found, other := c.found(t, 40, rows, 4)
		t.Logf("%s: %v found, %d that are not there", c.name, found, other)
		wrong += other
		for _, n := range found[c.from:] {
			sure, all = sure+n, all+rows
		}
	}
	assert.GreaterOrEqual(t, sure, trials.Least(all, 142.0/144, 1e-4))
	assert.LessOrEqual(t, wrong, trials.Most(len(kinds), 3.0/72, 1e-4))
}

// endsAndCorners scans plates, one a seed, whose slots, some all but round, and pockets
// with rounded corners show one end or corner alone, the rest hidden in a gap that ends
// shortly beyond the circle of that end, or takes the whole: what looks most like a hole
// and is none. It returns how many pass for one, of how many.
func endsAndCorners(t *testing.T, seeds ...uint64) (wrong, all int) {
	slots := []scansim.SlotSpec{{X: 20, Y: -25, Width: 6, Length: 8}, {X: -15, Y: 25, Width: 6, Length: 16, Angle: 0.5},
		{X: 0, Y: -25, Width: 8, Length: 10, Angle: 1}, {X: -20, Y: -25, Width: 4, Length: 5, Angle: 2}, {X: 40, Y: -25, Width: 9, Length: 10.5, Angle: -1}}
	pockets := []scansim.PocketSpec{{X: 0, Y: 0, Length: 8, Width: 8, Corner: 3}, {X: 20, Y: 0, Length: 12, Width: 12, Corner: 4},
		{X: -20, Y: 0, Length: 7, Width: 7, Corner: 2.5}, {X: 40, Y: 0, Length: 10, Width: 10, Corner: 4},
		{X: -42, Y: 0, Length: 10, Width: 10, Corner: 3}, {X: 10, Y: 20, Length: 8, Width: 8, Corner: 3}, {X: 25, Y: 22, Length: 12, Width: 8, Corner: 3.5}}
	p := scansim.Plate(scansim.PlateSpec{Length: 110, Width: 80, Thickness: 2, Extras: scansim.Extras{Slots: slots, Pockets: pockets}})
	type corner struct{ x, y, r, at float64 }
	var ends []corner
	for _, s := range slots {
		sin, cos := math.Sincos(s.Angle.Radians())
		ends = append(ends, corner{s.X + (s.Length-s.Width)/2*cos, s.Y + (s.Length-s.Width)/2*sin, s.Width / 2, s.Angle.Radians()})
	}
	for _, s := range pockets {
		ends = append(ends, corner{s.X + s.Length/2 - s.Corner, s.Y + s.Width/2 - s.Corner, s.Corner, math.Pi / 4})
	}
	for _, seed := range seeds {
		voxel := 0.3 + 0.05*float64(seed%3)
		rng := rand.New(rand.NewPCG(seed, 77))
		half, beyond := make([]s1.Angle, len(ends)), make([]float64, len(ends))
		for i := range ends {
			ends[i].at += 0.2 * rng.NormFloat64()
			half[i], beyond[i] = s1.Angle(40+40*rng.Float64())*s1.Degree, voxel*(1.5+2.5*rng.Float64())
			if i%2 == int(seed%2) {
				beyond[i] = (1.2 + rng.Float64()) * ends[i].r
			}
		}
		s, seg, truth := simulate(t, p, scansim.FusedOptions{Seed: 700 + seed, Voxel: voxel, Noise: 0.02, Drop: func(q r3.Vector) bool {
			if q.Z < -voxel {
				return true
			}
			for i, c := range ends {
				dx, dy := q.X-c.x, q.Y-c.y
				if math.Hypot(dx, dy) < c.r+beyond[i] && math.Abs(geom.WrapHalf(math.Atan2(dy, dx)-c.at)) > half[i].Radians() {
					return true
				}
			}
			return false
		}})
		withoutWalls(seg, s)
		m, err := Measure(t.Context(), s, seg, Options{})
		require.NoError(t, err)
		for _, h := range m.Holes {
			if h.Kind == Round && h.Axis.Dot(truth.Holes[0].Axis) > 0.9 {
				wrong++
				t.Logf("%.2f ± %.2f mm of %.0f degrees", h.Diameter, h.DiameterU, h.Arc.Degrees())
			}
		}
	}
	return wrong, len(seeds) * len(ends)
}

// Of 240 ends and corners of a study 7 passed for holes, 5 of them seen over more than
// half. Without the rule that the face must come back to the circle 12 of 36 do.
// False-alarm rate: 1e-3.
func TestEndsAndCornersAreNoHoles(t *testing.T) {
	wrong, all := endsAndCorners(t, []uint64{2, 1}[:trials.Of(2, 1)]...)
	assert.LessOrEqual(t, wrong, trials.Most(all, 7.0/240, 1e-3))
}
