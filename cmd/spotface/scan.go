package main

import (
	"bytes"
	"context"
	"fmt"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/report"
)

// measured is a scan with what was found in it.
type measured struct {
	scan     *mesh.Scan
	surfaces *segment.Segmentation
	report   *report.Report
}

// measureScan reads one scan file and measures it, with warnings and progress
// on standard error.
func (a *app) measureScan(ctx context.Context, file string, f scanFlags) (*measured, error) {
	p := newProgress(a.stderr)
	defer p.clear()
	scan, err := mesh.Read(ctx, file, mesh.ReadOptions{
		Unit: mesh.Unit(f.unit), Jobs: f.jobs, Progress: p.at(file + ": reading")})
	if err != nil {
		return nil, err
	}
	rep, surfaces, err := report.MeasureSurfaces(ctx, scan, report.MeasureOptions{
		Face: f.face, Bore: f.bore, Clock: f.clock, Only: f.only, Seed: f.seed, Jobs: f.jobs,
		Progress: p.stages(file)})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	p.clear()
	for _, w := range rep.Scan.Warnings {
		a.note("warning: %s: %s", file, w)
	}
	return &measured{scan: scan, surfaces: surfaces, report: rep}, nil
}

// render prints reports in the named format: as text one after the other, as
// JSON one object, or a list of them where there is not just one.
func render(format string, reps ...*report.Report) ([]byte, error) {
	var b bytes.Buffer
	for i, rep := range reps {
		var err error
		switch {
		case format == "json":
			if len(reps) > 1 {
				b.WriteString([...]string{"[\n", ",\n"}[min(i, 1)])
			}
			err = report.WriteJSON(&b, rep)
			if i > 0 && i == len(reps)-1 {
				b.WriteString("]\n")
			}
		default:
			if i > 0 {
				b.WriteString("\n\n")
			}
			err = report.WriteText(&b, rep)
		}
		if err != nil {
			return nil, err
		}
	}
	return b.Bytes(), nil
}
