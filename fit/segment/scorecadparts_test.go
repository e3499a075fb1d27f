package segment_test

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/mesh/geom"
	"spotface/mesh/scansim"
)

// cadPart is a part of planes and cylinders and the number of points that are
// strewn over it.
type cadPart struct {
	*scansim.Part
	points int
}

var (
	ex = r3.Vector{X: 1}
	ey = r3.Vector{Y: 1}
	ez = r3.Vector{Z: 1}
)

// bar is a cylinder about axis from p, of radius r, that ends at from and to.
func bar(role string, p, axis r3.Vector, r, from, to float64) *scansim.Solid {
	return scansim.Meet(scansim.Rod(role, p, axis, r),
		scansim.HalfSpace(role+":from", p.Add(axis.Mul(from)), axis.Mul(-1)),
		scansim.HalfSpace(role+":to", p.Add(axis.Mul(to)), axis))
}

func block(role string, lo, hi r3.Vector) *scansim.Solid {
	return scansim.Box(role+":top", role+":bottom", role+":side", lo, hi)
}

func cad(name string, points int, s *scansim.Solid, lo, hi r3.Vector) cadPart {
	return cadPart{part(name, s, lo.Sub(at(1, 1, 1)), hi.Add(at(1, 1, 1))), points}
}

func cadParts() []cadPart {
	return []cadPart{cadPlate(), cadAngle(), cadShaft(), cadFlange(), cadRibs(), cadSlots(), cadClevis(), cadBearing(),
		cadPulley(), cadBolt(), cadTray(), cadTee(), cadFins(), cadLink(), cadSocket(), cadGearbox()}
}

func cadPlate() cadPart {
	tools := []*scansim.Solid{}
	for i, r := range []float64{2.5, 3.5, 5, 6, 3, 9} {
		tools = append(tools, scansim.Rod(fmt.Sprint("hole", i), at(-35+35*float64(i%3), -18+36*float64(i/3), 0), ez, r))
	}
	return cad("plate", 12_000, scansim.Minus(block("plate", at(-50, -32, -8), at(50, 32, 0)), tools...), at(-50, -32, -8), at(50, 32, 0))
}

// An angle bracket with a gusset.
func cadAngle() cadPart {
	gusset := scansim.Meet(block("gusset", at(-3, 0, 0), at(3, 30, 30)), scansim.HalfSpace("slope", at(0, 28, 6), at(0, 1, 1)))
	body := scansim.Union(block("foot", at(-25, 0, 0), at(25, 45, 6)), block("wall", at(-25, 0, 0), at(25, 6, 50)), gusset)
	return cad("angle", 9_000, scansim.Minus(body,
		scansim.Rod("foot1", at(-15, 33, 0), ez, 3.5), scansim.Rod("foot2", at(15, 33, 0), ez, 3.5),
		scansim.Rod("wall1", at(-14, 0, 38), ey, 4), scansim.Rod("wall2", at(14, 0, 38), ey, 4)),
		at(-25, 0, 0), at(25, 45, 50))
}

// A stepped shaft with a keyway and a flat.
func cadShaft() cadPart {
	body := scansim.Union(bar("a", r3.Vector{}, ex, 8, -60, -38), bar("b", r3.Vector{}, ex, 11, -40, -8), bar("c", r3.Vector{}, ex, 15, -10, 4),
		bar("d", r3.Vector{}, ex, 12, 2, 36), bar("e", r3.Vector{}, ex, 9, 34, 60))
	key := scansim.Meet(scansim.Slot("key", at(-24, 0, 13), ez, ex, 5, 20), scansim.HalfSpace("floor", at(0, 0, 7), ez.Mul(-1)))
	flat := scansim.Union(scansim.HalfSpace("flat", at(0, 0, 6.5), ez), scansim.HalfSpace("stop", at(42, 0, 0), ex))
	return cad("shaft", 10_000, scansim.Minus(scansim.Meet(body, flat), key), at(-60, -15, -15), at(60, 15, 15))
}

// A flange with a hub, a stepped bore and eight holes.
func cadFlange() cadPart {
	tools := []*scansim.Solid{scansim.Rod("bore", r3.Vector{}, ez, 14), bar("recess", r3.Vector{}, ez, 19, 20, 50)}
	for i := range 8 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 4)
		tools = append(tools, scansim.Rod(fmt.Sprint("hole", i), at(42*cos, 42*sin, 0), ez, 4))
	}
	return cad("flange", 14_000, scansim.Minus(scansim.Union(bar("disc", r3.Vector{}, ez, 55, -12, 0), bar("hub", r3.Vector{}, ez, 26, -6, 28)), tools...),
		at(-55, -55, -12), at(55, 55, 28))
}

// A plate with crossing ribs and a boss.
func cadRibs() cadPart {
	body := scansim.Union(block("base", at(-45, -30, -5), at(45, 30, 0)),
		block("rib1", at(-40, -14, -2), at(40, -11, 12)), block("rib2", at(-40, 11, -2), at(40, 14, 12)),
		block("cross1", at(-22, -30, -2), at(-19, 30, 9)), block("cross2", at(19, -30, -2), at(22, 30, 9)),
		bar("boss", r3.Vector{}, ez, 8, -2, 16))
	return cad("ribbed plate", 16_000, scansim.Minus(body, scansim.Rod("bore", r3.Vector{}, ez, 4.5)), at(-45, -30, -5), at(45, 30, 16))
}

// A plate with rounded corners, slots and a pocket.
func cadSlots() cadPart {
	p := scansim.Plate(scansim.PlateSpec{Name: "slotted plate", Length: 110, Width: 70, Thickness: 7, Corner: 8, Extras: scansim.Extras{
		Slots:   []scansim.SlotSpec{{X: -35, Y: 15, Width: 9, Length: 26, Angle: 30 * s1.Degree}, {X: -30, Y: -18, Width: 7, Length: 16}},
		Pockets: []scansim.PocketSpec{{X: 8, Y: 0, Length: 26, Width: 22, Corner: 4, Angle: 12 * s1.Degree}},
		Holes:   []scansim.HoleSpec{{X: 40, Y: 18, Diameter: 6.6}, {X: 40, Y: -18, Diameter: 6.6}, {X: 40, Diameter: 9}}}})
	return cadPart{p, 20_000}
}

// A clevis: two ears with rounded ends and a pin's hole, on a shank.
func cadClevis() cadPart {
	ear := scansim.Union(bar("round", at(0, 0, 40), ey, 12, -16, 16), block("ears", at(-12, -16, 0), at(12, 16, 40)))
	body := scansim.Union(scansim.Minus(ear, block("gap", at(-20, -8, 10), at(20, 8, 60))), bar("shank", r3.Vector{}, ez, 9, -35, 2))
	return cad("clevis", 8_000, scansim.Minus(body, scansim.Rod("pin", at(0, 0, 40), ey, 6)), at(-12, -16, -35), at(12, 16, 52))
}

// A bearing block: a half round saddle on a foot.
func cadBearing() cadPart {
	body := scansim.Union(block("foot", at(-40, -15, 0), at(40, 15, 8)), bar("saddle", at(0, 0, 24), ey, 20, -12, 12), block("web", at(-20, -12, 4), at(20, 12, 24)))
	return cad("bearing block", 10_000, scansim.Minus(body, scansim.Rod("bore", at(0, 0, 24), ey, 12.5), bar("seat", at(0, 0, 24), ey, 14, 6, 20),
		scansim.Rod("left", at(-31, 0, 0), ez, 4), scansim.Rod("right", at(31, 0, 0), ez, 4)), at(-40, -15, 0), at(40, 15, 44))
}

// A pulley with square grooves.
func cadPulley() cadPart {
	body := bar("rim", r3.Vector{}, ez, 36, 0, 26)
	tools := []*scansim.Solid{scansim.Rod("bore", r3.Vector{}, ez, 8)}
	for i := range 3 {
		z := 4 + 7*float64(i)
		n := fmt.Sprint("groove", i)
		tools = append(tools, scansim.Minus(block(n, at(-50, -50, z), at(50, 50, z+4)), scansim.Rod(n+":floor", r3.Vector{}, ez, 31)))
	}
	return cad("pulley", 12_000, scansim.Minus(body, tools...), at(-36, -36, 0), at(36, 36, 26))
}

// A bolt: a hexagon head, a shoulder and a shank.
func cadBolt() cadPart {
	var sides []*scansim.Solid
	for i := range 6 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 3)
		n := at(cos, sin, 0)
		sides = append(sides, scansim.HalfSpace(fmt.Sprint("hex", i), n.Mul(12), n))
	}
	head := scansim.Meet(append(sides, scansim.HalfSpace("top", at(0, 0, 10), ez), scansim.HalfSpace("under", r3.Vector{}, ez.Mul(-1)))...)
	return cad("bolt", 5_000, scansim.Union(head, bar("shoulder", r3.Vector{}, ez, 9, -12, 2), bar("shank", r3.Vector{}, ez, 7.5, -45, -10)),
		at(-14, -14, -45), at(14, 14, 10))
}

// A tray with thin walls and four posts.
func cadTray() cadPart {
	body := scansim.Minus(block("outer", at(-40, -28, 0), at(40, 28, 22)), block("inner", at(-37.5, -25.5, 2.5), at(37.5, 25.5, 40)))
	solids := []*scansim.Solid{body}
	var tools []*scansim.Solid
	for i, p := range []r3.Vector{at(-28, -17, 0), at(28, -17, 0), at(28, 17, 0), at(-28, 17, 0)} {
		solids = append(solids, bar(fmt.Sprint("post", i), p, ez, 5, 1, 14))
		tools = append(tools, bar(fmt.Sprint("screw", i), p, ez, 2.5, 6, 30))
	}
	return cad("tray", 18_000, scansim.Minus(scansim.Union(solids...), tools...), at(-40, -28, 0), at(40, 28, 22))
}

// A pipe tee with flanges: crossing cylinders, inside and out.
func cadTee() cadPart {
	body := scansim.Union(bar("run", r3.Vector{}, ex, 14, -45, 45), bar("branch", r3.Vector{}, ez, 12, 0, 36),
		bar("left", r3.Vector{}, ex, 22, -45, -39), bar("right", r3.Vector{}, ex, 22, 39, 45), bar("up", r3.Vector{}, ez, 19, 31, 36))
	return cad("tee", 14_000, scansim.Minus(body, scansim.Rod("through", r3.Vector{}, ex, 11), bar("side", r3.Vector{}, ez, 9, 0, 50)),
		at(-45, -22, -22), at(45, 22, 36))
}

// A comb of fins.
func cadFins() cadPart {
	solids := []*scansim.Solid{block("base", at(-36, -25, -6), at(36, 25, 0))}
	for i := range 8 {
		x := -34.5 + 9.5*float64(i)
		solids = append(solids, block(fmt.Sprint("fin", i), at(x, -25, -1), at(x+2.5, 25, 18)))
	}
	return cad("fins", 24_000, scansim.Union(solids...), at(-36, -25, -6), at(36, 25, 18))
}

// A link: two eyes of unequal size joined by a waist, with bores.
func cadLink() cadPart {
	body := scansim.Union(bar("large", at(-25, 0, 0), ez, 17, 0, 14), bar("small", at(28, 0, 0), ez, 11, 0, 14), block("waist", at(-25, -7, 3), at(28, 7, 11)))
	return cad("link", 6_000, scansim.Minus(body, scansim.Rod("bore1", at(-25, 0, 0), ez, 10), scansim.Rod("bore2", at(28, 0, 0), ez, 6)), at(-42, -17, 0), at(39, 17, 14))
}

// A rod with an octagonal socket, at odd angles to a square foot.
func cadSocket() cadPart {
	a := at(0.36, 0.48, 0.8)
	var sides []*scansim.Solid
	e1, e2 := geom.Basis(a)
	for i := range 8 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 4)
		n := e1.Mul(cos).Add(e2.Mul(sin))
		sides = append(sides, scansim.HalfSpace(fmt.Sprint("socket", i), n.Mul(9), n))
	}
	socket := scansim.Meet(append(sides, scansim.HalfSpace("seat", a.Mul(20), a.Mul(-1)))...)
	body := scansim.Union(block("foot", at(-22, -22, -10), at(22, 22, 0)), scansim.Meet(scansim.Rod("rod", r3.Vector{}, a, 14), scansim.HalfSpace("end", a.Mul(34), a), scansim.HalfSpace("x", at(0, 0, -2), ez.Mul(-1))))
	return cad("socket", 9_000, scansim.Minus(body, socket), at(-22, -22, -10), at(32, 36, 40))
}

// A gearbox cover: walls, bosses, bearing seats, a rim of screw holes.
func cadGearbox() cadPart {
	shell := scansim.Minus(scansim.Union(block("wall", at(-70, -42, 0), at(70, 42, 32)), block("lip", at(-78, -50, 24), at(78, 50, 32))),
		block("cavity", at(-64, -36, 6), at(64, 36, 60)))
	var seats, tools []*scansim.Solid
	for i, x := range []float64{-34, 20} {
		n := fmt.Sprint(i)
		seats = append(seats, bar("seat"+n, at(x, 0, 0), ez, 20-4*float64(i), -8, 14))
		tools = append(tools, scansim.Rod("axle"+n, at(x, 0, 0), ez, 8-float64(i)), bar("bearing"+n, at(x, 0, 0), ez, 15-4*float64(i), 4, 30))
	}
	for i, p := range []r3.Vector{at(-71, -46, 0), at(0, -46, 0), at(71, -46, 0), at(71, 46, 0), at(0, 46, 0), at(-71, 46, 0)} {
		tools = append(tools, scansim.Rod(fmt.Sprint("screw", i), p, ez, 2.6))
	}
	return cad("gearbox cover", 45_000, scansim.Minus(scansim.Union(append(seats, shell)...), tools...), at(-78, -50, -8), at(78, 50, 32))
}
