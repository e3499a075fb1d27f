package check_test

import (
	"context"
	"fmt"
	"log"
	"math"

	"github.com/golang/geo/s1"

	"spotface/bolt"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/report"
	"spotface/report/check"
	"spotface/report/plan"
)

// kettlePort is a measured ring of six holes on 84 mm, the third 0.4 degrees off;
// from a scan it would come from report.Measure.
func kettlePort() *report.Report {
	holes := bolt.Ideal(6, 84, 0)
	sin, cos := math.Sincos(120.4 * math.Pi / 180)
	holes[2].Centre.X, holes[2].Centre.Y = 42*cos, 42*sin
	for i := range holes {
		holes[i].Kind, holes[i].Diameter, holes[i].DiameterU = bolt.Round, 6.61, 0.004
		holes[i].CentreCov = [2][2]float64{{1.6e-5, 0}, {0, 1.6e-5}} // 0.004 mm each way
	}
	nominal := bolt.Nominal{Positions: 6, Spacing: 60 * s1.Degree, FullRing: true}
	for i := range holes {
		nominal.Angles = append(nominal.Angles, s1.Angle(i)*60*s1.Degree)
	}
	circle, err := bolt.Clock(holes, nominal)
	if err != nil {
		log.Fatal(err)
	}
	circle.ID = "B1"
	scan := &mesh.Scan{Source: mesh.Source{File: "kettle-port.stl", Unit: mesh.Millimetre, UnitSource: mesh.UnitGiven}}
	m := &bolt.Measurement{Holes: holes, Circles: []bolt.Circle{circle}}
	rep, err := report.Build(context.Background(), scan, &segment.Segmentation{Noise: 0.021}, m)
	if err != nil {
		log.Fatal(err)
	}
	return rep
}

// The main job: judge a measured scan against a plan.
func Example() {
	p, err := plan.Parse("port.yaml", []byte(`
part: kettle port ring
bolt_circles:
  - id: B1
    count: 6
    pitch_diameter: {nominal: 84, band: [-0.2, 0.2]}
    clocking: {band: [-0.25, 0.25]}  # degrees
`))
	if err != nil {
		log.Fatal(err)
	}
	rep := kettlePort()
	j, err := check.Check(p, rep)
	if err != nil {
		log.Fatal(err)
	}
	for _, r := range j.Results {
		fmt.Printf("%-6s %-15s %+.3f +-%.3f %-3s %s\n", r.Feature, r.Characteristic, *r.Deviation, r.Uncertainty, r.Unit, r.Verdict)
	}
	fmt.Println(j.Verdict, "exit code", report.ExitCode(rep.Judged(j)))
	// Output:
	// B1     pitch_diameter  +0.000 +-0.007 mm  conforming
	// B1/H1  clocking        -0.067 +-0.012 deg conforming
	// B1/H2  clocking        -0.067 +-0.012 deg conforming
	// B1/H3  clocking        +0.333 +-0.012 deg nonconforming
	// B1/H4  clocking        -0.067 +-0.012 deg conforming
	// B1/H5  clocking        -0.067 +-0.012 deg conforming
	// B1/H6  clocking        -0.067 +-0.012 deg conforming
	// nonconforming exit code 1
}
