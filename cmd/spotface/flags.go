package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"spotface/mesh"
)

// formats that are written now, in the order in which messages list them.
var formats = [...]string{"text", "json"}

// outFlags are the flags of every command that prints a result.
type outFlags struct {
	format string
	out    string
}

func (f *outFlags) register(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.format, "format", formats[0], "print the result as `FORMAT`: "+strings.Join(formats[:], " or "))
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "write the result to `FILE` instead of standard output")
}

func (f *outFlags) validate() error {
	if !slices.Contains(formats[:], f.format) {
		return fmt.Errorf("--format %q is not written: use %s", f.format, strings.Join(formats[:], " or "))
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
	flags   *pflag.FlagSet
}

func (f *scanFlags) register(cmd *cobra.Command) {
	fl := cmd.Flags()
	f.flags = fl
	fl.StringVar(&f.unit, "unit", "", "`UNIT` of the numbers in the scan: mm, cm, m, in or ft (default: the file's own, else mm)")
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

// validate refuses flags that mean nothing, and files to write that cannot be written or
// would overwrite an input: that of -o, and those of other flags, pairs of flag and path.
func validate(out *outFlags, scan *scanFlags, inputs []string, files ...[2]string) error {
	if err := out.validate(); err != nil {
		return err
	}
	if err := scan.validate(); err != nil {
		return err
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
