package scansim_test

import (
	"context"
	"fmt"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/mesh/scansim"
)

// A fused mesh of the kettle port, and what is true of its bolt circle.
func ExampleFused() {
	scan, truth, err := scansim.Fused(context.Background(), scansim.KettlePort(), scansim.FusedOptions{
		Seed: 1, Voxel: 1.2, Noise: 0.02, Missing: 0.03,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("a mesh:", scan.IsMesh(), "- a label for each triangle:", len(truth.Labels) == len(scan.Triangles))
	ring := truth.Patterns[0]
	fmt.Printf("pitch diameter %.2f mm\n", ring.FitPitchDiameter)
	for i, h := range ring.Holes {
		fmt.Printf("%s %+.3f° from the best fit\n", truth.Holes[h].Name, ring.BestFit[i].Degrees())
	}
	// Output:
	// a mesh: true - a label for each triangle: true
	// pitch diameter 84.00 mm
	// A1 -0.067° from the best fit
	// A2 -0.067° from the best fit
	// A3 +0.333° from the best fit
	// A4 -0.067° from the best fit
	// A5 -0.067° from the best fit
	// A6 -0.067° from the best fit
}

// A cloud of a plate with one countersunk hole; a fifth of it are outliers.
func ExampleCloud() {
	plate := scansim.Plate(scansim.PlateSpec{
		Length: 60, Width: 40,
		Extras: scansim.Extras{Holes: []scansim.HoleSpec{{X: 10, Diameter: 6, SinkDiameter: 12}}},
	})
	scan, truth, err := scansim.Cloud(context.Background(), plate, scansim.CloudOptions{
		Seed: 1, Points: 20_000, Noise: 0.05, Outliers: 0.2,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	outliers, sum, n := 0, 0.0, 0
	for i, l := range truth.Labels {
		switch f := truth.Face(l); {
		case l == scansim.LabelOutlier:
			outliers++
		case f.Role == "mounting":
			d := f.Signed(scan.Point(i))
			sum += d * d
			n++
		}
	}
	fmt.Printf("%d points, %.0f %% outliers, noise on the mounting face %.2f mm\n",
		scan.Len(), 100*float64(outliers)/float64(scan.Len()), math.Sqrt(sum/float64(n)))
	sink := truth.Face(plate.FaceNamed("sink:X1").ID)
	fmt.Printf("countersink: a %s of %.0f° half angle\n", sink.Shape, sink.HalfAngle.Degrees())
	// Output:
	// 20000 points, 20 % outliers, noise on the mounting face 0.05 mm
	// countersink: a cone of 45° half angle
}

// A flange with three holes of a ring of six, one of them off.
func ExampleFlange() {
	p := scansim.Flange(scansim.FlangeSpec{
		Diameter: 120, Thickness: 6, Bore: 50,
		PitchDiameter: 95, HoleDiameter: 7, Holes: 3, Spacing: 60 * s1.Degree,
		Clocking: []s1.Angle{0, 0.1 * s1.Degree},
	})
	for _, h := range p.Holes {
		fmt.Printf("%s %.2f mm at (%.2f, %.2f)\n", h.Name, h.Diameter, h.Centre.X, h.Centre.Y)
	}
	fmt.Printf("hole A2 is %.3f° from the best fit\n", p.Patterns[0].BestFit[1].Degrees())
	// Output:
	// A1 7.00 mm at (47.50, 0.00)
	// A2 7.00 mm at (23.68, 41.18)
	// A3 7.00 mm at (-23.75, 41.14)
	// hole A2 is 0.067° from the best fit
}

// A part of one's own: a ball on a block, joined by subtraction and union.
func ExampleNewPart() {
	block := scansim.Box("top", "bottom", "side", r3.Vector{X: -20, Y: -20, Z: -10}, r3.Vector{X: 20, Y: 20})
	dent := scansim.Ball("dent", r3.Vector{Z: 4}, 8)
	p := scansim.NewPart("dented block", scansim.Minus(block, dent),
		r3.Vector{X: -20, Y: -20, Z: -10}, r3.Vector{X: 20, Y: 20}, nil)
	for _, f := range p.Faces {
		fmt.Println(f.ID, f.Role, f.Shape, f.Internal)
	}
	// Output:
	// 1 top plane false
	// 2 bottom plane false
	// 3 side plane false
	// 4 side plane false
	// 5 side plane false
	// 6 side plane false
	// 7 dent sphere true
}

// A face with a bow and a dent: how far exact points of it lie off the ideal plane.
func ExampleWithForm() {
	p := scansim.Flange(scansim.FlangeSpec{Diameter: 80, Bore: 30, Holes: -1})
	p = scansim.WithForm(p, scansim.Bow(0.2, 40, 0), "mounting")
	p = scansim.WithForm(p, scansim.Dents(scansim.Dent{Centre: r3.Vector{Y: 30}, Radius: 4, Depth: 0.3}), "mounting")
	face := p.FaceNamed("mounting")
	low, high := 0.0, 0.0
	for _, q := range p.Points(face.ID, 20_000) {
		low, high = min(low, face.Signed(q)), max(high, face.Signed(q))
	}
	fmt.Printf("%.2f to %.2f mm off the ideal plane\n", low, high)
	// Output:
	// -0.10 to 0.20 mm off the ideal plane
}
