// Package report is what one scan shows, as values; it chooses what is said of it (View),
// and renders that as text and CSV, or all of it as JSON. Package plan beside it holds
// nominal sizes and tolerance bands; package check judges a report against them.
//
// Lengths are millimetres, angles degrees counter-clockwise, looking at the
// face. Uncertainties in a Report are expanded ones: k = 2 for a
// number; for a centre the radius of the circle that holds it with 95 %
// (k = 2.45 where both directions are equally sure).
//
// The usual way is
//
//	rep, err := report.Measure(ctx, scan, report.MeasureOptions{})
//	port, err := plan.Read("port.yaml")
//	j, err := check.Check(port, rep)
//	rep = rep.Judged(j)
//	view, err := report.NewView(rep, report.ViewOptions{})
//	err = report.WriteText(os.Stdout, report.TextOptions{}, view)
//	os.Exit(report.ExitCode(rep))
//
// A scan approves nothing. The verdicts say what the scan shows against the
// numbers in the plan; local codes and licensed practice decide whether a part
// may be used.
//
// Sources: the report's decisions follow ISO 14253-1:2017 and JCGM 106:2012,
// its uncertainties JCGM 100:2008 (GUM).
package report
