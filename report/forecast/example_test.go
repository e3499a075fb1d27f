package forecast_test

import (
	"context"
	"fmt"
	"log"

	"spotface/report/forecast"
	"spotface/report/plan"
)

// Will a scanner with 0.05 mm of noise do for this ring? (One scan of a coarse kind
// keeps the example short; leave Trials out.)
func ExampleRun() {
	p, err := plan.Parse("ring.yaml", []byte(`
scanner: {noise: 0.05, spacing: 1.0, correlation_length: 0.8}
bolt_circles:
  - id: B1
    count: 6
    pitch_diameter: {nominal: 40, band: [-0.5, 0.5]}
    hole_diameter:  {nominal: 10}
    clocking:       {band: [-0.5, 0.5]}
`))
	if err != nil {
		log.Fatal(err)
	}
	f, err := forecast.Run(context.Background(), p, forecast.Options{Trials: 1})
	if err != nil {
		log.Fatal(err)
	}
	for _, e := range f.Cases[0].Expected {
		fmt.Printf("%s %s can be judged: %s\n", e.Feature, e.Characteristic, e.Answer)
	}
	// Output:
	// B1 pitch_diameter can be judged: yes
	// B1 clocking can be judged: yes
}
