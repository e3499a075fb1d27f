package segment_test

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/mesh/scansim"
)

func at(x, y, z float64) r3.Vector { return r3.Vector{X: x, Y: y, Z: z} }

func part(name string, s *scansim.Solid, lo, hi r3.Vector) *scansim.Part {
	return scansim.NewPart(name, s, lo, hi, nil)
}

// freeform is the role of faces that are none of the shapes that are looked for.
const freeform = "freeform"

// wavy returns p with waves of the given amplitude and length, mm, on its faces of the
// role freeform, which are level.
func wavy(p *scansim.Part, amplitude, length float64) *scansim.Part {
	k := 2 * math.Pi / length
	return scansim.WithForm(p, scansim.Form{Kind: "waves", Max: amplitude, Slope: k * amplitude,
		Height: func(q, n r3.Vector) float64 { return n.Z * amplitude * math.Sin(k*q.X) * math.Sin(k*q.Y) }}, freeform)
}

func scoreFlange() *scansim.Part {
	return scansim.Flange(scansim.FlangeSpec{Name: "flange", Diameter: 110, Thickness: 10, Chamfer: 2,
		HubDiameter: 45, HubHeight: 6, Bore: 30, PitchDiameter: 84, HoleDiameter: 9, Holes: 6})
}

// Its walls are some ten points high.
func scoreThin() *scansim.Part {
	return scansim.Flange(scansim.FlangeSpec{Name: "thin flange", Diameter: 90, Thickness: 5, Bore: 24, PitchDiameter: 70, HoleDiameter: 6.6, Holes: 6})
}

// A shaft of three steps, the first two 4 % apart in radius, crossed by a
// branch.
func scoreShaft() *scansim.Part {
	x := at(1, 0, 0)
	rod := func(role string, r, from, to float64) *scansim.Solid {
		return scansim.Meet(scansim.Rod(role, at(0, 0, 0), x, r),
			scansim.HalfSpace(role+":from", at(from, 0, 0), x.Mul(-1)), scansim.HalfSpace(role+":to", at(to, 0, 0), x))
	}
	branch := scansim.Meet(scansim.Rod("branch", at(15, 0, 0), at(0, 0.6, 0.8), 8),
		scansim.HalfSpace("branch:end", at(15, 18, 24), at(0, 0.6, 0.8)), scansim.HalfSpace("branch:foot", at(15, 0, 0), at(0, -0.6, -0.8)))
	return part("shaft and tee", scansim.Union(rod("thin", 12.5, -50, 39), rod("less", 13, -15, 39), rod("thick", 16, -2, 40), branch),
		at(-52, -18, -18), at(42, 25, 33))
}

func scoreRibs() *scansim.Part {
	solids := []*scansim.Solid{scansim.Box("top", "bottom", "side", at(-40, -30, -6), at(40, 30, 0))}
	for i := range 4 {
		x := -27 + 18*float64(i)
		n := fmt.Sprintf("rib%d", i+1)
		solids = append(solids, scansim.Box(n+":top", n+":foot", n+":side", at(x-1.5, -24, -3), at(x+1.5, 24, 14)))
	}
	return part("ribs", scansim.Union(solids...), at(-41, -31, -7), at(41, 31, 15))
}

func scorePlate40() *scansim.Part {
	var holes []scansim.HoleSpec
	for i := range 8 {
		for j := range 5 {
			holes = append(holes, scansim.HoleSpec{X: -52.5 + 15*float64(i), Y: -28 + 14*float64(j), Diameter: 3 + 1.5*float64((i+j)%5)})
		}
	}
	return scansim.Plate(scansim.PlateSpec{Name: "40 holes", Length: 125, Width: 75, Thickness: 6, Extras: scansim.Extras{Holes: holes}})
}

func scoreSheet() *scansim.Part {
	return scansim.Flange(scansim.FlangeSpec{Name: "sheet", Diameter: 90, Thickness: 1.5, Bore: 24, PitchDiameter: 60, HoleDiameter: 6.6, Holes: 5})
}

// A casting: a boss with a fillet at its foot and a rounded shoulder, a dome.
func scoreCasting() *scansim.Part {
	z := at(0, 0, 1)
	body := scansim.Box("top", "bottom", "side", at(-45, -30, -12), at(45, 30, 0))
	boss := scansim.Meet(scansim.Rod("boss", at(-18, 0, 0), z, 14), scansim.HalfSpace("boss_top", at(0, 0, 18), z), scansim.HalfSpace("x", at(0, 0, -5), z.Mul(-1)))
	foot := scansim.Minus(
		scansim.Meet(scansim.Rod("none", at(-18, 0, 0), z, 18), scansim.HalfSpace("none2", at(0, 0, 4), z), scansim.HalfSpace("x", at(0, 0, -5), z.Mul(-1))),
		scansim.Ring("fillet", at(-18, 0, 4), z, 18, 4))
	dome := scansim.Ball("dome", at(24, 0, -6), 16)
	bore := scansim.Rod("bore", at(-18, 0, 0), z, 8)
	return part("casting", scansim.Minus(scansim.Union(body, boss, foot, dome), bore), at(-46, -31, -24), at(46, 31, 19))
}

// A casting of blends: a wavy back on a block with rounded corners, a pillar with a
// rounded shoulder and a fillet at its foot, a drafted pillar with a dished top, a
// half round bead; bores with walls of their own.
func scoreBlends() *scansim.Part {
	z := at(0, 0, 1)
	cut := func(h float64) *scansim.Solid { return scansim.HalfSpace("cut", at(0, 0, h), z) }
	foot := scansim.HalfSpace("foot", at(0, 0, -6), z.Mul(-1))
	block := scansim.Meet(scansim.Pocket("corner", at(0, 0, 0), z, at(1, 0, 0), 110, 70, 12),
		scansim.HalfSpace("top", at(0, 0, 0), z), scansim.HalfSpace(freeform, at(0, 0, -14), z.Mul(-1)))
	p := at(-30, 8, 0)
	pillar := scansim.Union(
		scansim.Meet(scansim.Rod("pillar", p, z, 13), cut(18), foot),
		scansim.Meet(scansim.Rod("core", p, z, 9), scansim.HalfSpace("pillar:top", at(0, 0, 22), z), foot),
		scansim.Meet(scansim.Ring("shoulder", p.Add(at(0, 0, 18)), z, 9, 4), foot),
		scansim.Minus(scansim.Meet(scansim.Rod("none", p, z, 18), cut(5), foot), scansim.Ring("fillet", p.Add(at(0, 0, 5)), z, 18, 5)))
	q := at(22, 10, 0)
	draft := scansim.Minus(scansim.Meet(scansim.Spike("draft", q.Add(at(0, 0, 90)), z.Mul(-1), 10*s1.Degree), cut(16), foot),
		scansim.Ball("dish", q.Add(at(0, 0, 24)), 13))
	bead := scansim.Meet(scansim.Rod("bead", at(0, -24, -1), at(1, 0, 0), 5), scansim.HalfSpace("bead:left", at(-40, 0, 0), at(-1, 0, 0)),
		scansim.HalfSpace("bead:right", at(40, 0, 0), at(1, 0, 0)), foot)
	return wavy(part("blends", scansim.Minus(scansim.Union(block, pillar, draft, bead),
		scansim.Rod("bore", p, z, 5), scansim.Rod("hole", at(46, -6, 0), z, 4)), at(-57, -37, -18), at(57, 37, 23)), 2, 60)
}

// A turned part with square grooves, a taper and a large chamfer.
func scoreTurned() *scansim.Part {
	z := at(0, 0, 1)
	ring := func(role string, r, top, h float64) *scansim.Solid {
		return scansim.Disc(role+":top", role+":bottom", role, at(0, 0, top), r, h)
	}
	grooves := func(role string, top, h, r float64) *scansim.Solid {
		return scansim.Minus(ring(role+"x", 60, top, h), scansim.Meet(scansim.Rod(role, at(0, 0, 0), z, r), scansim.HalfSpace("y", at(0, 0, 100), z)))
	}
	body := scansim.Union(ring("flange", 42, 0, 10), ring("neck", 26, 24, 26))
	taper := scansim.Spike("taper", at(0, 0, 74), z.Mul(-1), 25*s1.Degree)
	body = scansim.Minus(scansim.Meet(scansim.Union(body), taper),
		grooves("groove1", -3, 3, 38), grooves("groove2", 12, 4, 22),
		scansim.Rod("bore", at(0, 0, 0), z, 12), scansim.Sink("mouth", at(0, 0, 24), z, 34, 60*s1.Degree))
	return part("turned", body, at(-43, -43, -11), at(43, 43, 25))
}

func scoreBracket() *scansim.Part {
	dir := func(lon, lat float64) r3.Vector {
		a, b := lon*math.Pi/180, lat*math.Pi/180
		return at(math.Cos(a)*math.Cos(b), math.Sin(a)*math.Cos(b), math.Sin(b))
	}
	base := scansim.Box("base", "bottom", "side", at(-30, -25, -5), at(30, 25, 0))
	n := dir(17, 33)
	leaf := scansim.Meet(scansim.HalfSpace("leaf", n.Mul(4), n), scansim.HalfSpace("leaf:back", n.Mul(-4), n.Mul(-1)),
		scansim.HalfSpace("leaf:end", dir(95, 8).Mul(22), dir(95, 8)), scansim.HalfSpace("leaf:other", dir(265, 4).Mul(20), dir(265, 4)),
		scansim.HalfSpace("leaf:tip", at(-17, 0, 30), dir(200, 61)), scansim.HalfSpace("leaf:foot", at(0, 0, -3), at(0, 0, -1)))
	hole := scansim.Rod("leaf:hole", n.Mul(0).Add(at(-10, 4, 18)), n, 6)
	return part("bracket", scansim.Minus(scansim.Union(base, leaf), hole, scansim.Rod("hole1", at(20, -15, 0), at(0, 0, 1), 4), scansim.Rod("hole2", at(20, 15, 0), at(0, 0, 1), 4)),
		at(-45, -32, -6), at(32, 32, 40))
}

func scoreSlots() *scansim.Part {
	return scansim.Plate(scansim.PlateSpec{Name: "slots", Length: 110, Width: 70, Thickness: 7, Corner: 8, Extras: scansim.Extras{
		Slots:   []scansim.SlotSpec{{X: -35, Y: 15, Width: 9, Length: 26, Angle: 30 * s1.Degree}, {X: -30, Y: -18, Width: 7, Length: 16}},
		Pockets: []scansim.PocketSpec{{X: 8, Y: 0, Length: 26, Width: 22, Corner: 4, Angle: 12 * s1.Degree}},
		Holes:   []scansim.HoleSpec{{X: 40, Y: 18, Diameter: 6.6, SinkDiameter: 13}, {X: 40, Y: -18, Diameter: 6.6, SinkDiameter: 13}, {X: 40, Diameter: 5}}}})
}

func scoreFreeform() *scansim.Part {
	body := scansim.Meet(scansim.Box("top", "bottom", "side", at(-40, -30, -16), at(40, 30, 20)), scansim.HalfSpace(freeform, at(0, 0, 0), at(0, 0, 1)))
	return wavy(part("freeform", scansim.Minus(body, scansim.Rod("hole", at(10, 5, 0), at(0, 0, 1), 5)), at(-41, -31, -17), at(41, 31, 6)), 4, 55)
}

// Faces half a millimetre apart.
func scoreStep() *scansim.Part {
	return scansim.Plate(scansim.PlateSpec{Name: "half a millimetre", Length: 90, Width: 60, Thickness: 8, StepLength: 40, StepDepth: 0.5,
		Extras: scansim.Extras{Holes: []scansim.HoleSpec{{X: -20, Diameter: 10}}, Bosses: []scansim.BossSpec{{X: -20, Y: 20, Diameter: 12, Height: 5}}}})
}

// A sector of a ring: arcs of 60 degrees.
func scoreSector() *scansim.Part {
	z := at(0, 0, 1)
	s := math.Sin(30 * math.Pi / 180)
	c := math.Cos(30 * math.Pi / 180)
	ring := scansim.Minus(scansim.Disc("top", "bottom", "outer", at(0, 0, 0), 60, 12), scansim.Rod("inner", at(0, 0, 0), z, 35))
	wedge := scansim.Meet(scansim.HalfSpace("end1", at(0, 0, 0), at(-s, c, 0)), scansim.HalfSpace("end2", at(0, 0, 0), at(-s, -c, 0)))
	return part("sector", scansim.Minus(scansim.Meet(ring, wedge), scansim.Rod("hole", at(48, 0, 0), z, 5)), at(28, -31, -13), at(61, 31, 1))
}

func scoreParts() []*scansim.Part {
	return []*scansim.Part{scoreFlange(), scoreShaft(), scoreRibs(), scorePlate40(), scoreSheet(), scoreCasting(),
		scoreTurned(), scoreBracket(), scoreSlots(), scoreFreeform(), scoreStep(), scoreBlends(), scoreSector(), scoreThin()}
}
