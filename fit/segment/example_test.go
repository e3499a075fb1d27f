package segment_test

import (
	"context"
	"fmt"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
)

// A simulated scan of a flange, divided into its surfaces.
func Example() {
	ctx := context.Background()
	part := scansim.Flange(scansim.FlangeSpec{Diameter: 110, Thickness: 8, Bore: 40, PitchDiameter: 84, HoleDiameter: 9})
	scan, _, err := scansim.Cloud(ctx, part, scansim.CloudOptions{Seed: 3, Points: 30_000, Noise: 0.02, ShowHidden: true})
	if err != nil {
		fmt.Println(err)
		return
	}
	if scan, err = mesh.EstimateNormals(ctx, scan, nil, 0); err != nil {
		fmt.Println(err)
		return
	}
	seg, err := segment.Segment(ctx, scan, segment.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(len(seg.Planes()), "planes")
	for _, c := range seg.Cylinders() {
		side := "external"
		if c.Internal {
			side = "internal"
		}
		fmt.Printf("%s: %s, radius %.1f mm, %.0f degrees seen\n", c.ID, side, c.Radius, c.Arc.Degrees())
	}
	// Output:
	// 2 planes
	// C1: external, radius 55.0 mm, 360 degrees seen
	// C2: internal, radius 20.0 mm, 360 degrees seen
	// C3: internal, radius 4.5 mm, 360 degrees seen
	// C4: internal, radius 4.5 mm, 360 degrees seen
	// C5: internal, radius 4.5 mm, 360 degrees seen
	// C6: internal, radius 4.5 mm, 360 degrees seen
	// C7: internal, radius 4.5 mm, 360 degrees seen
	// C8: internal, radius 4.5 mm, 360 degrees seen
}
