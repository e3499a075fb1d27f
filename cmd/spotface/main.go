// Command spotface measures bolt circles in 3-D scans: it reads a scan, finds
// faces, bores and holes, says how the holes are clocked and judges them
// against a plan. The numbers come from the packages mesh, fit, bolt and
// report; this command only reads flags, prints and sets the exit code.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"
	"syscall"
	"unicode"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"spotface/report"
	"spotface/report/plan"
	"spotface/report/wording"
)

// Exit codes. An interrupt ends with the shell's own code for it.
const (
	exitConforming    = report.ExitConforming
	exitNonconforming = report.ExitNonconforming
	exitUnusable      = report.ExitUsage
	exitInterrupted   = 130
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// A second Ctrl-C ends the program at once.
	context.AfterFunc(ctx, stop)
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// run is the whole command with its surroundings handed in: it returns the
// exit code. Results go to stdout, all else to stderr.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	a := &app{stdin: stdin, stdinName: "standard input", stdout: stdout, stderr: stderr}
	root := newRoot(a)
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	switch {
	case err == nil:
		return a.code
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(stderr, "spotface: interrupted: nothing was written")
		return exitInterrupted
	}
	a.complain(err)
	return exitUnusable
}

// app is what every command shares: where to read and print, and the exit code to set.
type app struct {
	stdin          io.Reader
	stdinName      string // as messages and reports have it
	stdout, stderr io.Writer
	code           int
	quiet          bool
	noting         sync.Mutex // scans that are checked side by side note one after another
}

// note prints one line for the person at the terminal, unless that is to be quiet.
func (a *app) note(format string, args ...any) {
	if !a.quiet {
		a.complain(fmt.Errorf(format, args...))
	}
}

// complain prints an error, which is never kept quiet.
func (a *app) complain(err error) {
	what := err.Error()
	if errors.Is(err, fs.ErrNotExist) {
		what += ": check the name"
	}
	a.noting.Lock()
	defer a.noting.Unlock()
	fmt.Fprintln(a.stderr, "spotface: "+oneLine(what))
}

// oneLine folds the lines of s into one and drops control characters, which
// may come from a file name or from a file's content.
func oneLine(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && !unicode.IsSpace(r) {
			return -1
		}
		return r
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

// newRoot builds the command tree.
func newRoot(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:   "spotface",
		Short: "Measure bolt circles in 3-D scans",
		Long: `Spotface finds the faces, bores and bolt holes in a 3-D scan and says how the
holes are clocked, how far each is off, and how sure that is.

A scan approves nothing by itself: local codes and licensed practice decide.`,
		Example: `  spotface demo
  spotface measure port.stl --write-plan port.yaml
  spotface check port.yaml port.stl`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			hint := "run `spotface --help` for the list"
			if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
				hint = "did you mean " + strings.Join(near, " or ") + "?"
			}
			return fmt.Errorf("no command %q: %s", args[0], hint)
		},
		RunE:          func(cmd *cobra.Command, args []string) error { return cmd.Help() },
		SilenceErrors: true,
		SilenceUsage:  true,
		// Set here since the hint above replaces cobra's, which takes several lines.
		DisableSuggestions:         true,
		SuggestionsMinimumDistance: 2,
		Version:                    version(),
	}
	root.PersistentFlags().BoolVar(&a.quiet, "quiet", false, "print no progress, warnings or "+
		"notes on standard error, errors alone (a report has the warnings)")
	root.SetVersionTemplate("{{.Version}}\n")
	root.SetFlagErrorFunc(flagError)
	root.SetHelpCommand(newHelp(root))
	root.AddCommand(newDemo(a), newMeasure(a), newCheck(a), newSummary(a), newBoltUp(a),
		newExport(a), newForecast(a), newFit(a), newVersion(a))
	return root
}

// newHelp is the help command; asked about a command that does not exist it
// fails in one line like everything else.
func newHelp(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND|plan]",
		Short: "Explain a command, or the keys of a plan (spotface help plan)",
		RunE: func(help *cobra.Command, args []string) error {
			if len(args) == 1 && args[0] == "plan" {
				return writePlanKeys(help.OutOrStdout())
			}
			cmd, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return fmt.Errorf("no command %q to explain: run `spotface --help` for the list",
					strings.Join(args, " "))
			}
			return cmd.Help()
		},
	}
}

func newVersion(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print the version",
		Args:  wantArgs(0, 0, "nothing"),
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprintln(a.stdout, version())
			return err
		},
	}
}

// version names this build and what it was built by.
func version() string {
	v := "unknown"
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		v = info.Main.Version
	}
	return fmt.Sprintf("spotface %s %s %s/%s", v, runtime.Version(), runtime.GOOS, runtime.GOARCH)
}

// nearFlags lists the command's flags that are spelled nearly like name, by the rule that
// finds near commands.
func nearFlags(cmd *cobra.Command, name string) string {
	names := &cobra.Command{SuggestionsMinimumDistance: 2}
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		names.AddCommand(&cobra.Command{Use: f.Name, Run: func(*cobra.Command, []string) {}})
	})
	near := names.SuggestionsFor(name)
	for i := range near {
		near[i] = "--" + near[i]
	}
	return orList(near)
}

// wantArgs accepts between low and high arguments (high < 0: no limit) and
// else says what the command takes.
func wantArgs(low, high int, takes string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) >= low && (high < 0 || len(args) <= high) {
			return nil
		}
		return fmt.Errorf("%s takes %s, got %d: see `%s --help`",
			cmd.Name(), takes, len(args), cmd.CommandPath())
	}
}

// writePlanKeys lists the keys of a plan file, each under those that hold it.
func writePlanKeys(w io.Writer) error {
	var b strings.Builder
	b.WriteString(wording.Wrap("The plan file is YAML: keys with values, each under its own. "+
		"Lengths are in the plan's unit, angles in degrees, counter-clockwise, looking at the "+
		"face. Leave out what need not be judged. \"spotface measure SCAN --write-plan PLAN\" "+
		"drafts one.", ""))
	b.WriteString("\n")
	t := wording.Table{Head: []string{"<key", "<unit", "<example", "<"}}
	for _, k := range plan.Keys() {
		unit := map[string]string{"length": "length", "same": "as the value"}[k.Unit]
		if unit == "" {
			unit = k.Unit
		}
		t.Add(strings.Repeat("  ", k.Depth())+k.Name(), unit, k.Example, k.Says)
	}
	t.Write(&b)
	_, err := io.WriteString(w, b.String())
	return err
}
