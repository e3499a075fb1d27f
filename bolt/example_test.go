package bolt_test

import (
	"context"
	"fmt"

	"spotface/bolt"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
)

func ExampleMeasure() {
	ctx := context.Background()
	// A simulated scan of a kettle port, one of whose holes is 0.40 degrees off;
	// scanio.Read would read one from a file.
	scan, _, err := scansim.Fused(ctx, scansim.KettlePort(), scansim.FusedOptions{Seed: 1, Voxel: 0.9, Noise: 0.02})
	if err != nil {
		fmt.Println(err)
		return
	}
	if scan, err = mesh.EstimateNormals(ctx, scan, mesh.NewKDTree(scan.Offsets, 0), 0); err != nil {
		fmt.Println(err)
		return
	}
	surfaces, err := segment.Segment(ctx, scan, segment.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	m, err := bolt.Measure(ctx, scan, surfaces, bolt.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range m.Circles {
		fmt.Printf("%s: %d holes at %.0f degrees on %.1f mm\n", c.ID, len(c.Holes), c.Nominal.Step.Degrees(), c.PitchDiameter)
		for _, k := range c.Clocking {
			if k.FromOthers.Degrees() > 0.2 {
				fmt.Printf("%s is %.1f degrees from where the others put it\n", k.Hole, k.FromOthers.Degrees())
			}
		}
	}
	// Output:
	// B1: 6 holes at 60 degrees on 84.0 mm
	// H5 is 0.4 degrees from where the others put it
}
