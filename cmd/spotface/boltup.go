package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"

	"github.com/golang/geo/s1"
	"github.com/spf13/cobra"

	"spotface/mesh"
	"spotface/mesh/scanio"
	"spotface/report"
	"spotface/report/step"
)

func newBoltUp(a *app) *cobra.Command {
	var out outFlags
	var scan scanFlags
	var opt report.BoltUpOptions
	var plate report.AdapterOptions
	var turn float64
	cmd := &cobra.Command{
		Use:   "boltup A B [FILE...]",
		Short: "Say whether two parts go together, and make a plate that joins them",
		Long: `Lay the hole pattern of one part on that of the other, as mating faces meet, and say
at which clocking the fasteners go through both, how much float is left at each, and how
likely that is by the uncertainty of the scans.

A and B are scans, reports (JSON that "spotface measure" wrote) or plans (YAML), each
seen from its mating face. The pattern of a scan is its bolt circle with most holes, or
the round holes of its mounting face.

Each FILE gets a plate that joins them, --thickness MM: .step for CAD, .stl for a printer.
It lies on A and carries B, turned so that most material is left between the holes. A hole
that is tapped in its part is a counterbored clearance hole in the plate; a clearance hole is
to be tapped there. The plate is a place to start: strength, sealing and material are yours.

Exit code: 0 they bolt up, or the plate is written; 1 they do not; 2 a file that cannot be
used; 3 the scans cannot tell.`,
		Example: `  spotface boltup port.stl adapter.stl
  spotface boltup port.json adapter.yaml --fastener 6
  spotface boltup port.stl lid.stl --b-from-back
  spotface boltup port.stl sensor.yaml adapter.step adapter.stl --thickness 8`,
		Args: wantArgs(2, -1, "two parts"),
		RunE: func(cmd *cobra.Command, args []string) error {
			files, err := writable(args[2:], plates)
			if err != nil {
				return err
			}
			if err := validate(&out, args[:2], files...); err != nil {
				return err
			}
			fl := cmd.Flags()
			for _, name := range []string{"thickness", "edge", "web", "turn"} {
				if fl.Changed(name) && len(files) == 0 {
					return fmt.Errorf("--%s is of a plate: name a file for it, .step or .stl", name)
				}
			}
			switch {
			case len(files) > 0 && plate.Thickness == 0:
				return errors.New("a plate needs its thickness: --thickness MM")
			case len(files) > 0 && out.show != "mm":
				return errors.New("a plate is said in mm alone: leave --show out")
			}
			if fl.Changed("turn") {
				angle := s1.Angle(turn) * s1.Degree
				plate.Turn = &angle
			}
			opt.Seed = scan.Seed
			var parts [2]*report.Pattern
			for i, file := range args[:2] {
				if parts[i], err = a.patternOf(cmd.Context(), file, scan, out); err != nil {
					return err
				}
			}
			up, err := report.NewBoltUp(cmd.Context(), parts[0], parts[1], opt)
			if err != nil {
				return err
			}
			var o outputs
			write := func(w io.Writer) error { return report.WriteBoltUp(w, up, out.view()) }
			a.code = report.ExitCode(&report.Report{Verdict: up.Verdict})
			if len(files) > 0 {
				if up.Adapter, err = report.NewAdapter(parts[0], parts[1], up, opt, plate); err != nil {
					return err
				}
				for _, f := range files {
					o.print(f[0], f[1], func(w io.Writer) error {
						return plates[extension(f[1])](w, step.Adapter(up.Adapter), a)
					})
				}
				a.code = exitConforming
				write = func(w io.Writer) error { return report.WriteAdapter(w, up.Adapter) }
			}
			return a.result(cmd, &o, &out, up, write)
		},
	}
	out.register(cmd)
	out.registerShow(cmd)
	scan.register(cmd)
	fl := cmd.Flags()
	lengthFlag(fl, &opt.Fastener, "fastener", "diameter of the fasteners, `MM` (default: the largest "+
		"standard one that goes through, metric or inch as the holes are)")
	fl.BoolVar(&opt.AFromBack, "a-from-back", false,
		"A was seen from its back, not from the face that meets B")
	fl.BoolVar(&opt.BFromBack, "b-from-back", false,
		"B was seen from its back, not from the face that meets A")
	lengthFlag(fl, &plate.Thickness, "thickness", "thickness of the plate, `MM`")
	lengthFlag(fl, &plate.Edge, "edge", "material from the outermost hole of the plate to its "+
		"outline, `MM` (default: a fastener's diameter)")
	lengthFlag(fl, &plate.Web, "web", "least material between two holes of the plate, `MM` "+
		"(default: half a fastener's diameter)")
	fl.Float64Var(&turn, "turn", 0, "`DEGREES` from A's first hole to B's first, counter-clockwise "+
		"looking at A's face (default: where most material is left)")
	guard(fl, "turn", func() error {
		if !(math.Abs(turn) <= 360) {
			return errors.New("is no turn: give degrees, at most one whole turn")
		}
		return nil
	})
	return cmd
}

// plateChord is how far, mm, the chords of a printed plate leave its arcs.
const plateChord = 0.005

// plates write a plate by the file's extension.
var plates = map[string]func(io.Writer, step.Body, *app) error{
	".step": func(w io.Writer, b step.Body, _ *app) error {
		return step.Write(w, step.Header{Name: b.Name, Tool: version(), Description: []string{
			"An adapter plate to start from, mm. Strength, sealing and material are the maker's."}}, b)
	},
	".stl": func(w io.Writer, b step.Body, a *app) error {
		points, triangles, err := b.Triangles(plateChord)
		if err != nil {
			return err
		}
		a.note("note: the plate's triangles leave its arcs by %g mm at most, holes are "+
			"smaller by twice that", plateChord)
		s, err := mesh.New(context.Background(), points, nil, triangles)
		if err != nil {
			return err
		}
		return scanio.WriteSTL(w, s)
	},
}

// patternOf reads a report (.json), a plan (.yaml, .yml) or else a scan.
func (a *app) patternOf(ctx context.Context, file string, f scanFlags,
	out outFlags) (*report.Pattern, error) {
	name := filepath.Base(a.called(file))
	if ext := extension(file); ext == ".yaml" || ext == ".yml" {
		p, err := a.readPlan(file, false)
		if err != nil {
			return nil, err
		}
		return p.Pattern(name)
	}
	m, err := a.measure(ctx, file, f, out)
	if err != nil {
		return nil, err
	}
	return report.PatternOf(name, m.report)
}
