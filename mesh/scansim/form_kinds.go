package scansim

import (
	"math"
	"math/rand/v2"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// Bow returns a bend of the part's sheet about a line in z = 0 through the
// origin: along the direction at the given angle from +x the middle stands
// height above the places that are radius away.
func Bow(height, radius float64, angle s1.Angle) Form {
	u := along(angle)
	return Form{Kind: "bow", Max: math.Abs(height), Slope: 2 * math.Abs(height) / radius,
		Height: func(p, n r3.Vector) float64 {
			t := (p.X*u.X + p.Y*u.Y) / radius
			return n.Z * height * (1 - t*t)
		}}
}

// Saddle returns a twist of the part's sheet: ±height at the given radius,
// highest at the given angle and opposite it. The least-squares plane of a face
// with a full turn is the ideal one.
func Saddle(height, radius float64, high s1.Angle) Form {
	sin, cos := math.Sincos(2 * high.Radians())
	return Form{Kind: "saddle", Max: math.Abs(height), Slope: 2 * math.Abs(height) / radius,
		Height: func(p, n r3.Vector) float64 {
			// r² cos 2(θ - high)
			return n.Z * height * ((p.X*p.X-p.Y*p.Y)*cos + 2*p.X*p.Y*sin) / (radius * radius)
		}}
}

// Curl returns an edge of the part's sheet that is turned up, or worn down
// where height is negative: nothing at the radius from, height at the radius
// to, growing with the square. Its lobes make it uneven round the part: it is
// multiplied by (1 + cos(lobes θ))/2, unless lobes is zero.
func Curl(height, from, to float64, lobes int) Form {
	slope := math.Abs(height) * (2/(to-from) + float64(lobes)/(2*max(from, 1)))
	return Form{Kind: "curl", Max: math.Abs(height), Slope: slope,
		Height: func(p, n r3.Vector) float64 {
			t := min(1, max(0, (math.Hypot(p.X, p.Y)-from)/(to-from)))
			if lobes > 0 {
				t *= math.Sqrt((1 + math.Cos(float64(lobes)*math.Atan2(p.Y, p.X))) / 2)
			}
			return n.Z * height * t * t
		}}
}

// Dent is a smooth round hollow: Depth at its centre, nothing beyond Radius but
// a raised rim, mm, as where material was pushed aside.
type Dent struct {
	Centre             r3.Vector
	Radius, Depth, Rim float64
}

// dentReach is how far from its centre a dent is felt, in its radii.
const dentReach = 1.7

// Dents returns the hollows given.
func Dents(dents ...Dent) Form {
	f := Form{Kind: "dents", Height: func(p, _ r3.Vector) float64 {
		h := 0.0
		for _, d := range dents {
			t2 := p.Sub(d.Centre).Norm2() / (d.Radius * d.Radius)
			if t2 < 1 {
				h -= d.Depth * (1 - t2) * (1 - t2)
			}
			if d.Rim != 0 && t2 < dentReach*dentReach {
				if w := (math.Sqrt(t2) - 1.1) / 0.6; w > -1 { // from half a radius on
					h += d.Rim * (1 - w*w) * (1 - w*w)
				}
			}
		}
		return h
	}}
	for _, d := range dents { // those that overlap add up
		high, slope := 0.0, 0.0
		for _, o := range dents {
			if o.Centre.Distance(d.Centre) < dentReach*(o.Radius+d.Radius) {
				high += max(o.Depth, o.Rim)
				slope += (1.6*o.Depth + 2.6*o.Rim) / o.Radius
			}
		}
		f.Max, f.Slope = max(f.Max, high), max(f.Slope, slope)
	}
	return f
}

// RandomDents returns n dents of 2 to 6 mm radius and up to the given depth
// between two radii of the face z = 0; every other one has a rim of a quarter of
// its depth.
func RandomDents(seed uint64, n int, depth, from, to float64) Form {
	rng := rand.New(rand.NewPCG(seed, streamForm))
	var dents []Dent
	for i := range n {
		r := math.Sqrt(from*from + (to*to-from*from)*rng.Float64())
		d := Dent{Centre: along(s1.Angle(2 * math.Pi * rng.Float64())).Mul(r),
			Radius: 2 + 4*rng.Float64(), Depth: depth * (0.4 + 0.6*rng.Float64())}
		if i%2 == 1 {
			d.Rim = d.Depth / 4
		}
		dents = append(dents, d)
	}
	return Dents(dents...)
}

// Texture returns a rough surface, as of a casting: heights within ±peak,
// correlated over two lengths, mm, with equal shares of the variance.
func Texture(seed uint64, peak, short, long float64) Form {
	fine, coarse := newLattice(mix(seed+streamForm), short), newLattice(mix(seed-streamForm), long)
	return Form{Kind: "texture", Max: peak, Slope: 2 * peak / short,
		Height: func(p, _ r3.Vector) float64 {
			// Of unit variance, then bent so that it stays within the peak.
			return peak * math.Tanh((fine.at(p)+coarse.at(p))/math.Sqrt2/2)
		}}
}

// Lobes returns a wall about an upright axis that is not round: its radius is
// larger by amplitude cos(n (θ - high)). Two lobes are an oval. The
// least-squares circle of a full turn is the ideal one.
func Lobes(n int, amplitude float64, centre r3.Vector, high s1.Angle) Form {
	return Form{Kind: "lobes", Max: math.Abs(amplitude), Slope: math.Abs(amplitude) * float64(n),
		Height: func(p, normal r3.Vector) float64 {
			x, y := p.X-centre.X, p.Y-centre.Y
			out := normal.X*x + normal.Y*y // n·r̂, times r
			if r := math.Hypot(x, y); r > 0 {
				return out / r * amplitude * math.Cos(float64(n)*(math.Atan2(y, x)-high.Radians()))
			}
			return 0
		}}
}

// Layers returns the stairs of a print in layers of the given thickness, built
// up along up: a sloping face has terraces with rounded edges, a wall has
// outlines that differ from layer to layer by about a tenth of the thickness.
func Layers(seed uint64, thickness float64, up r3.Vector) Form {
	const rise = 0.3 // share of a stair that is its rounded edge
	up = up.Normalize()
	off := func(k float64) float64 { return 0.1 * nearlyNormal(mix(seed+streamForm+uint64(int64(k)))) }
	return Form{Kind: "layers", Max: 0.5 * thickness, Slope: 1,
		Height: func(p, n r3.Vector) float64 {
			t := p.Dot(up) / thickness
			k := math.Floor(t)
			t -= k
			c := n.Dot(up)
			stair := (1-rise)/2 - t
			if e := (t - (1 - rise)) / rise; e > 0 {
				stair = (1 - rise) * (smoothStep(e) - 0.5)
			}
			wall := off(k) + (off(k+1)-off(k))*smoothStep(t)
			return thickness * (c*stair + (1-c*c)*min(0.3, max(-0.3, wall)))
		}}
}

// Thread returns a right-hand metric thread of the given pitch, cut into a wall
// about the upright axis through centre: the wall is the minor diameter of a
// tapped hole. Profile: ISO 68-1, 60 degrees, flats of P/4 and P/8, depth 5/8 H.
func Thread(pitch float64, centre r3.Vector) Form {
	depth := pitch * math.Sqrt(3) / 2 * 5 / 8
	return Form{Kind: "thread", Max: depth, Slope: math.Sqrt(3),
		Height: func(p, _ r3.Vector) float64 {
			t := (p.Z-centre.Z)/pitch - math.Atan2(p.Y-centre.Y, p.X-centre.X)/(2*math.Pi)
			// From the middle of the groove: half the root's flat, then the flank.
			u := math.Abs(t - math.Round(t))
			return -depth * min(1, max(0, 1-(u-1.0/16)/(5.0/16)))
		}}
}

// Stitch returns what a scan shows that was put together from two halves: all
// beyond the line through at, across the direction to, is moved by offset,
// growing smoothly over the width of a band.
func Stitch(offset, at, to r3.Vector, band float64) Form {
	to = to.Normalize()
	size := offset.Norm()
	return Form{Kind: "stitch", Max: size, Slope: 1.5 * size / band,
		Height: func(p, n r3.Vector) float64 {
			t := min(1, max(0, p.Sub(at).Dot(to)/band+0.5))
			return n.Dot(offset) * smoothStep(t)
		}}
}

// smoothStep rises from 0 to 1 with level ends.
func smoothStep(t float64) float64 { return t * t * (3 - 2*t) }
