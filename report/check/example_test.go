package check_test

import (
	"fmt"
	"log"
	"math"

	"spotface/bolt"
	"spotface/report"
	"spotface/report/check"
	"spotface/report/plan"
)

// kettlePort is a ring of six holes on 84 mm, the third 0.4 degrees off, as a coordinate
// measuring machine has it; from a scan it would come from report.Measure.
func kettlePort() *report.Report {
	holes := bolt.Ideal(6, 84, 0)
	sin, cos := math.Sincos(120.4 * math.Pi / 180)
	holes[2].Centre.X, holes[2].Centre.Y = 42*cos, 42*sin
	for i := range holes {
		holes[i].Diameter, holes[i].DiameterU = 6.61, 0.004
		holes[i].CentreCov = [2][2]float64{{1.6e-5, 0}, {0, 1.6e-5}} // 0.004 mm each way
	}
	rep, err := report.OfHoles("kettle-port.stl", holes)
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

// A trial was printed from a plan with holes of 6.9 mm on 84.3 mm: what to print next.
func ExampleNextPrint() {
	printed, err := plan.Parse("trial.yaml", []byte(`
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84.3}, hole_diameter: {nominal: 6.9}}]
`))
	if err != nil {
		log.Fatal(err)
	}
	how, next, err := check.NextPrint(printed, kettlePort())
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(how.Lines()[0])
	fmt.Printf("print %.2f mm\n", next.BoltCircles[0].PitchDiameter.Nominal)
	// Output:
	// lengths in plane: -0.356 +-0.008 % (by 3 lengths): corrected
	// print 84.60 mm
}
