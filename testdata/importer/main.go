// Command importer uses the library as another program would, from a module of its own: it reads
// a scan and measures it, and judges hole centres of its own against a plan made in Go.
package main

import (
	"bytes"
	"context"
	"fmt"
	"log"
	"math"
	"os"

	"github.com/golang/geo/r3"

	"spotface/bolt"
	"spotface/mesh/scanio"
	"spotface/mesh/scansim"
	"spotface/report"
	"spotface/report/check"
	"spotface/report/plan"
)

func main() {
	ctx := context.Background()
	file, err := scanFile(ctx)
	if err != nil {
		log.Fatal(err)
	}
	scan, err := scanio.ReadFrom(ctx, bytes.NewReader(file), int64(len(file)), "port.stl", scanio.Options{Checksum: true})
	if err != nil {
		log.Fatal(err)
	}
	rep, err := report.Measure(ctx, scan, report.MeasureOptions{})
	if err != nil {
		log.Fatal(err)
	}
	for _, b := range rep.BoltCircles {
		fmt.Printf("scan: %s has %d holes on %.1f mm\n", b.ID, len(b.Holes), b.PitchDiameter)
	}
	port := plan.Plan{Part: "kettle port", BoltCircles: []plan.Circle{{ID: "B1", Angles: plan.Ring(6),
		PitchDiameter: &plan.Size{Nominal: 84, Band: plan.PlusMinus(0.2)}, ClockingBand: plan.PlusMinus(0.25)}}}
	if err := judge(&port, rep); err != nil {
		log.Fatal(err)
	}

	// Centres from a coordinate measuring machine, mm, each known to 0.005 mm.
	var holes []bolt.Hole
	for i, deg := range []float64{0, 60, 120.4, 180, 240, 300} {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		holes = append(holes, bolt.Hole{Centre: r3.Vector{X: 42 * cos, Y: 42 * sin}, Axis: r3.Vector{Z: 1},
			ID: fmt.Sprintf("H%d", i+1), CentreCov: [2][2]float64{{2.5e-5, 0}, {0, 2.5e-5}}})
	}
	own, err := report.OfHoles("centres.txt", holes)
	if err != nil {
		log.Fatal(err)
	}
	if err := judge(&port, own); err != nil {
		log.Fatal(err)
	}
}

// scanFile is a simulated scan, as a file.
func scanFile(ctx context.Context) ([]byte, error) {
	scan, _, err := scansim.Fused(ctx, scansim.KettlePort(), scansim.FusedOptions{Seed: 1, Voxel: 0.8, Noise: 0.02})
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = scanio.WriteSTL(&b, scan)
	return b.Bytes(), err
}

// judge prints what of a part is out of its plan, and the verdict.
func judge(p *plan.Plan, rep *report.Report) error {
	j, err := check.Check(p, rep)
	if err != nil {
		return err
	}
	for _, r := range j.Results {
		if r.Verdict == report.Nonconforming {
			fmt.Printf("%s: %s %s is %+.2f off\n", rep.Scan.File, r.Feature, r.Characteristic, *r.Deviation)
		}
	}
	fmt.Printf("%s: %s\n", rep.Scan.File, j.Verdict)
	view, err := report.NewView(rep.Judged(j), report.ViewOptions{})
	if err != nil {
		return err
	}
	return report.WriteText(os.Stderr, report.TextOptions{}, view)
}
