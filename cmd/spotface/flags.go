package main

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/golang/geo/r1"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"spotface/report"
)

// units of --unit, as messages and the shell's completion list them.
var units = [...]string{"mm", "cm", "m", "in", "ft"}

// formats that are written now, in the order in which messages list them; CSV and a page only
// of what was measured or checked.
var formats = [...]string{"text", "json", "csv", "html"}

// jsonLines is the format of a batch: a line for each scan.
const jsonLines = "jsonl"

// guarded is a flag's value that refuses some values of its type.
type guarded struct {
	pflag.Value
	name  string
	check func() error // says what is wrong with the value that was set, and what to give
}

// wrong is what a guard says of a value.
type wrong struct{ error }

func (g guarded) Set(s string) error {
	if err := g.Value.Set(s); err != nil {
		return err
	}
	err := g.check()
	if err == nil {
		return nil
	}
	if g.Type() != "float64" && g.Type() != "int" {
		s = strconv.Quote(s)
	}
	return wrong{fmt.Errorf("--%s %s %w", g.name, s, err)}
}

// guard has a declared flag checked as soon as it is set.
func guard(fl *pflag.FlagSet, name string, check func() error) {
	f := fl.Lookup(name)
	f.Value = guarded{f.Value, name, check}
	f.DefValue = strings.Trim(f.DefValue, "[]") // which help would print of an empty list
}

// flagError words what is wrong with a command line.
func flagError(cmd *cobra.Command, err error) error {
	if says, ok := errors.AsType[wrong](err); ok {
		return says.error
	}
	if bad, ok := errors.AsType[*pflag.InvalidValueError](err); ok {
		return fmt.Errorf("--%s cannot be %q: see `%s --help`", bad.GetFlag().Name, bad.GetValue(),
			cmd.CommandPath())
	}
	if no, ok := errors.AsType[*pflag.NotExistError](err); ok {
		if near := nearFlags(cmd, no.GetSpecifiedName()); near != "" {
			return fmt.Errorf("%w: did you mean %s?", err, near)
		}
	}
	return fmt.Errorf("%w: see `%s --help`", err, cmd.CommandPath())
}

// choice declares a flag that takes one of some words, which the shell completes.
func choice(cmd *cobra.Command, p *string, name, value, usage string, words ...string) {
	cmd.Flags().StringVar(p, name, value, usage)
	guard(cmd.Flags(), name, func() error {
		i := slices.IndexFunc(words, func(w string) bool { return strings.EqualFold(w, *p) })
		if i < 0 {
			return fmt.Errorf("is not known: use %s", orList(words))
		}
		*p = words[i]
		return nil
	})
	complete := cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp)
	if err := cmd.RegisterFlagCompletionFunc(name, complete); err != nil {
		panic(err) // a flag that was not declared
	}
}

// unitFlag declares the flag of the unit that a file is in.
func unitFlag(cmd *cobra.Command, p *string, usage string) {
	choice(cmd, p, "unit", "", "`UNIT` of the numbers in the "+usage, units[:]...)
}

// lengthFlag declares a flag of a length, mm, that is above zero where it is given.
func lengthFlag(fl *pflag.FlagSet, p *float64, name, usage string) {
	fl.Float64Var(p, name, 0, usage)
	guard(fl, name, func() error {
		if !(*p > 0) || math.IsInf(*p, 0) {
			return errors.New("is no length: give millimetres, above zero")
		}
		return nil
	})
}

// countFlag declares a flag of a number that is least or more.
func countFlag(fl *pflag.FlagSet, p *int, name string, value, least int, usage string) {
	fl.IntVar(p, name, value, usage)
	guard(fl, name, func() error {
		if *p < least {
			return fmt.Errorf("is too few: give %d or more", least)
		}
		return nil
	})
}

// seedAndJobs declares the flags of whatever draws at random and works side by side.
func seedAndJobs(fl *pflag.FlagSet, seed *uint64, jobs *int) {
	fl.Uint64Var(seed, "seed", 0,
		"`NUMBER` that picks what is drawn at random; the same number gives the same result")
	countFlag(fl, jobs, "jobs", 0, 0,
		"`NUMBER` of processors to use (default, or 0: all); it does not change the result")
}

// outFlags are the flags of every command that prints a result.
type outFlags struct {
	format  string
	out     string
	flags   *pflag.FlagSet
	formats []string // that the command writes
	several bool     // one of several scans: the caller says its warnings, and shows the progress
	full    bool
	budget  bool   // what each uncertainty is made of, too
	show    string // unit of lengths

	scan     string // path of the only one, for the next command
	inFrame  bool   // coordinates
	operator string // for the inspection record
}

func (f *outFlags) register(cmd *cobra.Command) { f.registerFormats(cmd, formats[:2]) }

func (f *outFlags) registerFormats(cmd *cobra.Command, formats []string) {
	f.flags, f.formats = cmd.Flags(), formats
	choice(cmd, &f.format, "format", formats[0], "print the result as `FORMAT`: "+orList(formats)+
		" (default: by the extension of -o, else text)", formats...)
	cmd.Flags().StringVarP(&f.out, "output", "o", "",
		"write the result to `FILE` instead of standard output")
}

// registerReport adds the flags of a command that prints reports, in more formats than most.
func (f *outFlags) registerReport(cmd *cobra.Command, more ...string) {
	f.registerFormats(cmd, slices.Concat(formats[:], more))
	cmd.Flags().BoolVar(&f.full, "full", false, "print every table, not the first screen alone")
	f.registerShow(cmd)
}

// registerShow adds the flag of a command that prints lengths.
func (f *outFlags) registerShow(cmd *cobra.Command) {
	choice(cmd, &f.show, "show", "mm", "print lengths in `UNIT`: mm or in (JSON is always mm)",
		"mm", "in")
}

// view is how results are said.
func (f *outFlags) view() report.ViewOptions {
	return report.ViewOptions{Inches: f.show == "in", Path: f.scan}
}

// registerRecord adds the flags of a command whose report is a record.
func (f *outFlags) registerRecord(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&f.inFrame, "in-frame", false,
		"give coordinates in the datum frame instead of the scan's own")
	cmd.Flags().StringVar(&f.operator, "operator", "",
		"`NAME` of who measures, for the inspection record (JSON, and text with --full)")
}

// scanFlags say how a scan is to be read and what in it is what.
type scanFlags struct {
	report.MeasureOptions
	unit    string
	planned bool         // a plan is drafted, for which the unit must not be in doubt
	grey    *r1.Interval // the plan's band of the surface
	flags   *pflag.FlagSet
}

func (f *scanFlags) register(cmd *cobra.Command) {
	fl := cmd.Flags()
	f.flags = fl
	unitFlag(cmd, &f.unit, "scan: mm, cm, m, in or ft (default: the file's own, else mm)")
	seedAndJobs(fl, &f.Seed, &f.Jobs)
	for _, id := range []struct {
		p                         *string
		name, letter, what, usage string
	}{
		{&f.Face, "face", "P", "plane", "plane that is the mounting face (default: chosen)"},
		{&f.Bore, "bore", "C", "cylinder", "cylinder that is the main bore (default: chosen)"},
		{&f.Clock, "clock", "H", "hole", "hole that clocking counts from (default: the first)"},
	} {
		fl.StringVar(id.p, id.name, "", "`ID` of the "+id.usage)
		is := regexp.MustCompile("^" + id.letter + "[1-9][0-9]*$")
		guard(fl, id.name, func() error {
			if !is.MatchString(*id.p) {
				return fmt.Errorf("names no %s: the report numbers them %[2]s1, %[2]s2 and so on",
					id.what, id.letter)
			}
			return nil
		})
	}
	fl.StringSliceVar(&f.Only, "only", nil,
		"keep only these holes, studs, patterns and surfaces: `ID,...`")
	guard(fl, "only", func() error {
		for i, id := range f.Only {
			if f.Only[i] = strings.TrimSpace(id); f.Only[i] == "" {
				return errors.New("has an empty id in it: give ids as the report prints them, " +
					"such as B1,P1,C2")
			}
		}
		return nil
	})
	lengthFlag(fl, &f.Form, "form",
		"let surfaces leave their ideal shape by up to `MM` (default: in proportion to their size)")
}

// validate refuses more than one standard input, and files to write that cannot be written
// or would overwrite an input: that of -o, and those of other flags, pairs of flag and path.
// Where no format is asked for, it takes that of the extension of -o.
func validate(out *outFlags, inputs []string, files ...[2]string) error {
	ext := strings.TrimPrefix(extension(out.out), ".")
	if slices.Contains(out.formats, ext) && !out.flags.Changed("format") {
		out.format = ext
	}
	if i := slices.Index(inputs, standardInput); i >= 0 &&
		slices.Contains(inputs[i+1:], standardInput) {
		return errors.New("two files are -: standard input can be read once, name a file for the other")
	}
	return checkTargets(inputs, append([][2]string{{"-o", out.out}}, files...)...)
}
