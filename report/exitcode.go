package report

// The exit codes of a command that judges or measures.
const (
	ExitConforming    = 0 // all conforming, or measured without a plan
	ExitNonconforming = 1 // something nonconforming or missing
	ExitUsage         = 2 // bad usage or unreadable input; never from a report
	ExitIndeterminate = 3 // nothing nonconforming, something indeterminate
)

// ExitCode returns the exit code that a report asks for.
func ExitCode(rep *Report) int {
	switch rep.Verdict {
	case Nonconforming, Missing:
		return ExitNonconforming
	case Indeterminate:
		return ExitIndeterminate
	}
	return ExitConforming
}

// Worst returns the verdict of a whole from its parts: nonconforming where one
// of them is nonconforming or missing, else indeterminate where one of them is,
// else conforming. It is empty where nothing was judged.
func Worst(results []Result) Verdict {
	var worst Verdict
	for _, r := range results {
		switch r.Verdict {
		case Nonconforming, Missing:
			return Nonconforming
		case Indeterminate:
			worst = Indeterminate
		case Conforming:
			if worst == "" {
				worst = Conforming
			}
		}
	}
	return worst
}
