package segment_test

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

// formPart is a kind of part with form, and how densely small scans of it are taken:
// 60 to 110 mm, a point every 0.4 to 0.6 mm.
type formPart struct {
	name   string
	voxel  float64 // of a fused mesh, mm
	points int     // of a cloud
	// make returns the part of a seed. The angles a and b, of the seed too, say how
	// the holes are clocked and where the form lies.
	make    func(seed uint64, a, b s1.Angle) *scansim.Part
	missing float64 // share of a mesh that is lost; zero means 0.03
}

// part returns the part of a seed.
func (k formPart) part(seed uint64) *scansim.Part {
	const stream = 8
	rng := rand.New(rand.NewPCG(seed, stream))
	a := 360 * s1.Degree * s1.Angle(rng.Float64())
	return k.make(seed, a, 360*s1.Degree*s1.Angle(rng.Float64()))
}

// scan simulates a scan of the part of a seed, a mesh or a cloud.
func (k formPart) scan(ctx context.Context, cloud bool, seed uint64) (*mesh.Scan, scansim.Truth, error) {
	if cloud {
		return scansim.Cloud(ctx, k.part(seed), scansim.CloudOptions{
			Seed: seed, Points: k.points, Noise: 0.03, Tangential: 0.01, Outliers: 0.03})
	}
	return scansim.Fused(ctx, k.part(seed), scansim.FusedOptions{
		Seed: seed, Voxel: k.voxel, Noise: 0.02, Missing: cmp.Or(k.missing, 0.03)})
}

// formParts are parts with form, of one or several kinds each. All are mounting
// flanges or rings with through holes on a circle; where holes are on a formed face
// their axes are as drilled.
func formParts() []formPart {
	type part = scansim.Part
	direction := func(a s1.Angle) r3.Vector {
		sin, cos := math.Sincos(a.Radians())
		return r3.Vector{X: cos, Y: sin}
	}
	return []formPart{
		{name: "bowed ring", voxel: 0.55, points: 40_000, make: func(_ uint64, a, b s1.Angle) *part {
			return bowedRing(scansim.FlangeSpec{Diameter: 92, Thickness: 8, Chamfer: 0.7, Bore: 28,
				PitchDiameter: 67, HoleDiameter: 7.6, Holes: 5, Start: a}, a, b)
		}},
		{name: "worn flange", voxel: 0.5, points: 40_000, make: func(seed uint64, a, _ s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 90, Thickness: 8, Bore: 30,
				PitchDiameter: 66, HoleDiameter: 7, Start: a})
			p = scansim.WithForm(p, scansim.RandomDents(seed, 10, 0.4, 17, 43), "mounting")
			return scansim.WithForm(p, scansim.Curl(-0.2, 36, 45, 2), "mounting")
		}},
		{name: "cast flange", voxel: 0.55, points: 45_000, make: func(seed uint64, a, _ s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 90, Thickness: 9, HubDiameter: 40,
				HubHeight: 6, Bore: 26, PitchDiameter: 66, HoleDiameter: 7, Start: a, Draft: 1.5 * s1.Degree})
			rough := scansim.Texture(seed, 0.25, 1, 5)
			return scansim.WithForm(p, rough, "mounting", "outer", "hub", "hub_top")
		}},
		{name: "printed flange", voxel: 0.45, points: 40_000, make: func(seed uint64, a, b s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 80, Thickness: 8, Bore: 26,
				PitchDiameter: 56, HoleDiameter: 6.6, Start: a})
			up := direction(b).Mul(math.Tan((3 * s1.Degree).Radians())).Add(r3.Vector{Z: 1})
			return scansim.WithForm(p, scansim.Layers(seed, 0.2, up), "*")
		}},
		{name: "oval flange", voxel: 0.5, points: 40_000, make: func(seed uint64, a, b s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 84, Thickness: 9, Bore: 34,
				PitchDiameter: 62, HoleDiameter: 6.6, Holes: 8, Start: a})
			p = scansim.WithForm(p, scansim.Lobes(2, 0.15, r3.Vector{}, b), "outer")
			return scansim.WithForm(p, scansim.Lobes(3+int(seed%3), 0.1, r3.Vector{}, a), "bore")
		}},
		{name: "twisted sheet", voxel: 0.45, points: 40_000, make: func(_ uint64, a, b s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 90, Thickness: 2.5, Bore: 40,
				PitchDiameter: 66, HoleDiameter: 6.6, Start: a})
			p = scansim.WithForm(p, scansim.Saddle(0.3, 45, b), "*")
			return scansim.WithForm(p, scansim.Curl(0.35, 34, 45, 3), "*")
		}},
		{name: "tapped flange", voxel: 0.35, points: 50_000, make: func(_ uint64, a, _ s1.Angle) *part {
			// M12: the minor diameter is 12 - 1.0825 P (ISO 724).
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 80, Thickness: 10, Bore: 24,
				PitchDiameter: 54, HoleDiameter: 12 - 1.0825*1.75, Holes: 4, Start: a, SinkDiameter: 12.6})
			for _, h := range p.Holes {
				p = scansim.WithForm(p, scansim.Thread(1.75, h.Centre), "hole:"+h.Name)
			}
			return p
		}},
		{name: "stitched scan", voxel: 0.5, points: 40_000, make: func(_ uint64, a, b s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 88, Thickness: 8, HubDiameter: 40,
				HubHeight: 5, Bore: 26, PitchDiameter: 64, HoleDiameter: 7, Start: a})
			halves := scansim.Stitch(r3.Vector{Z: 0.08}, r3.Vector{}, direction(b), 8)
			return scansim.WithForm(p, halves, "*")
		}},
		{name: "turned flange", voxel: 0.5, points: 40_000, make: func(_ uint64, a, b s1.Angle) *part {
			p := scansim.Flange(scansim.FlangeSpec{Diameter: 84, Thickness: 12, HubDiameter: 40,
				HubHeight: 8, Bore: 28, PitchDiameter: 62, HoleDiameter: 6.6, Start: a, Draft: 0.5 * s1.Degree})
			p = scansim.WithForm(p, scansim.Lobes(3, 0.04, r3.Vector{}, b), "outer", "hub", "bore")
			return scansim.WithForm(p, scansim.Curl(-0.06, 10, 42, 0), "mounting")
		}},
	}
}

// bowedRing returns a ring whose face is a saddle of ±0.19 mm and whose rim is oval by
// ±0.1 mm of radius; the holes are as drilled.
func bowedRing(spec scansim.FlangeSpec, high, oval s1.Angle) *scansim.Part {
	saddle := scansim.Saddle(0.19, spec.Diameter/2, high)
	p := scansim.WithForm(scansim.Flange(spec), saddle, "mounting", "bottom")
	return scansim.WithForm(p, scansim.Lobes(2, 0.1, r3.Vector{}, oval), "outer")
}

// fiveHoleRing is an old ring: its face a saddle of ±0.19 mm, its rim oval.
func fiveHoleRing() formPart {
	ring := bowedRing(scansim.FlangeSpec{Diameter: 104.6, Thickness: 9.7, Chamfer: 0.7, Bore: 31.8,
		PitchDiameter: 76.4, HoleDiameter: 8.6, Holes: 5, Start: 21.3 * s1.Degree}, 0, 40*s1.Degree)
	same := func(uint64, s1.Angle, s1.Angle) *scansim.Part { return ring }
	return formPart{name: "bowed five-hole ring", missing: 0.05, make: same}
}
