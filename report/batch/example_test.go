package batch_test

import (
	"bytes"
	"context"
	"fmt"

	"spotface/report"
	"spotface/report/batch"
	"spotface/report/check"
	"spotface/report/plan"
)

// Results of many scans are written a line each, and summed up from there.
func Example() {
	p, err := plan.Parse("lid.yaml", []byte(`part: lid
cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: +-0.1}}]
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	sum, _ := p.Checksum()
	var lines bytes.Buffer
	for i, diameter := range []float64{40.02, 40.03, 40.07} {
		rep := &report.Report{Schema: report.Schema, Cylinders: []report.Cylinder{{ID: "C1",
			Side: report.Internal, Axis: report.Vec{0, 0, 1}, Diameter: diameter,
			Uncertainty: report.Uncertainty{Diameter: 0.01}}}}
		j, err := check.Check(p, rep)
		if err != nil {
			fmt.Println(err)
			return
		}
		line := batch.Line{PlanChecksum: sum, Number: i + 1, Path: fmt.Sprintf("lid-%d.stl", i+1),
			Report: rep.Judged(j)}
		if err := line.Write(&lines); err != nil {
			fmt.Println(err)
			return
		}
	}
	b, err := batch.New(p)
	if err != nil {
		fmt.Println(err)
		return
	}
	if err := b.Read(context.Background(), "results.jsonl", &lines); err != nil {
		fmt.Println(err)
		return
	}
	s, err := b.Summary()
	if err != nil {
		fmt.Println(err)
		return
	}
	c := s.Characteristics[0]
	fmt.Printf("%d parts, mean %+.3f %s, spread %.4f, largest %+.3f of %s\n",
		s.Parts, *c.Mean, c.Unit, *c.Spread, c.Largest.Deviation, c.Largest.Part)
	// Output: 3 parts, mean +0.040 mm, spread 0.0265, largest +0.070 of lid-3.stl
}
