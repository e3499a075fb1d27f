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
	"spotface/mesh/scansim"
)

// foundArcs are how much of each hole of a column of the plate is seen, degrees.
var foundArcs = [4]float64{90, 120, 180, 360}

// shownRow is what scans of a plate of equal holes show of them, and how many holes of
// each arc must be found.
type shownRow struct {
	name         string
	cloud, walls bool
	beyond       float64 // spacings that a gap reaches out over the face; 0: 0.6 radii
	least        [4]int
}

// scan simulates a plate of holes of diameter d, each open to its arc in any direction.
func (c shownRow) scan(t *testing.T, seed uint64, d, spacing float64) (*mesh.Scan, *segment.Segmentation, scansim.Truth) {
	t.Helper()
	const rows = 4
	pitch, thick := 1.9*d+1, max(3, 0.6*d)
	var holes []scansim.HoleSpec
	for i := range 4 * rows {
		holes = append(holes, scansim.HoleSpec{X: (float64(i%4) - 1.5) * pitch, Y: (float64(i/4) - (rows-1)/2.0) * pitch, Diameter: d})
	}
	long, wide := 4*pitch+2, rows*pitch+2
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
			if math.Hypot(dx, dy) < gap && math.Abs(wrapHalf(math.Atan2(dy, dx)-1.1*float64(i)-0.3*float64(seed))) > foundArcs[i%4]/2*math.Pi/180 {
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
		area := 2*long*wide + 4*rows*math.Pi*d*thick
		s, truth, err = scansim.Cloud(t.Context(), p, scansim.CloudOptions{Seed: seed, Points: int(area / spacing / spacing), Noise: 0.02, Normals: true, Drop: drop})
		require.NoError(t, err)
		seg, err = labelled(s, truth)
		require.NoError(t, err)
		seg.Spacing = spacing
	} else {
		s, seg, truth = simulate(t, p, scansim.FusedOptions{Seed: seed, Voxel: spacing, Noise: 0.02, Drop: drop})
	}
	if !c.walls {
		seg.Cylinders = nil
	}
	return s, seg, truth
}

// Which holes are found, of 2, 4 and 9 mm at spacings of 0.15, 0.25 and 0.35 mm: walls and
// rims of 90 degrees and more, but no rim whose gap reaches so far out over the face that
// the end of a short slot would look the same, nor discs of a cloud that are open.
//
// 24 holes a number, 8 of each diameter. Of 144 with other seeds (clouds: of 36) were
// found 144, 144, 144, 142; 79, 111, 144, 143; 0, 2, 98, 144; 36, 36, 36, 36; 0, 0, 0, 36.
// At rates 2 % lower fewer than the bounds have a chance of at most 1e-4 each, 6e-4 in
// all. What is not there was told of 3 times in 72 larger scans, all slots where holes
// are: in these 30 more than 5 times has a chance of 3e-4. A diameter is 6 of its
// uncertainties off by chance in 1e-6 of them.
func TestWhatIsFound(t *testing.T) {
	other := 0
	for _, c := range []shownRow{
		{name: "mesh, walls, wide gap", walls: true, least: [4]int{20, 20, 20, 20}},
		{name: "mesh, rims, narrow gap", beyond: 2.5, least: [4]int{4, 9, 20, 20}},
		{name: "mesh, rims, wide gap", least: [4]int{0, 0, 6, 20}},
		{name: "cloud, walls, wide gap", cloud: true, walls: true, least: [4]int{20, 20, 20, 20}},
		{name: "cloud, discs, narrow gap", cloud: true, beyond: 2.5, least: [4]int{0, 0, 0, 20}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var all [4]int
			for _, d := range []float64{2, 4, 9} {
				var found [4]int
				for seed := range uint64(2) {
					s, seg, truth := c.scan(t, 40+seed, d, map[float64]float64{2: 0.15, 4: 0.25, 9: 0.35}[d])
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
							all[is%4]++
							assert.InDelta(t, d, h.Diameter, 6*h.DiameterU, "%v of %v degrees", h.From, foundArcs[is%4])
						case h.Axis.Dot(truth.Holes[0].Axis) > 0.9:
							other++
						}
					}
				}
				t.Logf("%v mm: %v of 8 at %v degrees", d, found, foundArcs)
			}
			for k, n := range all {
				assert.GreaterOrEqual(t, n, c.least[k], "%v degrees", foundArcs[k])
			}
		})
	}
	assert.LessOrEqual(t, other, 5)
}

// Of slots, some all but round, and of pockets with rounded corners one end or corner
// alone is seen, the rest hidden in a gap that ends shortly beyond the circle of that
// end, or takes the whole: what looks most like a hole and is none. Of 240 with other
// seeds 7 passed for one, 5 of them seen over more than half: of these 36 more than 5
// have a chance of 8e-4. Without the rule that the face must come back to the circle 12
// of the 36 do.
func TestEndsAndCornersAreNoHoles(t *testing.T) {
	slots := []scansim.SlotSpec{{X: 20, Y: -25, Width: 6, Length: 8}, {X: -15, Y: 25, Width: 6, Length: 16, Angle: 0.5},
		{X: 0, Y: -25, Width: 8, Length: 10, Angle: 1}, {X: -20, Y: -25, Width: 4, Length: 5, Angle: 2}, {X: 40, Y: -25, Width: 9, Length: 10.5, Angle: -1}}
	pockets := []scansim.PocketSpec{{X: 0, Y: 0, Length: 8, Width: 8, Corner: 3}, {X: 20, Y: 0, Length: 12, Width: 12, Corner: 4},
		{X: -20, Y: 0, Length: 7, Width: 7, Corner: 2.5}, {X: 40, Y: 0, Length: 10, Width: 10, Corner: 4},
		{X: -42, Y: 0, Length: 10, Width: 10, Corner: 3}, {X: 10, Y: 20, Length: 8, Width: 8, Corner: 3}, {X: 25, Y: 22, Length: 12, Width: 8, Corner: 3.5}}
	p := scansim.Plate(scansim.PlateSpec{Length: 110, Width: 80, Thickness: 6, Extras: scansim.Extras{Slots: slots, Pockets: pockets}})
	type corner struct{ x, y, r, at float64 }
	var ends []corner
	for _, s := range slots {
		sin, cos := math.Sincos(s.Angle.Radians())
		ends = append(ends, corner{s.X + (s.Length-s.Width)/2*cos, s.Y + (s.Length-s.Width)/2*sin, s.Width / 2, s.Angle.Radians()})
	}
	for _, s := range pockets {
		ends = append(ends, corner{s.X + s.Length/2 - s.Corner, s.Y + s.Width/2 - s.Corner, s.Corner, math.Pi / 4})
	}
	wrong := 0
	for seed := range uint64(3) {
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
				if math.Hypot(dx, dy) < c.r+beyond[i] && math.Abs(wrapHalf(math.Atan2(dy, dx)-c.at)) > half[i].Radians() {
					return true
				}
			}
			return false
		}})
		seg.Cylinders = nil
		m, err := Measure(t.Context(), s, seg, Options{})
		require.NoError(t, err)
		for _, h := range m.Holes {
			if h.Kind == Round && h.Axis.Dot(truth.Holes[0].Axis) > 0.9 {
				wrong++
				t.Logf("%.2f ± %.2f mm of %.0f degrees", h.Diameter, h.DiameterU, h.Arc.Degrees())
			}
		}
	}
	assert.LessOrEqual(t, wrong, 5)
}
