package main

import (
	"context"
	"errors"
	"fmt"
	"io"
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
func (m *measured) page(w io.Writer, out *outFlags) error {
	return page.Write(w, page.Page{Report: m.report, Inches: out.show == "in", Scan: m.scan,
		Surfaces: m.surfaces, Deviations: m.deviations, Tool: version()})
}

// render prints it as the flags want it.
func (m *measured) render(w io.Writer, out *outFlags) error {
	if out.format == "html" {
		return m.page(w, out)
	}
	return render(w, out, false, m.report)
}

// measure reads a saved report (.json), or a scan and measures it.
func (a *app) measure(ctx context.Context, file string, f scanFlags,
	out outFlags) (*measured, error) {
	if extension(file) != ".json" {
		return a.measureScan(ctx, file, f, out)
	}
	for _, flag := range []string{"unit", "seed", "face", "bore", "clock", "only", "form"} {
		if f.flags.Changed(flag) {
			return nil, fmt.Errorf("%s: --%s says how a scan is measured, and this is a "+
				"report: give the scan", file, flag)
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
func (a *app) measureScan(ctx context.Context, file string, f scanFlags,
	out outFlags) (*measured, error) {
	p := newProgress(a.stderr, a.quiet || out.several)
	defer p.clear()
	name := filepath.Base(called(file))
	scan, err := a.readScan(ctx, file, scanio.Options{
		Unit: mesh.Unit(f.unit), Jobs: f.jobs, Checksum: true, Progress: p.at(name + ": reading")})
	if err != nil {
		return nil, err
	}
	m, err := find(ctx, scan, f, p.stages(name))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", called(file), err)
	}
	m.report.Record = recordOf(nil, out)
	p.clear()
	a.warn(file, out, m.report.Scan.Warnings)
	return m, nil
}

// find measures a scan.
func find(ctx context.Context, scan *mesh.Scan, f scanFlags,
	progress func(stage string, done, total int)) (*measured, error) {
	rep, surfaces, err := report.MeasureSurfaces(ctx, scan, report.MeasureOptions{
		Face: f.face, Bore: f.bore, Clock: f.clock, Only: f.only, Form: f.form, Seed: f.seed,
		Jobs: f.jobs, Progress: progress})
	if err != nil {
		return nil, err
	}
	if err := rep.UnitInDoubt(); err != nil && f.planned {
		return nil, fmt.Errorf("no plan is drafted: %w, with --unit", err)
	}
	for _, id := range f.only {
		if !has(rep, id) {
			return nil, fmt.Errorf("--only %s: the scan has no such feature: measure without "+
				"it to see their ids", id)
		}
	}
	d, err := deviation.Of(ctx, scan, surfaces, deviation.Options{Jobs: f.jobs})
	if err != nil {
		return nil, fmt.Errorf("deviations: %w", err)
	}
	d.Fill(rep)
	return &measured{scan, surfaces, d, rep}, nil
}

// warn says warnings on standard error, but where a text report on the same terminal says
// them, or JSON lines hold those of thousands of scans.
func (a *app) warn(file string, out outFlags, warnings []string) {
	if out.several || out.format == jsonLines || out.format == "text" && out.out == "" &&
		isTerminal(a.stdout) {
		return
	}
	for _, w := range warnings {
		a.note("warning: %s: %s", called(file), w)
	}
}

// place gives coordinates where the flags want them: in the datum frame only if the scan
// shows one.
func (a *app) place(file string, m *measured, out outFlags) error {
	if !out.inFrame {
		return nil
	}
	in, err := report.InDatumFrame(m.report)
	if errors.Is(err, report.ErrNoFrame) {
		a.note("warning: %s: --in-frame: %s", file, err)
		return nil
	}
	m.report = in
	return err
}

// has reports whether the report holds a feature of that id.
func has(rep *report.Report, id string) bool {
	return rep.Hole(id) != nil || rep.BoltCircle(id) != nil || rep.Plane(id) != nil ||
		rep.Cylinder(id) != nil ||
		slices.ContainsFunc(rep.Patterns, func(x report.HolePattern) bool { return x.ID == id }) ||
		slices.ContainsFunc(rep.Cones, func(x report.Cone) bool { return x.ID == id }) ||
		slices.ContainsFunc(rep.Spheres, func(x report.Sphere) bool { return x.ID == id })
}

// headline says on standard error what a file that was written says first.
func (a *app) headline(out *outFlags, reps ...*report.Report) {
	if out.out == "" || out.out == standardInput {
		return
	}
	for _, rep := range reps {
		if v, err := report.NewView(rep, out.view()); err == nil {
			for _, s := range v.Headline {
				a.note("%s: %s", v.File, strings.Join(append([]string{s.Text}, s.Points...), " "))
			}
		}
	}
}

// render prints reports as the flags want them, JSON as a list where there may be several.
func render(w io.Writer, out *outFlags, list bool, reps ...*report.Report) error {
	switch {
	case out.format == "json" && list:
		return report.WriteJSON(w, reps)
	case out.format == "json":
		return report.WriteJSON(w, reps[0])
	}
	var views []*report.View
	for _, rep := range reps {
		v, err := report.NewView(rep, out.view())
		if err != nil {
			return err
		}
		if out.budget {
			v.Details = append(v.Details, report.Budgets(rep, out.view())...)
		}
		views = append(views, v)
	}
	if out.format == "csv" {
		return report.WriteCSV(w, views...)
	}
	return report.WriteText(w, report.TextOptions{Full: out.full || out.budget}, views...)
}
