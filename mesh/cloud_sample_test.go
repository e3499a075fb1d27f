package mesh

import (
	"math"
	"math/rand/v2"
	"slices"
)

// cloudSampler strews points at random over ideal faces, with their true
// normals (zero for outliers).
type cloudSampler struct {
	rng    *rand.Rand
	noise  float64
	pts    []Vec32
	truth  []Vec32
	noEdge []bool // further than margin from the end of its face
	margin float64
}

func newSampler(seed uint64, noise float64) *cloudSampler {
	return &cloudSampler{rng: rand.New(rand.NewPCG(seed, 99)), noise: noise, margin: 1}
}

func (c *cloudSampler) add(p, n [3]float64, inner bool) {
	e := c.noise * c.rng.NormFloat64()
	c.pts = append(c.pts, Vec32{float32(p[0] + e*n[0]), float32(p[1] + e*n[1]), float32(p[2] + e*n[2])})
	c.truth = append(c.truth, Vec32{float32(n[0]), float32(n[1]), float32(n[2])})
	c.noEdge = append(c.noEdge, inner)
}

// flat strews density points a mm² over z = const within the square of half
// side, where distance, mm, inside the face is positive.
func (c *cloudSampler) flat(z, half, density, up float64, inside func(x, y float64) float64) {
	for range int(4 * half * half * density) {
		x, y := half*(2*c.rng.Float64()-1), half*(2*c.rng.Float64()-1)
		if d := inside(x, y); d > 0 {
			c.add([3]float64{x, y, z}, [3]float64{0, 0, up}, d > c.margin)
		}
	}
}

// wall strews density points a mm² over a cylinder about an axis along Z, side
// +1 for a shaft, -1 for a bore, where ok.
func (c *cloudSampler) wall(x, y, r, z0, z1, density, side float64, ok func(x, y, z float64) bool) {
	for range int(2 * math.Pi * r * (z1 - z0) * density) {
		sin, cos := math.Sincos(2 * math.Pi * c.rng.Float64())
		z := z0 + (z1-z0)*c.rng.Float64()
		p := [3]float64{x + r*cos, y + r*sin, z}
		if ok == nil || ok(p[0], p[1], p[2]) {
			c.add(p, [3]float64{side * cos, side * sin, 0}, z-z0 > c.margin && z1-z > c.margin)
		}
	}
}

// outliers adds share of the points so far, half of them uniform in the box
// about all, half normally spread by 0.8 mm about points of the surface.
func (c *cloudSampler) outliers(share float64) {
	lo, hi := (&Scan{Offsets: c.pts}).Bounds()
	good := len(c.pts)
	for k := range int(share * float64(good)) {
		p := [3]float64{
			lo.X + (hi.X-lo.X)*c.rng.Float64(), lo.Y + (hi.Y-lo.Y)*c.rng.Float64(), lo.Z + (hi.Z-lo.Z)*c.rng.Float64(),
		}
		if k%2 == 0 {
			q := wide3(c.pts[c.rng.IntN(good)])
			for i := range p {
				p[i] = q[i] + 0.8*c.rng.NormFloat64()
			}
		}
		c.add(p, [3]float64{}, false)
	}
}

// scan returns the points turned by a random rotation, shuffled; the truth
// goes with them.
func (c *cloudSampler) scan() *Scan {
	m := randomTurn(c.rng)
	if dot3(cross3(m[0], m[1]), m[2]) < 0 {
		for i := range m {
			m[i][2] = -m[i][2]
		}
	}
	turn := func(v Vec32) Vec32 {
		w := wide3(v)
		return Vec32{float32(dot3(m[0], w)), float32(dot3(m[1], w)), float32(dot3(m[2], w))}
	}
	c.rng.Shuffle(len(c.pts), func(i, j int) {
		c.pts[i], c.pts[j] = c.pts[j], c.pts[i]
		c.truth[i], c.truth[j] = c.truth[j], c.truth[i]
		c.noEdge[i], c.noEdge[j] = c.noEdge[j], c.noEdge[i]
	})
	s := &Scan{}
	for i := range c.pts {
		s.Offsets = append(s.Offsets, turn(c.pts[i]))
		c.truth[i] = turn(c.truth[i])
	}
	return s
}

// plate strews a plate of radius 40 with bore 10 and six holes of radius 3 on
// radius 25, seen from above: the faces densely, walls down to -thick at a
// twelfth of the density. A boss of radius 15 and height boss is on it.
func (c *cloudSampler) plate(density, thick, boss float64) {
	hole := func(k int) (x, y float64) {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / 6)
		return 25 * cos, 25 * sin
	}
	inner := 10.0
	if boss > 0 {
		inner = 15
	}
	c.flat(0, 40, density, 1, func(x, y float64) float64 {
		r := math.Hypot(x, y)
		d := min(40-r, r-inner)
		for k := range 6 {
			hx, hy := hole(k)
			d = min(d, math.Hypot(x-hx, y-hy)-3)
		}
		return d
	})
	if boss > 0 {
		c.flat(boss, 40, density, 1, func(x, y float64) float64 { r := math.Hypot(x, y); return min(15-r, r-10) })
		c.wall(0, 0, 15, 0, boss, density/12, 1, nil)
	}
	if thick > 0 {
		c.wall(0, 0, 40, -thick, 0, density/12, 1, nil)
		c.wall(0, 0, 10, -thick, boss, density/12, -1, nil)
		for k := range 6 {
			x, y := hole(k)
			c.wall(x, y, 3, -thick, 0, density/12, -1, nil)
		}
	}
}

// tilts returns the sorted angles, degrees, between found normals and the
// truth without regard to side, of the points that pick chooses, and the share
// of them on the right side.
func (c *cloudSampler) tilts(normals []Vec32, pick func(i int) bool) (deg []float64, outward float64) {
	for i, n := range c.truth {
		if n == (Vec32{}) || !pick(i) {
			continue
		}
		a := angleBetween(n, normals[i]) * 180 / math.Pi
		if a < 90 {
			outward++
		}
		deg = append(deg, min(a, 180-a))
	}
	outward /= float64(len(deg))
	slices.Sort(deg)
	return deg, outward
}

func cross3(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

func dot3(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func wide3(v [3]float32) [3]float64 {
	return [3]float64{float64(v[0]), float64(v[1]), float64(v[2])}
}

// randomTurn returns the columns of a random rotation.
func randomTurn(rng *rand.Rand) (m [3][3]float64) {
	unit := func(v [3]float64) [3]float64 {
		l := 1 / math.Sqrt(dot3(v, v))
		return [3]float64{v[0] * l, v[1] * l, v[2] * l}
	}
	a := unit([3]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()})
	b := unit(cross3(a, unit([3]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()})))
	c := cross3(a, b)
	for i := range 3 {
		m[i] = [3]float64{a[i], b[i], c[i]}
	}
	return m
}
