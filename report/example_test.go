package report_test

import (
	"bytes"
	"context"
	"fmt"
	"log"
	"math"
	"os"

	"spotface/bolt"
	"spotface/report"
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

func ExampleFindStandouts() {
	rep := kettlePort()
	for _, s := range report.FindStandouts(rep, &rep.BoltCircles[0]).Holes {
		fmt.Printf("%s is turned by %+.2f degrees, %+.2f mm along the circle\n", s.Hole, s.Deg, s.Along)
	}
	// Output:
	// H3 is turned by +0.40 degrees, +0.29 mm along the circle
}

func ExampleWriteText() {
	view, err := report.NewView(kettlePort(), report.ViewOptions{})
	if err != nil {
		log.Fatal(err)
	}
	if err := report.WriteText(os.Stdout, report.TextOptions{}, view); err != nil {
		log.Fatal(err)
	}
	// Output:
	// kettle-port.stl    unit: mm (given)
	//
	// 6 holes, 60 degrees apart, on a bolt circle of 84.000 +-0.007 mm. ONE IS OFF:
	//   H3: 0.40 degrees counter-clockwise, 0.293 mm along the circle (+-0.01 degrees)
	// The other five are on a true 60 degree pattern (+-0.01 degrees).
	// Angles run counter-clockwise, looking at the face; the mating part sees them clockwise.
	//
	// Drill table
	//   hole  angle, deg  off, deg  out, mm  diameter, mm
	//   H1         0.000    0.00    0.000           6.610
	//   H2        60.000    0.00    0.000           6.610
	//   H3       120.400   +0.40 !  0.000           6.610
	//   H4       180.000    0.00    0.000           6.610
	//   H5       240.000    0.00    0.000           6.610
	//   H6       300.000    0.00    0.000           6.610
	//   +-         0.012    0.01    0.011           0.008  (95 %)
	//
	// Hole size 6.6: clearance for M6 (ISO 273 medium)
	// Check H3 with a pin and a caliper before you cut. A scan approves nothing.
	// More: --full. Next: spotface measure kettle-port.stl --unit mm --write-plan
	//   kettle-port.yaml
}

// Two parts bolt up where every fastener goes through both.
func ExampleNewBoltUp() {
	port, err := report.PatternOf("port", kettlePort())
	if err != nil {
		log.Fatal(err)
	}
	plate := bolt.Ideal(6, 84, 0)
	for i := range plate {
		plate[i].Diameter = 6.6
	}
	ring, err := report.OfHoles("ring", plate)
	if err != nil {
		log.Fatal(err)
	}
	adapter, err := report.PatternOf("adapter", ring)
	if err != nil {
		log.Fatal(err)
	}
	up, err := report.NewBoltUp(context.Background(), port, adapter, report.BoltUpOptions{Fastener: 6})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(up.Verdict, "at", len(up.Ways), "turns")
	// Output:
	// conforming at 6 turns
}

// A report as other programs read it, and read back.
func ExampleWriteJSON() {
	var b bytes.Buffer
	if err := report.WriteJSON(&b, kettlePort()); err != nil {
		log.Fatal(err)
	}
	rep, err := report.ReadJSON(&b)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%s %.3f mm\n", rep.Schema, rep.BoltCircle("B1").PitchDiameter)
	// Output:
	// spotface-report/1 84.000 mm
}
