package main

import (
	"bytes"
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"spotface/mesh/scanio"
	"spotface/mesh/scansim"
	"spotface/report/plan"
	"spotface/report/step"
)

// demoPlan is the plan of the demo's part.
//
//go:embed demo.yaml
var demoPlan []byte

// Names of the files that the demo writes on request.
const (
	demoScanName = "kettle-port.stl"
	demoPlanName = "kettle-port.yaml"
)

// demoFiles are, by extension, what else it writes; demoThickness is the flange's, mm, of
// which the scan shows one side.
var demoFiles = [...]string{".html", ".pdf", ".step"}

const demoThickness = 6

func newDemo(a *app) *cobra.Command {
	var out outFlags
	var keep string
	var seed uint64
	var spacing float64
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Show the whole job on a simulated scan",
		Long: `Simulate a scan of an old brewing kettle's round port, measure it, judge it
against a plan, and print the report. No file is needed, and none is written
unless --keep names a directory: for the scan, the plan, the page, a 1:1 template and
CAD faces.`,
		Example: `  spotface demo
  spotface demo --keep practice`,
		Args: wantArgs(0, 0, "nothing"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := validate(&out, nil); err != nil {
				return err
			}
			if info, err := os.Stat(keep); keep != "" && err == nil && !info.IsDir() {
				return fmt.Errorf("--keep %s is a file: name a directory", keep)
			}
			d, err := a.demo(cmd.Context(), out, seed, spacing)
			if err != nil {
				return err
			}
			o := outputs{of: "demo"}
			if keep != "" {
				part := strings.TrimSuffix(demoScanName, ".stl")
				o.add("--keep", filepath.Join(keep, demoScanName), d.file)
				o.add("--keep", filepath.Join(keep, demoPlanName), demoPlan)
				e := export{measured: &d.measured, judged: d.report, part: part, paper: "A4", note: a.note,
					opt: step.Options{Thickness: demoThickness}}
				for _, ext := range demoFiles {
					o.print("--keep", filepath.Join(keep, part+ext), func(w io.Writer) error {
						return exporters[ext].write(&e, w)
					})
				}
				if err := os.MkdirAll(keep, 0o777); err != nil {
					return fmt.Errorf("--keep %s: %w", keep, bareError(err))
				}
			}
			o.print("-o", out.out, func(w io.Writer) error {
				if out.format != "text" {
					return d.render(w, &out)
				}
				return d.tell(w, &out, keep)
			})
			return o.write(cmd.Context(), a.stdout)
		},
	}
	out.registerReport(cmd)
	fl := cmd.Flags()
	fl.StringVar(&keep, "keep", "", "write the simulated scan, its plan, page, template and "+
		"CAD faces into `DIR`, to try the other commands on")
	fl.Uint64Var(&seed, "seed", 1, "`NUMBER` that picks the noise, the gaps and the pose of "+
		"the simulated scan")
	fl.Float64Var(&spacing, "spacing", 0.4, "`MM` from point to point of the simulated scan")
	guard(fl, "spacing", func() error {
		if !(spacing >= 0.1 && spacing <= 2) {
			return errors.New("is too fine or too coarse: give 0.1 to 2 mm")
		}
		return nil
	})
	return cmd
}

// demonstration is a simulated scan, as a file and as measured, with its truth.
type demonstration struct {
	measured
	file  []byte
	truth scansim.Truth
}

// demo simulates, measures and checks.
func (a *app) demo(ctx context.Context, out outFlags, seed uint64,
	spacing float64) (*demonstration, error) {
	p := newProgress(a.stderr, a.quiet)
	scan, truth, err := scansim.Fused(ctx, scansim.KettlePort(), scansim.FusedOptions{
		Seed: seed, Voxel: spacing, Noise: 0.02, Missing: 0.08, Junk: 3,
		Progress: p.at("simulating a scan")})
	p.clear()
	if err != nil {
		return nil, err
	}
	var file bytes.Buffer
	if err := scanio.WriteSTL(&file, scan); err != nil {
		return nil, err
	}
	port, err := plan.Parse(demoPlanName, demoPlan)
	if err != nil {
		return nil, err
	}
	// From here on, what happens to a user's own file.
	a.stdin, a.stdinName = bytes.NewReader(file.Bytes()), demoScanName
	m, _, err := a.checkScan(ctx, port, standardInput, scanFlags{}, out)
	if err != nil {
		return nil, err
	}
	return &demonstration{*m, file.Bytes(), truth}, nil
}

// tell prints the report between what it is of and what to do next.
func (d *demonstration) tell(w io.Writer, out *outFlags, keep string) error {
	fmt.Fprint(w, `A simulated scan, not a real part: the round port of an old brewing kettle that is
to carry a new level sensor through an adapter ring. Its six holes are said to sit
60 degrees apart on a circle of 84 mm; one was made 0.40 degrees off.

`)
	if err := d.render(w, out); err != nil {
		return err
	}
	next := `To go on, keep this scan and its plan, and try the other commands on them
("go build ./cmd/spotface" makes the command):
  spotface demo --keep practice
`
	if keep != "" {
		next = fmt.Sprintf(`To go on, the same with the files that are now in %[1]s:
  spotface measure %[2]s
  spotface check %[3]s %[2]s
The page, to open in a browser, is %[4]s.
`, keep, filepath.Join(keep, demoScanName), filepath.Join(keep, demoPlanName),
			filepath.Join(keep, strings.TrimSuffix(demoScanName, ".stl")+".html"))
	}
	_, err := fmt.Fprintf(w, `
%s
%sThen with a scan of your own (STL, PLY, OBJ, 3MF or points as text), giving --unit
where it is not in millimetres:
  spotface measure SCAN --write-plan PLAN   says what is there and drafts a plan
  spotface check PLAN SCAN                  once you have edited the plan's bands
`, d.compare(), next)
	return err
}

// compare compares the report with the simulated truth.
func (d *demonstration) compare() string {
	const unseen = "The scan is simulated, so the truth is known; this report found no bolt " +
		"circle to hold against it.\n"
	if len(d.report.BoltCircles) == 0 || len(d.truth.Patterns) == 0 {
		return unseen
	}
	circle, truth := d.report.BoltCircles[0], d.truth.Patterns[0]
	worst, seen := 0.0, 0
	for i, h := range truth.Holes {
		at := d.truth.Holes[h].Centre
		for _, c := range circle.Clocking {
			found := d.report.Hole(c.Hole)
			if found != nil && c.DeviationDeg != nil &&
				found.Centre.R3().Sub(at).Norm() <= 1 { // mm; the holes are far apart
				worst = max(worst, math.Abs(*c.DeviationDeg-truth.BestFit[i].Degrees()))
				seen++
			}
		}
	}
	if seen == 0 {
		return unseen
	}
	return fmt.Sprintf(`The scan is simulated, so the truth is known. Of %d holes %d were found; against
what is true, the largest error of a hole's angle is %.3f degrees, and the pitch diameter
is off by %.3f mm.
`, len(truth.Holes), seen, worst, math.Abs(circle.PitchDiameter-truth.FitPitchDiameter))
}
