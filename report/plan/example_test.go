package plan_test

import (
	"bytes"
	"fmt"
	"log"

	"spotface/bolt"
	"spotface/report"
	"spotface/report/plan"
)

// A plan with a typo is refused by line and column.
func ExampleParse() {
	_, err := plan.Parse("port.yaml", []byte(`bolt_circles:
  - id: B1
    count: 6
    pich_diameter: {nominal: 84}
`))
	fmt.Println(err)
	// Output:
	// port.yaml: line 4, column 5: unknown key "pich_diameter" in bolt_circles: did you mean "pitch_diameter"?
}

// A plan in Go: six holes, evenly spaced, each within a quarter of a degree.
func ExampleRing() {
	p := plan.Plan{BoltCircles: []plan.Circle{{ID: "B1", Angles: plan.Ring(6), ClockingBand: plan.PlusMinus(0.25),
		PitchDiameter: &plan.Size{Nominal: 84, Band: plan.Limits(-0.1, 0.2)}}}}
	fmt.Println(p.BoltCircles[0].Angles, p.Validate())

	p.BoltCircles[0].ClockingBand = plan.Limits(0.25, -0.25)
	fmt.Println(p.Validate())
	// Output:
	// [0 60 120 180 240 300] <nil>
	// plan: bolt_circles[0].clocking.band: the band of clocking has its lower limit 0.25 above its upper limit -0.25: swap them
}

// A plan drafted from a measured part, to copy it as it is.
func ExampleWriteDraft() {
	holes := bolt.Ideal(6, 84.06, 0)
	for i := range holes {
		holes[i].Diameter, holes[i].DiameterU = 6.61, 0.004
	}
	rep, err := report.OfHoles("port.txt", holes)
	if err != nil {
		log.Fatal(err)
	}
	var b bytes.Buffer
	if err := plan.WriteDraft(&b, rep, plan.DraftOptions{AsFound: true}); err != nil {
		log.Fatal(err)
	}
	p, err := plan.Parse("port.yaml", b.Bytes())
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(p.BoltCircles[0].PitchDiameter.Nominal, p.BoltCircles[0].HoleDiameter.Nominal)
	// Output:
	// 84.06 6.61
}
