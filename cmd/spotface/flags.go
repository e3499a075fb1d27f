package main

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"spotface/mesh"
)

// units of --unit, as messages and the shell's completion list them.
var units = [...]string{"mm", "cm", "m", "in", "ft"}

// formats that are written now, in the order in which messages list them; CSV and a page only
// of what was measured or checked.
var formats = [...]string{"text", "json", "csv", "html"}

// jsonLines is the format of a batch: a line for each scan.
const jsonLines = "jsonl"

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

	operator string // for the inspection record
}

func (f *outFlags) register(cmd *cobra.Command) { f.registerFormats(cmd, formats[:2]) }

func (f *outFlags) registerFormats(cmd *cobra.Command, formats []string) {
	f.flags, f.formats = cmd.Flags(), formats
	cmd.Flags().StringVar(&f.format, "format", formats[0], "print the result as `FORMAT`: "+orList(formats)+
		" (default: by the extension of -o, else text)")
	complete(cmd, "format", formats...)
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "write the result to `FILE` instead of standard output")
}

// registerReport adds the flags of a command that prints reports, in more formats than most.
func (f *outFlags) registerReport(cmd *cobra.Command, more ...string) {
	f.registerFormats(cmd, slices.Concat(formats[:], more))
	cmd.Flags().BoolVar(&f.full, "full", false, "print every table, not the first screen alone")
	cmd.Flags().StringVar(&f.show, "show", "mm", "print lengths in `UNIT`: mm or in (JSON is always mm)")
	complete(cmd, "show", "mm", "in")
}

// registerOperator adds the flag of a command whose report is a record.
func (f *outFlags) registerOperator(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.operator, "operator", "", "`NAME` of who measures, for the inspection record (JSON, and text with --full)")
}

// validate refuses a format that is not written. Where no format is asked for, the extension
// of the file to write says it.
func (f *outFlags) validate() error {
	if ext := strings.TrimPrefix(strings.ToLower(filepath.Ext(f.out)), "."); !f.flags.Changed("format") &&
		slices.Contains(f.formats, ext) {
		f.format = ext
	}
	if !slices.Contains(f.formats, f.format) {
		return fmt.Errorf("--format %q is not written: use %s", f.format, orList(f.formats))
	}
	if f.show != "" && f.show != "mm" && f.show != "in" {
		return fmt.Errorf("--show %q: lengths are shown in mm or in", f.show)
	}
	return nil
}

// scanFlags say how a scan is to be read and what in it is what.
type scanFlags struct {
	unit    string
	seed    uint64
	jobs    int
	face    string
	bore    string
	clock   string
	only    []string
	inFrame bool
	form    float64
	planned bool // a plan is drafted, for which the unit must not be in doubt
	flags   *pflag.FlagSet
}

func (f *scanFlags) register(cmd *cobra.Command) {
	fl := cmd.Flags()
	f.flags = fl
	fl.StringVar(&f.unit, "unit", "", "`UNIT` of the numbers in the scan: mm, cm, m, in or ft (default: the file's own, else mm)")
	complete(cmd, "unit", units[:]...)
	fl.Uint64Var(&f.seed, "seed", 0, "`NUMBER` that picks the random samples; the same number gives the same result")
	fl.IntVar(&f.jobs, "jobs", 0, "`NUMBER` of processors to use (default: all); it does not change the result")
	fl.StringVar(&f.face, "face", "", "`ID` of the plane that is the mounting face (default: chosen)")
	fl.StringVar(&f.bore, "bore", "", "`ID` of the cylinder that is the main bore (default: chosen)")
	fl.StringVar(&f.clock, "clock", "", "`ID` of the hole that clocking counts from (default: the first)")
	fl.StringSliceVar(&f.only, "only", nil, "keep only these holes, studs and bolt circles: `ID,...`")
	fl.Float64Var(&f.form, "form", 0, "let surfaces leave their ideal shape by up to `MM` (default: in proportion to their size)")
	fl.BoolVar(&f.inFrame, "in-frame", false, "give coordinates in the datum frame instead of the scan's own")
}

func (f *scanFlags) validate() error {
	if _, err := parseUnit(f.unit); err != nil {
		return err
	}
	if f.jobs < 0 {
		return fmt.Errorf("--jobs %d: give 1 or more, or 0 for all processors", f.jobs)
	}
	if f.flags.Changed("form") && (!(f.form > 0) || math.IsInf(f.form, 0)) {
		return fmt.Errorf("--form %g: give a length in mm, above zero", f.form)
	}
	for _, id := range []struct{ flag, value, letter, what string }{
		{"--face", f.face, "P", "plane"},
		{"--bore", f.bore, "C", "cylinder"},
		{"--clock", f.clock, "H", "hole"},
	} {
		if id.value != "" && !isID(id.value, id.letter) {
			return fmt.Errorf("%s %q names no %s: the report numbers them %s1, %s2 and so on",
				id.flag, id.value, id.what, id.letter, id.letter)
		}
	}
	for i, id := range f.only {
		if f.only[i] = strings.TrimSpace(id); f.only[i] == "" {
			return fmt.Errorf("--only has an empty id in it: give ids as the report prints them, such as B1,P1,C2")
		}
	}
	return nil
}

// complete lets the shell complete a flag's values.
func complete(cmd *cobra.Command, flag string, values ...string) {
	err := cmd.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(values, cobra.ShellCompDirectiveNoFileComp))
	if err != nil {
		panic(err) // a flag that was not declared
	}
}

// validate refuses flags that mean nothing, more than one standard input, and files to write that cannot be written or
// would overwrite an input: that of -o, and those of other flags, pairs of flag and path.
func validate(out *outFlags, scan *scanFlags, inputs []string, files ...[2]string) error {
	if err := out.validate(); err != nil {
		return err
	}
	if scan != nil {
		if err := scan.validate(); err != nil {
			return err
		}
	}
	if i := slices.Index(inputs, standardInput); i >= 0 && slices.Contains(inputs[i+1:], standardInput) {
		return fmt.Errorf("two files are -: standard input can be read once, name a file for the other")
	}
	return checkTargets(inputs, append([][2]string{{"-o", out.out}}, files...)...)
}

// isID reports whether s is the letter followed by a number from 1 up.
func isID(s, letter string) bool {
	number, ok := strings.CutPrefix(s, letter)
	return ok && number != "" && number[0] != '0' && strings.Trim(number, "0123456789") == ""
}

// parseUnit reads the value of --unit; empty stays empty, the file's own.
func parseUnit(s string) (mesh.Unit, error) {
	u := mesh.Unit(s)
	if s == "" {
		return u, nil
	}
	if _, err := u.Millimetres(); err != nil {
		return "", fmt.Errorf("--unit %q is not known: use mm, cm, m, in or ft", s)
	}
	return u, nil
}
