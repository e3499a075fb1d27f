package deviation

import (
	"image/color"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
)

// deficiencies of colour vision, linear light, severity 1: Machado, Oliveira & Fernandes
// (2009), A physiologically-based model for simulation of color vision deficiency, table of
// matrices; the digits from memory.
var deficiencies = map[string][3][3]float64{
	"none":   {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"protan": {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deutan": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"tritan": {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
}

// lab is CIELAB (D65, 2 degrees) of a colour as seen with a deficiency.
func lab(c color.RGBA, eyes [3][3]float64) [3]float64 {
	rgb := [3]float64{float64(linear(c.R)), float64(linear(c.G)), float64(linear(c.B))}
	var seen [3]float64
	for i := range seen {
		for j := range rgb {
			seen[i] += eyes[i][j] * rgb[j] / 65535
		}
		seen[i] = min(1, max(0, seen[i]))
	}
	// IEC 61966-2-1: linear sRGB to XYZ, divided by its white.
	m := [3][3]float64{{0.4124, 0.3576, 0.1805}, {0.2126, 0.7152, 0.0722}, {0.0193, 0.1192, 0.9505}}
	var f [3]float64
	for i, white := range [3]float64{0.9505, 1, 1.089} {
		t := (m[i][0]*seen[0] + m[i][1]*seen[1] + m[i][2]*seen[2]) / white
		f[i] = math.Cbrt(t)
		if t <= 216.0/24389 {
			f[i] = (24389.0/27*t + 16) / 116
		}
	}
	return [3]float64{116*f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])}
}

// ciede2000 is the colour difference of Sharma, Wu & Dalal (2005), The CIEDE2000
// color-difference formula, equations 2 to 22.
func ciede2000(p, q [3]float64) float64 {
	mean := (math.Hypot(p[1], p[2]) + math.Hypot(q[1], q[2])) / 2
	seventh := func(c float64) float64 { return math.Sqrt(math.Pow(c, 7) / (math.Pow(c, 7) + math.Pow(25, 7))) }
	g := 0.5 * (1 - seventh(mean))
	polar := func(v [3]float64) (c, h float64) {
		a := v[1] * (1 + g)
		h = math.Atan2(v[2], a)
		if h < 0 {
			h += 2 * math.Pi
		}
		return math.Hypot(a, v[2]), h
	}
	c1, h1 := polar(p)
	c2, h2 := polar(q)
	dh := h2 - h1
	if math.Abs(dh) > math.Pi {
		dh -= math.Copysign(2*math.Pi, dh)
	}
	hm := h1 + dh/2
	if c1*c2 == 0 {
		dh, hm = 0, h1+h2
	}
	l, c := (p[0]+q[0])/2, (c1+c2)/2
	rad := math.Pi / 180
	t := 1 - 0.17*math.Cos(hm-30*rad) + 0.24*math.Cos(2*hm) + 0.32*math.Cos(3*hm+6*rad) - 0.20*math.Cos(4*hm-63*rad)
	deg := math.Mod(hm/rad+360, 360)
	theta := 30 * math.Exp(-math.Pow((deg-275)/25, 2))
	sl := 1 + 0.015*math.Pow(l-50, 2)/math.Sqrt(20+math.Pow(l-50, 2))
	sc, sh := 1+0.045*c, 1+0.015*c*t
	dl, dc, dH := (q[0]-p[0])/sl, (c2-c1)/sc, 2*math.Sqrt(c1*c2)*math.Sin(dh/2)/sh
	rt := -math.Sin(2*theta*rad) * 2 * seventh(c)
	return math.Sqrt(dl*dl + dc*dc + dH*dH + rt*dc*dH)
}

// Pairs 1, 2, 16 to 20 of table 1 of the same paper, the digits from memory.
func TestColourDifferenceOfThePaper(t *testing.T) {
	for _, c := range []struct {
		p, q [3]float64
		want float64
	}{
		{[3]float64{50, 2.6772, -79.7751}, [3]float64{50, 0, -82.7485}, 2.0425},
		{[3]float64{50, 3.1571, -77.2803}, [3]float64{50, 0, -82.7485}, 2.8615},
		{[3]float64{50, 2.5, 0}, [3]float64{50, 0, -2.5}, 4.3065},
		{[3]float64{50, 2.5, 0}, [3]float64{73, 25, -18}, 27.1492},
		{[3]float64{50, 2.5, 0}, [3]float64{61, -5, 29}, 22.8977},
		{[3]float64{50, 2.5, 0}, [3]float64{56, -27, -3}, 31.9030},
		{[3]float64{50, 2.5, 0}, [3]float64{58, 24, 15}, 19.4535},
	} {
		assert.InDelta(t, c.want, ciede2000(c.p, c.q), 1e-4)
	}
}

func TestColoursCanBeDistinguished(t *testing.T) {
	for name, eyes := range deficiencies {
		grey, nothing := palette[steps], palette[2*steps+1]
		below, above := slices.Clone(palette[:steps]), palette[steps+1:2*steps+1]
		slices.Reverse(below)
		for _, side := range [][]color.RGBA{below, above} {
			last := lab(grey, eyes)
			assert.Greater(t, ciede2000(last, lab(nothing, eyes)), 5.0, name)
			for k, c := range side {
				now := lab(c, eyes)
				assert.GreaterOrEqual(t, ciede2000(last, now), 5.0, "%s, step %d", name, k+1)
				assert.Less(t, now[0], last[0], "%s: darker with distance", name)
				last = now
			}
		}
	}
}
