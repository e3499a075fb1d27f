package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/golang/geo/r3"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scanio"
	"spotface/report"
	"spotface/report/deviation"
	"spotface/report/page"
	"spotface/report/plan"
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
	in, err := a.open(file)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	rep, err := report.ReadJSON(in)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	rep.Record = recordOf(rep.Record, out)
	return &measured{report: rep}, nil
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
	name := filepath.Base(a.called(file))
	scan, err := a.readScan(ctx, file, scanio.Options{
		Unit: mesh.Unit(f.unit), Jobs: f.Jobs, Checksum: true, Progress: p.at(name + ": reading")})
	if err != nil {
		return nil, err
	}
	f.Progress = p.stages(name)
	rep, surfaces, err := report.MeasureSurfaces(ctx, scan, f.MeasureOptions)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", a.called(file), err)
	}
	if err := rep.UnitInDoubt(); err != nil && f.planned {
		return nil, fmt.Errorf("%s: no plan is drafted: %w, with --unit", a.called(file), err)
	}
	for _, id := range f.Only {
		if !has(rep, id) {
			return nil, fmt.Errorf("%s: --only %s: the scan has no such feature: measure without "+
				"it to see their ids", a.called(file), id)
		}
	}
	d, err := deviation.Of(ctx, scan, surfaces, deviation.Options{Jobs: f.Jobs, Band: f.grey})
	if err != nil {
		return nil, fmt.Errorf("%s: deviations: %w", a.called(file), err)
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
	if out.several || out.format == jsonLines || out.format == "text" && out.out == "" &&
		isTerminal(a.stdout) {
		return
	}
	for _, w := range warnings {
		a.note("warning: %s: %s", a.called(file), w)
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

// standardInput is how a file argument names standard input.
const standardInput = "-"

// called is how messages and reports name a file argument.
func (a *app) called(file string) string {
	if file == standardInput {
		return a.stdinName
	}
	return file
}

// open opens the named file.
func (a *app) open(file string) (io.ReadCloser, error) {
	if file == standardInput {
		return io.NopCloser(a.stdin), nil
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", file, bareError(err))
	}
	return f, nil
}

// all returns what the named file holds.
func (a *app) all(file string) ([]byte, error) {
	f, err := a.open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(f)
	if err != nil {
		err = fmt.Errorf("read %s: %w", a.called(file), bareError(err))
	}
	return data, err
}

func (a *app) readScan(ctx context.Context, file string, opt scanio.Options) (*mesh.Scan, error) {
	if file != standardInput {
		return scanio.Read(ctx, file, opt)
	}
	data, err := a.all(file)
	if err != nil {
		return nil, err
	}
	return scanio.ReadFrom(ctx, bytes.NewReader(data), int64(len(data)), a.stdinName, opt)
}

func (a *app) readPoints(ctx context.Context, file string) ([]r3.Vector, []string, error) {
	if file != standardInput {
		return scanio.ReadPoints(ctx, file)
	}
	data, err := a.all(file)
	if err != nil {
		return nil, nil, err
	}
	return scanio.ReadPointsFrom(ctx, bytes.NewReader(data), int64(len(data)), a.stdinName)
}

// readPlan reads the plan of a part, or of what goes onto it.
func (a *app) readPlan(file string, mates bool) (p *plan.Plan, err error) {
	if file != standardInput {
		p, err = plan.Read(file)
	} else if data, e := a.all(file); e != nil {
		return nil, e
	} else {
		p, err = plan.Parse(a.stdinName, data)
	}
	scans := []string{".json", ".stl", ".ply", ".obj", ".3mf", ".xyz"}
	if _, ok := errors.AsType[*plan.Error](err); ok && slices.Contains(scans, extension(file)) {
		err = fmt.Errorf("%s: no plan but a scan or a report, by its name: a plan (YAML) goes here, "+
			"before any scan", file)
	}
	if p != nil {
		p.Mates = p.Mates || mates
	}
	return p, err
}
