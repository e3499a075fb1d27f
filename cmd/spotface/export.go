package main

import (
	"fmt"
	"io"
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
	judged *report.Report // by the plan, where one was given
	part   string
	plan   *plan.Plan // nil: none was given
	opt    step.Options
	mirror bool
	paper  string
	out    outFlags // the unit of lengths alone
	note   func(format string, args ...any)
}

// exporters write a file by its extension.
var exporters = map[string]struct {
	scan  bool // made from the scan itself
	write func(*export, io.Writer) error
}{
	".step": {false, (*export).step},
	".png":  {false, (*export).png},
	".svg": {false, func(e *export, w io.Writer) error {
		return e.template(w, (*drawing.Template).WriteSVG)
	}},
	".pdf": {false, func(e *export, w io.Writer) error {
		return e.template(w, (*drawing.Template).WritePDF)
	}},
	".html": {false, func(e *export, w io.Writer) error { return e.render(w, "html") }},
	".csv":  {false, func(e *export, w io.Writer) error { return e.render(w, "csv") }},
	".stl":  {true, func(e *export, w io.Writer) error { return scanio.WriteSTL(w, e.aligned()) }},
	".ply":  {true, func(e *export, w io.Writer) error { return e.mapped().WritePLY(w, e.aligned()) }},
	".glb": {true, func(e *export, w io.Writer) error {
		return e.mapped().WriteGLB(w, e.aligned(), version())
	}},
}

func newExport(a *app) *cobra.Command {
	var scan scanFlags
	var e export
	var planFile string
	cmd := &cobra.Command{
		Use:   "export SCAN FILE...",
		Short: "Write CAD faces, a 1:1 template, a drawing, a page, a table, a map of deviations",
		Long: `Measure a scan and write each FILE by its extension, in the part's frame (Z out of the
mounting face, origin at the main bore, X through the clocking hole):

  .step  the measured faces as exact CAD geometry (ISO 10303, AP242), mm: a closed solid
         where every face ends at another, else a shell; what is missing, and what volume
         a solid has, is said here and in the file. Axes that are nearly parallel to the
         frame's are made parallel.
  .pdf   a template, 1:1, on as many sheets as it needs; .svg the same in one picture.
         Measure its bars before use. --mirror draws it for the mating part's face.
  .png   the drawing: holes by name, angles, and how far each is off
  .glb   the scan, coloured by how far it lies from the surfaces found: grey within twice
         the scan's noise, or the band under "surface" in the plan, blue below, orange above.
         .ply the same with the deviations, mm
  .stl   the scan itself, moved into the frame
  .html  the page that "spotface measure" writes; .csv its table. --show in: inches

With --plan the CAD faces have the plan's nominal sizes and places where the plan names
them, with what was adopted said here and in the file, and the drawing, the page and the table
are judged by it.

SCAN may be a report (JSON that "spotface measure" wrote) where no scan is needed. These
are measured sizes, not the sizes that the maker meant: a scan approves nothing.`,
		Example: `  spotface export port.stl port.step --thickness 6
  spotface export port.json port.pdf port.png --paper Letter
  spotface export port.stl moved.stl`,
		Args: wantArgs(2, -1, "a scan and one file to write or more"),
		RunE: func(cmd *cobra.Command, args []string) error {
			files, err := writable(args[1:], exporters)
			if err != nil {
				return err
			}
			inputs := args[:1:1]
			if planFile != "" {
				inputs = append(inputs, planFile)
			}
			if err := validate(&outFlags{}, inputs, files...); err != nil {
				return err
			}
			if planFile != "" {
				if e.plan, err = a.readPlan(planFile, false); err != nil {
					return err
				}
				scan.grey = e.plan.Surface.Band
			}
			e.part = strings.TrimSuffix(filepath.Base(a.called(args[0])), filepath.Ext(args[0]))
			if e.measured, err = a.measure(cmd.Context(), args[0], scan, outFlags{}); err != nil {
				return err
			}
			if e.judged = e.report; e.plan != nil {
				j, err := check.Check(e.plan, e.report)
				if err != nil {
					return fmt.Errorf("%s: %w", args[0], err)
				}
				e.judged = e.report.Judged(j)
			}
			said := map[string]bool{} // two files may have the same to say
			e.note = func(format string, args ...any) {
				if s := fmt.Sprintf(format, args...); !said[s] {
					said[s] = true
					a.note("%s", s)
				}
			}
			var o outputs
			for _, f := range files {
				x := exporters[extension(f[1])]
				switch {
				case x.scan && e.scan == nil:
					return fmt.Errorf("%s is made from the scan itself: give the scan instead of the report %s",
						f[1], args[0])
				case x.scan && e.report.Frame == nil:
					return fmt.Errorf("%s: %w", f[1], report.ErrNoFrame)
				}
				o.print(f[0], f[1], func(w io.Writer) error { return x.write(&e, w) })
			}
			return o.write(cmd.Context(), a.stdout)
		},
	}
	scan.register(cmd)
	e.out.registerShow(cmd)
	fl := cmd.Flags()
	fl.StringVar(&planFile, "plan", "", "`PLAN` whose nominals CAD faces and template take, and "+
		"that the drawing, the page and the table are judged by")
	fl.BoolVar(&e.mirror, "mirror", false, "draw the template for the mating part's face")
	choice(cmd, &e.paper, "paper", "A4", "`SHEET` of the template: "+orList(papers()), papers()...)
	lengthFlag(fl, &e.opt.Thickness, "thickness",
		"`MM` from the mounting face to the far side, where only one side was scanned")
	return cmd
}

// adopted is the report with the nominals of the plan, where one was given, and what it says
// of each.
func (e *export) adopted() (*report.Report, []string, error) {
	if e.plan == nil {
		return e.report, nil, nil
	}
	rep, said, err := check.Adopt(e.plan, e.report)
	for _, s := range said {
		e.note("note: adopted: %s", s)
	}
	return rep, said, err
}

func (e *export) step(w io.Writer) error {
	rep, said, err := e.adopted()
	if err != nil {
		return err
	}
	about := []string{"Measured from a scan, mm, in the part's frame. A scan approves nothing."}
	if e.plan != nil {
		about = append([]string{"Measured from a scan, with the plan's nominals in place of what was " +
			"measured, mm, in the part's frame. A scan approves nothing."}, said...)
	}
	body, missing, err := step.Of(rep, e.opt)
	if err != nil {
		return err
	}
	body.Name = e.part
	for _, m := range missing {
		e.note("note: %s", m)
	}
	return step.Write(w, step.Header{Name: e.part, Tool: version(),
		Description: append(about, missing...)}, body)
}

// picturePixels is the width of a drawing.
const picturePixels = 1600

func (e *export) png(w io.Writer) error {
	p, err := drawing.NewPicture(e.judged, e.part)
	if err != nil {
		return err
	}
	return p.WritePNG(w, picturePixels)
}

// render prints it as measure does.
func (e *export) render(w io.Writer, format string) error {
	m, out := *e.measured, e.out
	m.report, out.format = e.judged, format
	return m.render(w, &out)
}

func (e *export) template(w io.Writer, write func(*drawing.Template, io.Writer) error) error {
	rep, _, err := e.adopted()
	if err != nil {
		return err
	}
	opt := drawing.TemplateOptions{Mirror: e.mirror, Nominal: e.plan != nil, Part: e.part}
	opt.Sheet = drawing.Sheets()[slices.Index(papers(), e.paper)]
	t, err := drawing.NewTemplate(rep, opt)
	if err != nil {
		return err
	}
	return write(t, w)
}

func papers() []string {
	var names []string
	for _, s := range drawing.Sheets() {
		names = append(names, s.Name)
	}
	return names
}

// mapped is the map of deviations, whose legend it notes.
func (e *export) mapped() *deviation.Map {
	e.note("note: %s", e.deviations.Words(e.out.view()))
	return e.deviations
}

// aligned is the scan in the part's frame.
func (e *export) aligned() *mesh.Scan {
	f := e.report.Frame
	return e.scan.In(f.Origin.R3(), f.X.R3(), f.Y.R3(), f.Z.R3())
}
