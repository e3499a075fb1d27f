package bolt

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/segment"
	"spotface/mesh/scanio"
	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
)

// slotted is a plate with slots, one of them all but round, and with pockets that
// have rounded corners and are no slots.
func slotted() *scansim.Part {
	return scansim.Plate(scansim.PlateSpec{Length: 90, Width: 70, Thickness: 6, Corner: 6, Extras: scansim.Extras{
		Holes: []scansim.HoleSpec{{X: -35, Y: -25, Diameter: 5}, {X: 35, Y: -25, Diameter: 6}},
		Slots: []scansim.SlotSpec{{X: -10, Y: 0, Width: 6, Length: 9, Angle: 0.4}, {X: 0, Y: -25, Width: 6, Length: 20},
			{X: 10, Y: 22, Width: 8, Length: 40}, {X: -20, Y: -15, Width: 7, Length: 8, Angle: 2}, {X: 25, Y: 0, Width: 9, Length: 18, Angle: 1}},
		Pockets: []scansim.PocketSpec{{X: -28, Y: 5, Length: 12, Width: 12, Corner: 4}, {X: 10, Y: 5, Length: 8, Width: 8, Corner: 3},
			{X: 30, Y: -15, Length: 8, Width: 12, Corner: 3}, {X: -30, Y: 22, Length: 12, Width: 8, Corner: 3.5}},
	}})
}

// Slots of a mesh by wall and by rim, and of a cloud by wall: none called round, no
// pocket called a slot, all numbers within 4.5 standard uncertainties, and of each
// kind of number, taken together, 93 % within two, by Student's distribution. Rims tell
// 53 of 60 slots. False-alarm rate: 1e-4 a check.
func TestSlots(t *testing.T) {
	type shown struct{ within, all int }
	var width, length, direction, centre shown
	for name, c := range map[string]struct {
		scan func(seed uint64) (*Measurement, scansim.Truth)
		rate float64
		from From
	}{
		"mesh, walls": {func(seed uint64) (*Measurement, scansim.Truth) {
			s, seg, truth := simulate(t, slotted(), scansim.FusedOptions{Seed: seed, Voxel: 0.68, Noise: 0.02, Missing: 0.005})
			m, err := Measure(t.Context(), s, seg, Options{})
			require.NoError(t, err)
			return m, truth
		}, 0.99, Wall},
		"mesh, rims": {func(seed uint64) (*Measurement, scansim.Truth) {
			s, seg, truth := simulate(t, slotted(), scansim.FusedOptions{Seed: seed, Voxel: 0.5, Noise: 0.02, Missing: 0.005,
				Drop: func(q r3.Vector) bool { return q.Z < -0.3 && q.Z > -5 }})
			m, err := Measure(t.Context(), s, seg, Options{})
			require.NoError(t, err)
			return m, truth
		}, 53.0 / 60, Rim},
		"cloud": {func(seed uint64) (*Measurement, scansim.Truth) {
			s, truth, err := scansim.Cloud(t.Context(), slotted(), scansim.CloudOptions{Seed: seed, Points: 48_000, Noise: 0.04, Normals: true})
			require.NoError(t, err)
			seg, err := labelled(s, truth)
			require.NoError(t, err)
			m, err := Measure(t.Context(), s, seg, Options{})
			require.NoError(t, err)
			return m, truth
		}, 1, Wall},
	} {
		if testing.Short() && name == "mesh, walls" {
			continue // the larger of two meshes
		}
		t.Run(name, func(t *testing.T) {
			before := width.all
			tell := func(s *shown, what string, e, u float64) {
				assert.Less(t, math.Abs(e), 4.5*u, what)
				if s.all++; math.Abs(e) < 2*u {
					s.within++
				}
			}
			{
				m, truth := c.scan(0)
				_, missed := matched(t, m, truth)
				assert.Empty(t, missed)
				if name != "cloud" {
					sameRectangles(t, m, truth)
				}
				for _, h := range m.Holes {
					for _, q := range truth.Holes {
						if h.Kind != Slot || q.Kind != "slot" || q.Centre.Distance(h.Centre) > 0.3 {
							continue
						}
						assert.Equal(t, c.from, h.From)
						assert.Zero(t, h.Diameter)
						tell(&width, "width", h.Width-q.Width, h.WidthU)
						tell(&length, "length", h.Length-q.Length, h.LengthU)
						turn := math.Asin(h.Direction.Cross(q.Direction).Dot(h.Axis))
						tell(&direction, "direction", turn, float64(h.DirectionU))
						d := h.Centre.Sub(q.Centre).Dot(h.Direction.Cross(h.Axis)) // across
						e1, e2 := newFlat(h.Centre, h.Axis).e1, newFlat(h.Centre, h.Axis).e2
						a := [2]float64{h.Direction.Cross(h.Axis).Dot(e1), h.Direction.Cross(h.Axis).Dot(e2)}
						v := a[0]*a[0]*h.CentreCov[0][0] + 2*a[0]*a[1]*h.CentreCov[0][1] + a[1]*a[1]*h.CentreCov[1][1]
						tell(&centre, "centre", d, math.Sqrt(v))
					}
				}
			}
			assert.GreaterOrEqual(t, width.all-before, trials.Least(5, c.rate, 1e-4))
		})
	}
	for _, s := range []shown{width, length, direction, centre} {
		assert.GreaterOrEqual(t, s.within, trials.Least(s.all, 0.93, 1e-4))
	}
}

// sameRectangles checks the four pockets of a slotted plate: each is a rectangle, where it
// is, and as long and wide as it is within 4.5 standard uncertainties. False-alarm rate: 4
// times 3 numbers of Student's distribution with 10 degrees of freedom or more, 1e-3 each.
func sameRectangles(t *testing.T, m *Measurement, truth scansim.Truth) {
	t.Helper()
	// x, y, length, width
	for _, w := range [][4]float64{{-28, 5, 12, 12}, {10, 5, 8, 8}, {30, -15, 12, 8}, {-30, 22, 12, 8}} {
		at := truth.Pose.Apply(r3.Vector{X: w[0], Y: w[1]})
		n := 0
		for _, h := range m.Holes {
			if h.Kind != Rectangle || h.Centre.Distance(at) > 0.3 {
				continue
			}
			n++
			assert.InDelta(t, w[2], h.Length, 4.5*h.LengthU)
			assert.InDelta(t, w[3], h.Width, 4.5*h.WidthU)
			assert.InDelta(t, 0, h.Centre.Distance(at), 4.5*math.Sqrt(h.CentreCov[0][0]+h.CentreCov[1][1]))
			assert.Less(t, h.LengthU, 0.25, "not a guess")
		}
		assert.Equal(t, 1, n, w)
	}
	assert.Len(t, m.Holes, 11, "two holes, five slots, four rectangles")
}

// stadium returns the outline of a slot, turned.
func stadium(half, r, turn float64) []r3.Vector {
	const turns = 48
	var out []r3.Vector
	for k := range 2 * turns {
		side := 1.0
		a := math.Pi * (float64(k)/(turns-1) - 0.5)
		if k >= turns {
			side, a = -1, math.Pi*(float64(k-turns)/(turns-1)+0.5)
		}
		x, y := side*half+r*math.Cos(a), r*math.Sin(a)
		out = append(out, r3.Vector{X: x*math.Cos(turn) - y*math.Sin(turn), Y: x*math.Sin(turn) + y*math.Cos(turn)})
	}
	return out
}

// drawing is an STL text under construction.
type drawing struct{ strings.Builder }

func (d *drawing) tri(p ...r3.Vector) {
	d.WriteString("facet normal 0 0 0\nouter loop\n")
	for _, q := range p {
		fmt.Fprintf(d, "vertex %.9g %.9g %.9g\n", q.X, q.Y, q.Z)
	}
	d.WriteString("endloop\nendfacet\n")
}

// strip adds the triangles between two loops, a on the left seen along them from outside.
func (d *drawing) strip(a, b []r3.Vector, ha, hb float64) {
	up, down := r3.Vector{Z: ha}, r3.Vector{Z: hb}
	for k := range a {
		j := (k + 1) % len(a)
		d.tri(a[k].Add(up), b[k].Add(down), b[j].Add(down))
		d.tri(a[k].Add(up), b[j].Add(down), a[j].Add(up))
	}
}

func (d *drawing) measured(t *testing.T) *Measurement {
	t.Helper()
	file := "solid slot\n" + d.String() + "endsolid slot\n"
	s, err := scanio.ReadFrom(t.Context(), strings.NewReader(file), int64(len(file)), "slot.stl", scanio.Options{})
	require.NoError(t, err)
	seg, err := segment.Segment(t.Context(), s, segment.Options{})
	require.NoError(t, err)
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	return m
}

// A drawing's mesh has the slot's own numbers: points on the edges only, none along
// the flanks.
func TestSlotOfADrawing(t *testing.T) {
	in, out := stadium(11, 4, 0.5), stadium(11, 20, 0.5)
	var d drawing
	d.strip(in, out, 6, 6) // top
	d.strip(out, in, 0, 0) // bottom
	d.strip(in, in, 0, 6)  // slot
	d.strip(out, out, 6, 0)
	m := d.measured(t)
	require.Len(t, m.Holes, 1)
	h := m.Holes[0]
	assert.Equal(t, Slot, h.Kind)
	assert.InDelta(t, 8, h.Width, 1e-4)
	assert.InDelta(t, 30, h.Length, 1e-4)
	assert.InDelta(t, 0.5, math.Atan2(h.Direction.Y, h.Direction.X), 1e-5)
	assert.InDelta(t, 0, math.Hypot(h.Centre.X, h.Centre.Y), 1e-4)
}

// A bore that is printed lying has a roof of two planes: it is a hole as round as its wall
// shows, and has that wall.
func TestTeardropOfADrawing(t *testing.T) {
	var in, out []r3.Vector
	for k := range 55 {
		sin, cos := math.Sincos((135 + 5*float64(k)) * math.Pi / 180)
		in = append(in, r3.Vector{X: 4 * cos, Y: 4 * sin})
	}
	in = append(in, r3.Vector{Y: 4 * math.Sqrt2})
	for _, p := range in {
		out = append(out, p.Mul(20/max(math.Abs(p.X), math.Abs(p.Y))))
	}
	var d drawing
	d.strip(in, out, 6, 6) // top
	d.strip(out, in, 0, 0) // bottom
	d.strip(in, in, 0, 6)  // bore
	d.strip(out, out, 6, 0)
	m := d.measured(t)
	require.Len(t, m.Holes, 1)
	h := m.Holes[0]
	assert.Equal(t, Round, h.Kind)
	assert.NotEmpty(t, h.Wall)
	assert.InDelta(t, 8, h.Diameter, 1e-4)
	assert.InDelta(t, 270, h.Arc.Degrees(), 1)
	assert.InDelta(t, 0, math.Hypot(h.Centre.X, h.Centre.Y), 1e-4)
}

// The outline of an engraved 0 is a slot's, with an island in it.
func TestEngravedTextIsNoSlot(t *testing.T) {
	in, out, island := stadium(3, 4, 0.5), stadium(11, 20, 0.5), stadium(3, 2.5, 0.5)
	var d drawing
	d.strip(in, out, 6, 6) // top
	d.strip(out, out, 6, 0)
	d.strip(in, in, 4, 6)         // groove
	d.strip(island, in, 4, 4)     // its floor
	d.strip(island, island, 6, 4) // island
	for k := range island {
		d.tri(r3.Vector{Z: 6}, island[k].Add(r3.Vector{Z: 6}), island[(k+1)%len(island)].Add(r3.Vector{Z: 6}))
	}
	assert.Empty(t, d.measured(t).Holes)
}
