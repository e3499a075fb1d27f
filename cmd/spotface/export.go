package main

import (
	"bytes"
	"context"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"spotface/mesh"
	"spotface/mesh/scanio"
	"spotface/report"
	"spotface/report/check"
	"spotface/report/deviation"
	"spotface/report/drawing"
	"spotface/report/plan"
	"spotface/report/step"
)

// export is what files are made of.
type export struct {
	*measured
	part   string
	plan   *plan.Plan // nil: none was given
	opt    step.Options
	mirror bool
	paper  string
	note   func(format string, args ...any)
}

// exporters write a file by its extension.
var exporters = map[string]struct {
	what  string
	scan  bool // needs the scan itself
	write func(*export, *bytes.Buffer) error
}{
	".step": {"CAD faces", false, (*export).step},
	".png":  {"the drawing", false, (*export).png},
	".svg": {"a template", false, func(e *export, b *bytes.Buffer) error {
		return e.template(func(t *drawing.Template) error { return t.WriteSVG(b) })
	}},
	".pdf": {"a template", false, func(e *export, b *bytes.Buffer) error {
		return e.template(func(t *drawing.Template) error { return t.WritePDF(b) })
	}},
	".html": {"the page", false, (*export).html},
	".stl": {"the scan in the part's frame", true, func(e *export, b *bytes.Buffer) error {
		return e.aligned(func(s *mesh.Scan) error { return scanio.WriteSTL(b, s) })
	}},
	".ply": {"a deviation map", true, func(e *export, b *bytes.Buffer) error {
		return e.mapped(func(m *deviation.Map, s *mesh.Scan) error { return m.WritePLY(b, s) })
	}},
	".glb": {"a deviation map", true, func(e *export, b *bytes.Buffer) error {
		return e.mapped(func(m *deviation.Map, s *mesh.Scan) error { return m.WriteGLB(b, s, version()) })
	}},
}

func newExport(a *app) *cobra.Command {
	var scan scanFlags
	var e export
	var planFile string
	cmd := &cobra.Command{
		Use:   "export SCAN FILE...",
		Short: "Write CAD faces, a 1:1 template, a drawing, a page, a map of deviations",
		Long: `Measure a scan and write each FILE by its extension, in the part's frame (Z out of the
mounting face, origin at the main bore, X through the clocking hole):

  .step  the measured faces as exact CAD geometry (ISO 10303, AP242), mm: a closed solid
         where every face ends at another, else a shell; what is missing is said here and
         in the file. Axes that are nearly parallel to the frame's are made parallel.
  .pdf   a template, 1:1, on as many sheets as it needs; .svg the same in one picture.
         Measure its bars before use. --mirror draws it for the mating part's face.
  .png   the drawing: holes by name, angles, and how far each is off
  .glb   the scan, coloured by how far it lies from the surfaces found: grey within twice
         the scan's noise, blue below, orange above. .ply the same with the deviations, mm
  .stl   the scan itself, moved into the frame

With --plan the CAD faces have the plan's nominal sizes and places where the plan names
them, with what was adopted said here and in the file, and the drawing and the page are
judged by it.

SCAN may be a report (JSON that "spotface measure" wrote) where no scan is needed. These
are measured sizes, not the sizes that the maker meant: a scan approves nothing.`,
		Example: `  spotface export port.stl port.step --thickness 6
  spotface export port.json port.pdf port.png --paper Letter
  spotface export port.stl moved.stl`,
		Args: wantArgs(2, -1, "a scan and one file to write or more"),
		RunE: func(cmd *cobra.Command, args []string) error {
			var files [][2]string
			for i, file := range args[1:] {
				if _, ok := exporters[strings.ToLower(filepath.Ext(file))]; !ok {
					return fmt.Errorf("%s: nothing is written as %q: use %s", file, filepath.Ext(file),
						orList(slices.Sorted(maps.Keys(exporters))))
				}
				files = append(files, [2]string{fmt.Sprintf("FILE %d", i+1), file})
			}
			if f := cmd.Flags().Lookup("thickness"); f.Changed && !(e.opt.Thickness > 0 && e.opt.Thickness < 1e6) {
				return fmt.Errorf("--thickness %s: give a length in mm, above zero", f.Value)
			}
			if _, err := e.sheet(); err != nil {
				return err
			}
			inputs := args[:1:1]
			if planFile != "" {
				inputs = append(inputs, planFile)
			}
			if err := validate(&outFlags{format: formats[0], formats: formats[:1], flags: cmd.Flags()}, &scan, inputs, files...); err != nil {
				return err
			}
			if planFile != "" {
				var err error
				if e.plan, err = a.readPlan(planFile); err != nil {
					return err
				}
			}
			if err := a.measureFor(cmd.Context(), &e, args[0], scan); err != nil {
				return err
			}
			e.note = a.note
			var o outputs
			for i, file := range args[1:] {
				x := exporters[strings.ToLower(filepath.Ext(file))]
				if x.scan && e.scan == nil {
					return fmt.Errorf("%s: %s is made from the scan itself: give the scan instead of the report %s", file, x.what, args[0])
				}
				var b bytes.Buffer
				if err := x.write(&e, &b); err != nil {
					return fmt.Errorf("%s: %w", file, err)
				}
				o.add(files[i][0], file, b.Bytes())
			}
			return o.write(cmd.Context(), a.stdout)
		},
	}
	scan.register(cmd)
	cmd.Flags().StringVar(&planFile, "plan", "", "`PLAN` whose nominals CAD faces take, and that the drawing and the page are judged by")
	cmd.Flags().BoolVar(&e.mirror, "mirror", false, "draw the template for the mating part's face")
	cmd.Flags().StringVar(&e.paper, "paper", "A4", "`SHEET` of the template: "+orList(papers()))
	complete(cmd, "paper", papers()...)
	cmd.Flags().Float64Var(&e.opt.Thickness, "thickness", 0, "`MM` from the mounting face to the far side, where only one side was scanned")
	return cmd
}

// measureFor reads a report, or measures a scan.
func (a *app) measureFor(ctx context.Context, e *export, file string, f scanFlags) error {
	e.part = strings.TrimSuffix(filepath.Base(called(file)), filepath.Ext(file))
	m, err := a.measure(ctx, file, f, outFlags{})
	if err != nil {
		return err
	}
	e.measured = m
	return nil
}

func (e *export) step(b *bytes.Buffer) error {
	rep, about := e.report, []string{"Measured from a scan, mm, in the part's frame. A scan approves nothing."}
	if e.plan != nil {
		adopted, said, err := check.Adopt(e.plan, rep)
		if err != nil {
			return err
		}
		rep, about[0] = adopted, "Measured from a scan, with the plan's nominals in place of what was measured, mm, in the part's frame. A scan approves nothing."
		for _, s := range said {
			e.note("note: adopted: %s", s)
		}
		about = append(about, said...)
	}
	body, missing, err := step.Of(rep, e.opt)
	if err != nil {
		return err
	}
	body.Name = e.part
	for _, m := range missing {
		e.note("note: %s", m)
	}
	return step.Write(b, step.Header{Name: e.part, Tool: version(), Description: append(about, missing...)}, body)
}

// picturePixels is the width of a drawing.
const picturePixels = 1600

func (e *export) png(b *bytes.Buffer) error {
	rep, err := e.judged()
	if err != nil {
		return err
	}
	p, err := drawing.NewPicture(rep, e.part)
	if err != nil {
		return err
	}
	return p.WritePNG(b, picturePixels)
}

// judged is the report, judged by the plan where one was given.
func (e *export) judged() (*report.Report, error) {
	if e.plan == nil {
		return e.report, nil
	}
	j, err := check.Check(e.plan, e.report)
	if err != nil {
		return nil, err
	}
	return e.report.Judged(j), nil
}

func (e *export) html(b *bytes.Buffer) error {
	m := *e.measured
	var err error
	if m.report, err = e.judged(); err != nil {
		return err
	}
	data, err := m.page(&outFlags{})
	b.Write(data)
	return err
}

func (e *export) template(write func(*drawing.Template) error) error {
	sheet, err := e.sheet()
	if err != nil {
		return err
	}
	t, err := drawing.NewTemplate(e.report, drawing.TemplateOptions{Sheet: sheet, Mirror: e.mirror, Part: e.part})
	if err != nil {
		return err
	}
	return write(t)
}

func (e *export) sheet() (drawing.Sheet, error) {
	for _, s := range drawing.Sheets() {
		if strings.EqualFold(s.Name, e.paper) {
			return s, nil
		}
	}
	return drawing.Sheet{}, fmt.Errorf("--paper %q is not known: use %s", e.paper, orList(papers()))
}

func papers() []string {
	var names []string
	for _, s := range drawing.Sheets() {
		names = append(names, s.Name)
	}
	return names
}

// mapped writes the scan with its deviations.
func (e *export) mapped(write func(*deviation.Map, *mesh.Scan) error) error {
	e.note("note: %s", e.deviations)
	return e.aligned(func(s *mesh.Scan) error { return write(e.deviations, s) })
}

func (e *export) aligned(write func(*mesh.Scan) error) error {
	if e.report.Frame == nil {
		return report.ErrNoFrame
	}
	f := e.report.Frame
	return write(e.scan.In(f.Origin.R3(), f.X.R3(), f.Y.R3(), f.Z.R3()))
}
