package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scanio"
	"spotface/report"
	"spotface/report/deviation"
	"spotface/report/page"
)

// measured is a scan with what was found in it; of a saved report there is nothing else.
type measured struct {
	scan       *mesh.Scan
	surfaces   *segment.Segmentation
	deviations *deviation.Map
	report     *report.Report
}

// page writes what was measured as a page.
func (m *measured) page(out *outFlags) ([]byte, error) {
	var b bytes.Buffer
	err := page.Write(&b, page.Page{Report: m.report, Inches: out.show == "in", Scan: m.scan,
		Surfaces: m.surfaces, Deviations: m.deviations, Tool: version()})
	return b.Bytes(), err
}

// render prints it as the flags want it.
func (m *measured) render(out *outFlags) ([]byte, error) {
	if out.format == "html" {
		return m.page(out)
	}
	return render(out, m.report)
}

// measure reads a saved report (.json), or a scan and measures it.
func (a *app) measure(ctx context.Context, file string, f scanFlags, out outFlags) (*measured, error) {
	if !strings.EqualFold(filepath.Ext(file), ".json") {
		return a.measureScan(ctx, file, f, out)
	}
	for _, flag := range []string{"unit", "seed", "face", "bore", "clock", "only", "form"} {
		if f.flags.Changed(flag) {
			return nil, fmt.Errorf("%s: --%s says how a scan is measured, and this is a report: give the scan", file, flag)
		}
	}
	rep, err := a.readReport(file)
	if err == nil {
		rep.Record = recordOf(rep.Record, out)
	}
	return &measured{report: rep}, err
}

// recordOf is the inspection record of a report: the operator where one is named, and this
// program beside the one that measured a saved report, if that was another.
func recordOf(saved *report.Record, out outFlags) *report.Record {
	r := report.Record{Tool: version()}
	if saved != nil {
		r = *saved
		if r.JudgedBy = version(); r.Tool == r.JudgedBy {
			r.JudgedBy = ""
		}
	}
	if out.operator != "" {
		r.Operator = oneLine(out.operator)
	}
	return &r
}

// measureScan reads one scan file and measures it, with warnings and progress
// on standard error.
func (a *app) measureScan(ctx context.Context, file string, f scanFlags, out outFlags) (*measured, error) {
	p := newProgress(a.stderr, a.quiet || out.several)
	defer p.clear()
	name := filepath.Base(called(file))
	scan, err := a.readScan(ctx, file, scanio.Options{
		Unit: mesh.Unit(f.unit), Jobs: f.jobs, Checksum: true, Progress: p.at(name + ": reading")})
	if err != nil {
		return nil, err
	}
	rep, surfaces, err := report.MeasureSurfaces(ctx, scan, report.MeasureOptions{
		Face: f.face, Bore: f.bore, Clock: f.clock, Only: f.only, Form: f.form, Seed: f.seed, Jobs: f.jobs,
		Progress: p.stages(name)})
	file = called(file)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	if err := rep.UnitInDoubt(); err != nil && f.planned {
		return nil, fmt.Errorf("%s: no plan is drafted: %w, with --unit", file, err)
	}
	for _, id := range f.only {
		if !has(rep, id) {
			return nil, fmt.Errorf("%s: --only %s: the scan has no such feature: measure without it to see their ids", file, id)
		}
	}
	d, err := deviation.Of(ctx, scan, surfaces, deviation.Options{Jobs: f.jobs})
	if err != nil {
		return nil, fmt.Errorf("%s: deviations: %w", file, err)
	}
	d.Fill(rep)
	rep.Record = recordOf(nil, out)
	p.clear()
	a.warn(file, out, rep.Scan.Warnings)
	return &measured{scan, surfaces, d, rep}, nil
}

// warn says warnings on standard error, but where a text report on the same terminal says
// them, or JSON lines hold those of thousands of scans.
func (a *app) warn(file string, out outFlags, warnings []string) {
	if out.several || out.format == jsonLines || out.format == "text" && out.out == "" && isTerminal(a.stdout) {
		return
	}
	for _, w := range warnings {
		a.note("warning: %s: %s", file, w)
	}
}

// placed returns the report with its coordinates where the flags want them: in
// the datum frame only if the scan shows one.
func (a *app) placed(file string, rep *report.Report, f scanFlags) (*report.Report, error) {
	if !f.inFrame {
		return rep, nil
	}
	in, err := report.InDatumFrame(rep)
	switch {
	case errors.Is(err, report.ErrNoFrame):
		a.note("warning: %s: --in-frame: %s", file, err)
		return rep, nil
	case err != nil:
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return in, nil
}

// has reports whether the report holds a feature of that id.
func has(rep *report.Report, id string) bool {
	return slices.ContainsFunc(rep.BoltCircles, func(x report.BoltCircle) bool { return x.ID == id }) ||
		slices.ContainsFunc(rep.Holes, func(x report.Hole) bool { return x.ID == id }) ||
		slices.ContainsFunc(rep.Studs, func(x report.Hole) bool { return x.ID == id }) ||
		slices.ContainsFunc(rep.Planes, func(x report.Plane) bool { return x.ID == id }) ||
		slices.ContainsFunc(rep.Cylinders, func(x report.Cylinder) bool { return x.ID == id }) ||
		slices.ContainsFunc(rep.Cones, func(x report.Cone) bool { return x.ID == id }) ||
		slices.ContainsFunc(rep.Spheres, func(x report.Sphere) bool { return x.ID == id })
}

// headline says on standard error what a file that was written says first.
func (a *app) headline(out *outFlags, reps ...*report.Report) {
	for _, rep := range reps {
		v, err := report.NewView(rep, report.ViewOptions{Inches: out.show == "in"})
		if err != nil || out.out == "" || out.out == standardInput {
			continue
		}
		for _, s := range v.Headline {
			a.note("%s: %s", v.File, strings.Join(append([]string{s.Text}, s.Points...), " "))
		}
	}
}

// render prints reports as the flags want them: JSON is one object, or a list of them where
// there is not just one.
func render(out *outFlags, reps ...*report.Report) ([]byte, error) {
	var b bytes.Buffer
	if out.format == "json" {
		for i, rep := range reps {
			if len(reps) > 1 {
				b.WriteString([...]string{"[\n", ",\n"}[min(i, 1)])
			}
			if err := report.WriteJSON(&b, rep); err != nil {
				return nil, err
			}
			if i > 0 && i == len(reps)-1 {
				b.WriteString("]\n")
			}
		}
		return b.Bytes(), nil
	}
	var views []*report.View
	for _, rep := range reps {
		v, err := report.NewView(rep, report.ViewOptions{Inches: out.show == "in"})
		if err != nil {
			return nil, err
		}
		if out.budget {
			v.Details = append(v.Details, report.Budgets(rep)...)
		}
		views = append(views, v)
	}
	if out.format == "csv" {
		err := report.WriteCSV(&b, views...)
		return b.Bytes(), err
	}
	err := report.WriteText(&b, report.TextOptions{Full: out.full || out.budget}, views...)
	return b.Bytes(), err
}
