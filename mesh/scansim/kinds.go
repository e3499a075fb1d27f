package scansim

import (
	"context"
	"math/rand/v2"
	"strings"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/mesh"
)

// Kind is a kind of simulated part with the options that make small scans of
// it: 60 to 110 mm, a point every 0.4 to 0.6 mm.
type Kind struct {
	Name string
	// Part returns the part of a seed: its clocking, and where its form lies,
	// differ from seed to seed.
	Part  func(seed uint64) *Part
	Fused FusedOptions
	Cloud CloudOptions
}

// Mesh simulates the fused mesh of the kind's part of the seed.
func (k Kind) Mesh(ctx context.Context, seed uint64) (*mesh.Scan, Truth, error) {
	opt := k.Fused
	opt.Seed = seed
	return Fused(ctx, k.Part(seed), opt)
}

// Points simulates the cloud of the kind's part of the seed.
func (k Kind) Points(ctx context.Context, seed uint64) (*mesh.Scan, Truth, error) {
	opt := k.Cloud
	opt.Seed = seed
	return Cloud(ctx, k.Part(seed), opt)
}

// FormKinds returns parts with form, of one or several kinds each. All are
// mounting flanges or rings with through holes on a circle; where holes are on
// a formed face their axes are as drilled.
func FormKinds() []Kind {
	fused := func(voxel float64) FusedOptions { return FusedOptions{Voxel: voxel, Noise: 0.02, Missing: 0.03} }
	cloud := func(points int) CloudOptions {
		return CloudOptions{Points: points, Noise: 0.03, Tangential: 0.01, Outliers: 0.03}
	}
	return []Kind{
		{"bowed ring", func(seed uint64) *Part {
			high, oval := formAngles(seed)
			return bowedRing(FlangeSpec{Name: "bowed ring", Diameter: 92, Thickness: 8, Chamfer: 0.7, Bore: 28,
				PitchDiameter: 67, HoleDiameter: 7.6, Holes: 5, Start: high}, high, oval)
		}, fused(0.55), cloud(40_000)},
		{"worn flange", func(seed uint64) *Part {
			start, _ := formAngles(seed)
			p := Flange(FlangeSpec{Name: "worn flange", Diameter: 90, Thickness: 8, Bore: 30,
				PitchDiameter: 66, HoleDiameter: 7, Start: start})
			p = WithForm(p, RandomDents(seed, 10, 0.4, 17, 43), "mounting")
			return WithForm(p, Curl(-0.2, 36, 45, 2), "mounting")
		}, fused(0.5), cloud(40_000)},
		{"cast flange", func(seed uint64) *Part {
			start, _ := formAngles(seed)
			p := Flange(FlangeSpec{Name: "cast flange", Diameter: 90, Thickness: 9, HubDiameter: 40, HubHeight: 6,
				Bore: 26, PitchDiameter: 66, HoleDiameter: 7, Start: start, Draft: 1.5 * s1.Degree})
			return WithForm(p, Texture(seed, 0.25, 1, 5), "mounting", "outer", "hub", "hub_top")
		}, fused(0.55), cloud(45_000)},
		{"printed flange", func(seed uint64) *Part {
			start, lean := formAngles(seed)
			p := Flange(FlangeSpec{Name: "printed flange", Diameter: 80, Thickness: 8, Bore: 26,
				PitchDiameter: 56, HoleDiameter: 6.6, Start: start})
			return WithForm(p, Layers(seed, 0.2, along(lean).Mul(tan(3*s1.Degree)).Add(r3.Vector{Z: 1})), "*")
		}, fused(0.45), cloud(40_000)},
		{"oval flange", func(seed uint64) *Part {
			start, high := formAngles(seed)
			p := Flange(FlangeSpec{Name: "oval flange", Diameter: 84, Thickness: 9, Bore: 34,
				PitchDiameter: 62, HoleDiameter: 6.6, Holes: 8, Start: start})
			p = WithForm(p, Lobes(2, 0.15, r3.Vector{}, high), "outer")
			return WithForm(p, Lobes(3+int(seed%3), 0.1, r3.Vector{}, start), "bore")
		}, fused(0.5), cloud(40_000)},
		{"twisted sheet", func(seed uint64) *Part {
			start, high := formAngles(seed)
			p := Flange(FlangeSpec{Name: "twisted sheet", Diameter: 90, Thickness: 2.5, Bore: 40,
				PitchDiameter: 66, HoleDiameter: 6.6, Start: start})
			p = WithForm(p, Saddle(0.3, 45, high), "*")
			return WithForm(p, Curl(0.35, 34, 45, 3), "*")
		}, fused(0.45), cloud(40_000)},
		{"tapped flange", func(seed uint64) *Part {
			start, _ := formAngles(seed)
			// M12: the minor diameter is 12 - 1.0825 P (ISO 724).
			p := Flange(FlangeSpec{Name: "tapped flange", Diameter: 80, Thickness: 10, Bore: 24,
				PitchDiameter: 54, HoleDiameter: 12 - 1.0825*1.75, Holes: 4, Start: start, SinkDiameter: 12.6})
			for _, h := range p.Holes {
				p = WithForm(p, Thread(1.75, h.Centre), "hole:"+h.Name)
			}
			return p
		}, fused(0.35), cloud(50_000)},
		{"stitched scan", func(seed uint64) *Part {
			start, to := formAngles(seed)
			p := Flange(FlangeSpec{Name: "stitched scan", Diameter: 88, Thickness: 8, HubDiameter: 40, HubHeight: 5,
				Bore: 26, PitchDiameter: 64, HoleDiameter: 7, Start: start})
			return WithForm(p, Stitch(r3.Vector{Z: 0.08}, r3.Vector{}, along(to), 8), "*")
		}, fused(0.5), cloud(40_000)},
		{"turned flange", func(seed uint64) *Part {
			start, high := formAngles(seed)
			p := Flange(FlangeSpec{Name: "turned flange", Diameter: 84, Thickness: 12, HubDiameter: 40, HubHeight: 8,
				Bore: 28, PitchDiameter: 62, HoleDiameter: 6.6, Start: start, Draft: 0.5 * s1.Degree})
			p = WithForm(p, Lobes(3, 0.04, r3.Vector{}, high), "outer", "hub", "bore")
			return WithForm(p, Curl(-0.06, 10, 42, 0), "mounting")
		}, fused(0.5), cloud(40_000)},
	}
}

// PracticeKinds returns parts that show what whole scans of real parts show, of
// full size, sampled as sparsely as shows it still. Their parts are the same for
// every seed.
func PracticeKinds() []Kind {
	hub := FlangeSpec{Name: "hub flange", Diameter: 131.46, Thickness: 11.62, Chamfer: 1.07, HubDiameter: 53.46, HubHeight: 5.69,
		Bore: 38.17, PitchDiameter: 97.38, HoleDiameter: 10.57, Start: 23.9 * s1.Degree}
	off := hub
	off.Clocking = []s1.Angle{0, 0, 0.40 * s1.Degree}
	off.Radial = []float64{0, 0, 0, 0, 0.15}
	one := func(p *Part) func(uint64) *Part { return func(uint64) *Part { return p } }
	return []Kind{
		// A flange whose third hole is 0.40 degrees off and whose fifth is 0.15 mm out.
		{Name: "hub flange, holes off", Part: one(Flange(off)),
			Fused: FusedOptions{Voxel: 0.6, Noise: 0.022, Missing: 0.03}},
		// The same with exact holes as a cloud: one point in five is an outlier, and
		// of the others as many are on the chamfer as on the wall below it.
		{Name: "hub flange, cloud", Part: one(Flange(hub)),
			Cloud: CloudOptions{Points: 100_000, Noise: 0.05, Tangential: 0.015, Outliers: 0.2, ByView: true}},
		// A ring that is cut off at one side, on its turntable: three holes and an odd
		// one, a boss, a quarter of the surface missing.
		{Name: "partial ring", Part: one(Flange(FlangeSpec{Name: "partial ring", Diameter: 123.6, Thickness: 6.23,
			Bore: 54.92, PitchDiameter: 94.62, HoleDiameter: 7.19, Holes: 3, Spacing: 60 * s1.Degree,
			Start: 33.3 * s1.Degree, Flat: 17.9, Extras: Extras{
				Holes:  []HoleSpec{{X: -43.9, Y: -4.6, Diameter: 12.37}},
				Bosses: []BossSpec{{X: 46.3, Y: -5.7, Diameter: 13.68, Height: 9.31}}}})),
			Fused: FusedOptions{Voxel: 0.6, Noise: 0.028, Missing: 0.25, Turntable: 200}},
		// A sheet ring whose hole walls no scanner saw.
		{Name: "sheet ring", Part: one(Flange(FlangeSpec{Name: "sheet ring", Diameter: 92.43, Thickness: 1.2,
			Bore: 58.91, PitchDiameter: 75.94, HoleDiameter: 6.63, Start: 17.6 * s1.Degree})),
			Fused: FusedOptions{Voxel: 0.35, Noise: 0.018, Missing: 0.03, EdgeMargin: 0.6,
				Scanner: Scanner{Elevations: []s1.Angle{80 * s1.Degree}, MaxIncidence: 50 * s1.Degree}}},
		// An old ring: its face a saddle of ±0.19 mm, its rim oval.
		{Name: "bowed five-hole ring", Part: one(bowedRing(FlangeSpec{Name: "bowed five-hole ring",
			Diameter: 104.6, Thickness: 9.7, Chamfer: 0.7, Bore: 31.8, PitchDiameter: 76.4, HoleDiameter: 8.6, Holes: 5,
			Start: 21.3 * s1.Degree}, 0, 40*s1.Degree)),
			Fused: FusedOptions{Voxel: 0.7, Noise: 0.02, Missing: 0.05}},
	}
}

// bowedRing returns a ring whose face is a saddle of ±0.19 mm and whose rim is
// oval by ±0.1 mm of radius; the holes are as drilled.
func bowedRing(spec FlangeSpec, high, oval s1.Angle) *Part {
	p := WithForm(Flange(spec), Saddle(0.19, spec.Diameter/2, high), "mounting", "bottom")
	return WithForm(p, Lobes(2, 0.1, r3.Vector{}, oval), "outer")
}

// KindNamed returns the first kind whose name begins with name, and false if
// there is none.
func KindNamed(kinds []Kind, name string) (Kind, bool) {
	for _, k := range kinds {
		if strings.HasPrefix(k.Name, name) {
			return k, true
		}
	}
	return Kind{}, false
}

// formAngles returns two angles that differ from seed to seed.
func formAngles(seed uint64) (a, b s1.Angle) {
	rng := rand.New(rand.NewPCG(seed, streamForm))
	return 360 * s1.Degree * s1.Angle(rng.Float64()), 360 * s1.Degree * s1.Angle(rng.Float64())
}
