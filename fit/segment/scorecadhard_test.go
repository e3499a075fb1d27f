package segment_test

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/scansim"
)

// cadHardParts are those on which surfaces are small or near each other beside
// the distance between the points.
func cadHardParts() []cadPart {
	return []cadPart{cadManifold(), cadSpindle(), cadHeatSink(), cadPerforated(), cadCarrier(), cadGear(), cadRoundedBox(),
		cadCrossed(), cadClamp(), cadPrism(), cadKnuckle(), cadComb()}
}

// turn is the unit vector at the angle k/n of a turn about z.
func turn(k, n int) r3.Vector {
	sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(n))
	return at(cos, sin, 0)
}

// A valve block: bores from all sides that meet inside, stepped mouths: 2,000
// points over some thirty surfaces.
func cadManifold() cadPart {
	var tools []*scansim.Solid
	for i, x := range []float64{-24, -8, 8, 24} {
		n := fmt.Sprint(i)
		tools = append(tools, bar("down"+n, at(x, 0, 0), ez, 3, -4, 30), bar("mouth"+n, at(x, 0, 0), ez, 5, 10, 30))
	}
	tools = append(tools, bar("long", r3.Vector{}, ex, 3.6, -50, 30), bar("plug", r3.Vector{}, ex, 5, -50, -32))
	for i, x := range []float64{-16, 16} {
		tools = append(tools, bar(fmt.Sprint("side", i), at(x, 0, 0), ey, 2.5, -40, 0))
	}
	return cad("manifold", 2_000, scansim.Minus(block("block", at(-40, -15, -15), at(40, 15, 15)), tools...), at(-40, -15, -15), at(40, 15, 15))
}

// Coaxial steps whose radii differ by 2 to 6 %, some shorter than two
// spacings, and a stepped bore.
func cadSpindle() cadPart {
	steps := [][2]float64{{10, 9}, {10.3, 6}, {10.6, 3}, {11.2, 8}, {11, 4}, {12.5, 1.5}, {11.5, 5}, {11.8, 7}, {13, 2}, {12.6, 6}}
	var solids []*scansim.Solid
	z := 0.0
	for i, s := range steps {
		from, to := z, z+s[1]
		if i > 0 && steps[i-1][0] > s[0] { // into the larger neighbour
			from -= 0.5
		}
		if i+1 < len(steps) && steps[i+1][0] > s[0] {
			to += 0.5
		}
		solids = append(solids, bar(fmt.Sprint("step", i), r3.Vector{}, ez, s[0], from, to))
		z += s[1]
	}
	return cad("spindle", 5_000, scansim.Minus(scansim.Union(solids...), bar("bore", r3.Vector{}, ez, 6, -1, 22), bar("bore2", r3.Vector{}, ez, 6.3, 20, 34), bar("bore3", r3.Vector{}, ez, 5.5, 31, 90)),
		at(-13, -13, 0), at(13, 13, z))
}

// Fins thinner than the distance between points.
func cadHeatSink() cadPart {
	solids := []*scansim.Solid{block("base", at(-30, -20, -4), at(30, 20, 0))}
	for i := range 15 {
		x := -29.5 + 4*float64(i)
		solids = append(solids, block(fmt.Sprint("fin", i), at(x, -20, -1), at(x+0.5, 20, 12)))
	}
	return cad("heat sink", 20_000, scansim.Union(solids...), at(-30, -20, -4), at(30, 20, 12))
}

// A sheet of sixty holes of three sizes, with a dozen points each.
func cadPerforated() cadPart {
	var tools []*scansim.Solid
	for i := range 10 {
		for j := range 6 {
			tools = append(tools, scansim.Rod(fmt.Sprint("hole", 6*i+j), at(-45+10*float64(i), -25+10*float64(j), 0), ez, 1.5+0.5*float64((i+j)%3)))
		}
	}
	return cad("perforated sheet", 8_000, scansim.Minus(block("sheet", at(-52, -32, -3), at(52, 32, 0)), tools...), at(-52, -32, -3), at(52, 32, 0))
}

// A planet carrier: three arms with bosses of near radii on a disc, windows.
func cadCarrier() cadPart {
	solids := []*scansim.Solid{bar("disc", r3.Vector{}, ez, 40, -5, 0), bar("hub", r3.Vector{}, ez, 15, -9, 12)}
	tools := []*scansim.Solid{bar("bore", r3.Vector{}, ez, 9, -20, 20), bar("counter", r3.Vector{}, ez, 9.6, 4, 20)}
	for i := range 3 {
		p := turn(i, 3).Mul(28)
		q := turn(2*i+1, 6).Mul(27)
		n := fmt.Sprint(i)
		solids = append(solids, bar("pin"+n, p, ez, 5, -2, 10), bar("collar"+n, p, ez, 5.5, -2, 2))
		tools = append(tools, bar("oil"+n, p, ez, 1.5, -10, 20), scansim.Rod("window"+n, q, ez, 8), scansim.Rod("dowel"+n, turn(4*i+1, 12).Mul(35), ez, 1.2))
	}
	return cad("carrier", 9_000, scansim.Minus(scansim.Union(solids...), tools...), at(-40, -40, -9), at(40, 40, 12))
}

// A spur wheel with flat-sided teeth: facets that follow each other round.
func cadGear() cadPart {
	const teeth = 18
	body := bar("tip", r3.Vector{}, ez, 30, -4, 4)
	var tools []*scansim.Solid
	for i := range teeth {
		a, e := turn(2*i+1, 2*teeth), ez.Cross(turn(2*i+1, 2*teeth))
		tools = append(tools, scansim.Meet(scansim.HalfSpace(fmt.Sprint("floor", i), a.Mul(25), a.Mul(-1)),
			scansim.HalfSpace(fmt.Sprint("left", i), a.Mul(25).Add(e.Mul(-2)), e.Mul(-0.94).Add(a.Mul(-0.34))),
			scansim.HalfSpace(fmt.Sprint("right", i), a.Mul(25).Add(e.Mul(2)), e.Mul(0.94).Add(a.Mul(-0.34)))))
	}
	tools = append(tools, scansim.Rod("bore", r3.Vector{}, ez, 9), block("way", at(-2, 0, -10), at(2, 11, 10)))
	return cad("gear", 10_000, scansim.Minus(body, tools...), at(-30, -30, -4), at(30, 30, 4))
}

// A tray with rounded corners, inside and out, on lugs.
func cadRoundedBox() cadPart {
	lid := func(role string, h, w, c, from, to float64) *scansim.Solid {
		return scansim.Meet(scansim.Pocket(role, r3.Vector{}, ez, ex, h, w, c),
			scansim.HalfSpace(role+":from", at(0, 0, from), ez.Mul(-1)), scansim.HalfSpace(role+":to", at(0, 0, to), ez))
	}
	solids := []*scansim.Solid{lid("outer", 60, 40, 6, 0, 16)}
	tools := []*scansim.Solid{lid("inner", 55, 35, 3.5, 2.5, 40), lid("lip", 57, 37, 4.5, 13, 40)}
	for i, x := range []float64{-35, 35} {
		n := fmt.Sprint(i)
		solids = append(solids, bar("lug"+n, at(x, 0, 0), ez, 5, 0, 4), block("web"+n, at(min(x, 0), -5, 0), at(max(x, 0), 5, 4)))
		tools = append(tools, scansim.Rod("eye"+n, at(x, 0, 0), ez, 2.2))
	}
	body := scansim.Minus(scansim.Union(solids...), tools...)
	return cad("rounded box", 12_000, body, at(-40, -20, 0), at(40, 20, 16))
}

// A ring with radial holes through its wall, eight of them, and flats.
func cadCrossed() cadPart {
	body := scansim.Minus(bar("outer", r3.Vector{}, ez, 22, -10, 10), scansim.Rod("inner", r3.Vector{}, ez, 17))
	var tools []*scansim.Solid
	for i := range 8 {
		r := []float64{2, 3}[i%2]
		tools = append(tools, bar(fmt.Sprint("radial", i), r3.Vector{}, turn(i, 8), r, 5, 40))
		if i%2 == 0 {
			tools = append(tools, scansim.HalfSpace(fmt.Sprint("flat", i), turn(i, 8).Mul(21), turn(i, 8).Mul(-1)))
		}
	}
	return cad("crossed ring", 6_000, scansim.Minus(body, tools...), at(-22, -22, -10), at(22, 22, 10))
}

// A split clamp: a slit narrower than the distance between points.
func cadClamp() cadPart {
	body := scansim.Union(bar("ring", r3.Vector{}, ey, 16, -8, 8), block("ear", at(0, -8, -5), at(30, 8, 5)))
	return cad("clamp", 5_000, scansim.Minus(body, scansim.Rod("bore", r3.Vector{}, ey, 11), block("slit", at(0, -20, -0.4), at(50, 20, 0.4)),
		scansim.Rod("screw", at(23, 0, 0), ez, 2.7), bar("head", at(23, 0, 0), ez, 4.5, 2, 20)), at(-16, -8, -16), at(30, 8, 16))
}

// A prism of sixteen sides with a round bore: facets that are faces.
func cadPrism() cadPart {
	var sides []*scansim.Solid
	for i := range 16 {
		sides = append(sides, scansim.HalfSpace(fmt.Sprint("side", i), turn(i, 16).Mul(20), turn(i, 16)))
	}
	body := scansim.Meet(append(sides, scansim.HalfSpace("top", at(0, 0, 8), ez), scansim.HalfSpace("bottom", at(0, 0, -8), ez.Mul(-1)))...)
	return cad("prism", 6_000, scansim.Minus(body, scansim.Rod("bore", r3.Vector{}, ez, 12)), at(-21, -21, -8), at(21, 21, 8))
}

// A knuckle: cylinders that cross at odd angles, with bores.
func cadKnuckle() cadPart {
	a, b := at(0.8, 0.36, 0.48), at(-0.6, 0.64, 0.48)
	body := scansim.Union(bar("main", r3.Vector{}, ez, 10, -20, 20), bar("arm1", r3.Vector{}, a, 6, 0, 28), bar("arm2", r3.Vector{}, b, 5, 0, 26))
	return cad("knuckle", 4_000, scansim.Minus(body, bar("bore", r3.Vector{}, ez, 7, -30, 30), bar("bore1", r3.Vector{}, a, 4, 9, 40), bar("bore2", r3.Vector{}, b, 3, 8, 40)),
		at(-20, -10, -20), at(26, 22, 20))
}

// A comb of short pins of two lengths: 2,500 points over sixty surfaces.
func cadComb() cadPart {
	solids := []*scansim.Solid{block("base", at(-30, -8, -4), at(30, 8, 0))}
	for i := range 14 {
		for j := range 2 {
			solids = append(solids, bar(fmt.Sprint("pin", 2*i+j), at(-26+4*float64(i), -4+8*float64(j), 0), ez, 1.2, -1, 5+2*float64((i+j)%2)))
		}
	}
	return cad("pins", 4_000, scansim.Union(solids...), at(-30, -8, -4), at(30, 8, 7))
}
