// Package formed has kinds of parts with form, as simulated scans of them are made for tests
// and studies: bowed, worn, cast, printed, oval, twisted, tapped, stitched and turned flanges
// and rings, whose truth package scansim knows. All follow from a seed. Lengths are
// millimetres; form is on faces, rims and walls, holes are as drilled.
//
// Sources: threads by ISO 68-1 and ISO 724; the rest is common practice, no source.
package formed

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/mesh"
	"spotface/mesh/scansim"
)

// Kind is a kind of part with form, and how densely small scans of it are taken:
// 60 to 110 mm, a point every 0.4 to 0.6 mm.
type Kind struct {
	Name   string
	Voxel  float64 // of a fused mesh, mm
	Points int     // of a cloud
	// make returns the part of a seed. The angles a and b, of the seed too, say how
	// the holes are clocked and where the form lies.
	make    func(seed uint64, a, b s1.Angle) *scansim.Part
	missing float64 // share of a mesh that is lost; zero means 0.03
}

// Part returns the part of a seed.
func (k Kind) Part(seed uint64) *scansim.Part {
	rng := rand.New(rand.NewPCG(seed, stream))
	a := 360 * s1.Degree * s1.Angle(rng.Float64())
	return k.make(seed, a, 360*s1.Degree*s1.Angle(rng.Float64()))
}

// Scan simulates a scan of the part of a seed, a mesh or a cloud.
func (k Kind) Scan(ctx context.Context, cloud bool, seed uint64) (*mesh.Scan, scansim.Truth, error) {
	if cloud {
		return scansim.Cloud(ctx, k.Part(seed), scansim.CloudOptions{
			Seed: seed, Points: k.Points, Noise: 0.03, Tangential: 0.01, Outliers: 0.03})
	}
	return scansim.Fused(ctx, k.Part(seed), scansim.FusedOptions{
		Seed: seed, Voxel: k.Voxel, Noise: 0.02, Missing: cmp.Or(k.missing, 0.03)})
}

// stream is the random stream of parts with form.
const stream = 8

// Kinds are parts with form, of one or several kinds each. All are mounting
// flanges or rings with through holes on a circle; where holes are on a formed face
// their axes are as drilled.
func Kinds() []Kind {
	type part = scansim.Part
	return []Kind{
		{Name: "bowed ring", Voxel: 0.55, Points: 40_000, make: func(_ uint64, a, b s1.Angle) *part {
			return bowedRing(scansim.FlangeSpec{Diameter: 92, Thickness: 8, Chamfer: 0.7, Bore: 28,
				PitchDiameter: 67, HoleDiameter: 7.6, Holes: 5, Start: a}, a, b)
		}},
		{Name: "worn flange", Voxel: 0.5, Points: 40_000, make: func(seed uint64, a, _ s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 90, Thickness: 8, Bore: 30,
				PitchDiameter: 66, HoleDiameter: 7, Start: a})
			p = scansim.WithForm(p, randomDents(seed, 10, 0.4, 17, 43), "mounting")
			return scansim.WithForm(p, curl(-0.2, 36, 45, 2), "mounting")
		}},
		{Name: "cast flange", Voxel: 0.55, Points: 45_000, make: func(seed uint64, a, _ s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 90, Thickness: 9, HubDiameter: 40,
				HubHeight: 6, Bore: 26, PitchDiameter: 66, HoleDiameter: 7, Start: a, Draft: 1.5 * s1.Degree})
			rough := scansim.Texture(seed, 0.25, 1, 5)
			return scansim.WithForm(p, rough, "mounting", "outer", "hub", "hub_top")
		}},
		{Name: "printed flange", Voxel: 0.45, Points: 40_000, make: func(seed uint64, a, b s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 80, Thickness: 8, Bore: 26,
				PitchDiameter: 56, HoleDiameter: 6.6, Start: a})
			up := direction(b).Mul(math.Tan((3 * s1.Degree).Radians())).Add(r3.Vector{Z: 1})
			return scansim.WithForm(p, layers(seed, 0.2, up), "*")
		}},
		{Name: "oval flange", Voxel: 0.5, Points: 40_000, make: func(seed uint64, a, b s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 84, Thickness: 9, Bore: 34,
				PitchDiameter: 62, HoleDiameter: 6.6, Holes: 8, Start: a})
			p = scansim.WithForm(p, scansim.Lobes(2, 0.15, r3.Vector{}, b), "outer")
			return scansim.WithForm(p, scansim.Lobes(3+int(seed%3), 0.1, r3.Vector{}, a), "bore")
		}},
		{Name: "twisted sheet", Voxel: 0.45, Points: 40_000, make: func(_ uint64, a, b s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 90, Thickness: 2.5, Bore: 40,
				PitchDiameter: 66, HoleDiameter: 6.6, Start: a})
			p = scansim.WithForm(p, saddle(0.3, 45, b), "*")
			return scansim.WithForm(p, curl(0.35, 34, 45, 3), "*")
		}},
		{Name: "tapped flange", Voxel: 0.35, Points: 50_000, make: func(_ uint64, a, _ s1.Angle) *part {
			// M12: the minor diameter is 12 - 1.0825 P (ISO 724).
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 80, Thickness: 10, Bore: 24,
				PitchDiameter: 54, HoleDiameter: 12 - 1.0825*1.75, Holes: 4, Start: a, SinkDiameter: 12.6})
			for _, h := range p.Holes {
				p = scansim.WithForm(p, thread(1.75, h.Centre), "hole:"+h.Name)
			}
			return p
		}},
		{Name: "stitched scan", Voxel: 0.5, Points: 40_000, make: func(_ uint64, a, b s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 88, Thickness: 8, HubDiameter: 40,
				HubHeight: 5, Bore: 26, PitchDiameter: 64, HoleDiameter: 7, Start: a})
			halves := stitch(r3.Vector{Z: 0.08}, r3.Vector{}, direction(b), 8)
			return scansim.WithForm(p, halves, "*")
		}},
		{Name: "turned flange", Voxel: 0.5, Points: 40_000, make: func(_ uint64, a, b s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 84, Thickness: 12, HubDiameter: 40,
				HubHeight: 8, Bore: 28, PitchDiameter: 62, HoleDiameter: 6.6, Start: a, Draft: 0.5 * s1.Degree})
			p = scansim.WithForm(p, scansim.Lobes(3, 0.04, r3.Vector{}, b), "outer", "hub", "bore")
			return scansim.WithForm(p, curl(-0.06, 10, 42, 0), "mounting")
		}},
	}
}

// bowedRing returns a ring whose face is a saddle of ±0.19 mm and whose rim is oval by
// ±0.1 mm of radius; the holes are as drilled.
func bowedRing(spec scansim.FlangeSpec, high, oval s1.Angle) *scansim.Part {
	p := scansim.WithForm(scansim.Flange(spec), saddle(0.19, spec.Diameter/2, high), "mounting", "bottom")
	return scansim.WithForm(p, scansim.Lobes(2, 0.1, r3.Vector{}, oval), "outer")
}

// FiveHoleRing is an old ring: its face a saddle of ±0.19 mm, its rim oval.
func FiveHoleRing() Kind {
	ring := bowedRing(scansim.FlangeSpec{Diameter: 104.6, Thickness: 9.7, Chamfer: 0.7, Bore: 31.8,
		PitchDiameter: 76.4, HoleDiameter: 8.6, Holes: 5, Start: 21.3 * s1.Degree}, 0, 40*s1.Degree)
	same := func(uint64, s1.Angle, s1.Angle) *scansim.Part { return ring }
	return Kind{Name: "bowed five-hole ring", missing: 0.05, make: same}
}

// saddle returns a twist of the part's sheet: ±height at the given radius,
// highest at the given angle and opposite it. The least-squares plane of a face
// with a full turn is the ideal one.
func saddle(height, radius float64, high s1.Angle) scansim.Form {
	sin, cos := math.Sincos(2 * high.Radians())
	return scansim.Form{Kind: "saddle", Max: math.Abs(height), Slope: 2 * math.Abs(height) / radius,
		Height: func(p, n r3.Vector) float64 {
			// r² cos 2(θ - high)
			return n.Z * height * ((p.X*p.X-p.Y*p.Y)*cos + 2*p.X*p.Y*sin) / (radius * radius)
		}}
}

// curl returns an edge of the part's sheet that is turned up, or worn down
// where height is negative: nothing at the radius from, height at the radius
// to, growing with the square. Its lobes make it uneven round the part: it is
// multiplied by (1 + cos(lobes θ))/2, unless lobes is zero.
func curl(height, from, to float64, lobes int) scansim.Form {
	slope := math.Abs(height) * (2/(to-from) + float64(lobes)/(2*max(from, 1)))
	return scansim.Form{Kind: "curl", Max: math.Abs(height), Slope: slope,
		Height: func(p, n r3.Vector) float64 {
			t := min(1, max(0, (math.Hypot(p.X, p.Y)-from)/(to-from)))
			if lobes > 0 {
				t *= math.Sqrt((1 + math.Cos(float64(lobes)*math.Atan2(p.Y, p.X))) / 2)
			}
			return n.Z * height * t * t
		}}
}

// randomDents returns n dents of 2 to 6 mm radius and up to the given depth
// between two radii of the face z = 0; every other one has a rim of a quarter of
// its depth.
func randomDents(seed uint64, n int, depth, from, to float64) scansim.Form {
	rng := rand.New(rand.NewPCG(seed, stream))
	var dents []scansim.Dent
	for i := range n {
		r := math.Sqrt(from*from + (to*to-from*from)*rng.Float64())
		d := scansim.Dent{Centre: direction(s1.Angle(2 * math.Pi * rng.Float64())).Mul(r),
			Radius: 2 + 4*rng.Float64(), Depth: depth * (0.4 + 0.6*rng.Float64())}
		if i%2 == 1 {
			d.Rim = d.Depth / 4
		}
		dents = append(dents, d)
	}
	return scansim.Dents(dents...)
}

// layers returns the stairs of a print in layers of the given thickness, built
// up along up: a sloping face has terraces with rounded edges, a wall has
// outlines that differ from layer to layer by about a tenth of the thickness.
func layers(seed uint64, thickness float64, up r3.Vector) scansim.Form {
	const rise = 0.3 // share of a stair that is its rounded edge
	up = up.Normalize()
	rng := rand.New(rand.NewPCG(seed, stream))
	var shift [256]float64
	for k := range shift {
		shift[k] = 0.1 * rng.NormFloat64()
	}
	off := func(k float64) float64 { return shift[int64(k)&255] }
	return scansim.Form{Kind: "layers", Max: 0.5 * thickness, Slope: 1,
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

// thread returns a right-hand metric thread of the given pitch, cut into a wall
// about the upright axis through centre: the wall is the minor diameter of a
// tapped hole. Profile: ISO 68-1, 60 degrees, flats of P/4 and P/8, depth 5/8 H.
func thread(pitch float64, centre r3.Vector) scansim.Form {
	depth := pitch * math.Sqrt(3) / 2 * 5 / 8
	return scansim.Form{Kind: "thread", Max: depth, Slope: math.Sqrt(3),
		Height: func(p, _ r3.Vector) float64 {
			t := (p.Z-centre.Z)/pitch - math.Atan2(p.Y-centre.Y, p.X-centre.X)/(2*math.Pi)
			// From the middle of the groove: half the root's flat, then the flank.
			u := math.Abs(t - math.Round(t))
			return -depth * min(1, max(0, 1-(u-1.0/16)/(5.0/16)))
		}}
}

// stitch returns what a scan shows that was put together from two halves: all
// beyond the line through at, across the direction to, is moved by offset,
// growing smoothly over the width of a band.
func stitch(offset, at, to r3.Vector, band float64) scansim.Form {
	to = to.Normalize()
	size := offset.Norm()
	return scansim.Form{Kind: "stitch", Max: size, Slope: 1.5 * size / band,
		Height: func(p, n r3.Vector) float64 {
			t := min(1, max(0, p.Sub(at).Dot(to)/band+0.5))
			return n.Dot(offset) * smoothStep(t)
		}}
}

// smoothStep rises from 0 to 1 with level ends.
func smoothStep(t float64) float64 { return t * t * (3 - 2*t) }

func direction(a s1.Angle) r3.Vector {
	sin, cos := math.Sincos(a.Radians())
	return r3.Vector{X: cos, Y: sin}
}
