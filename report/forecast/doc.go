// Package forecast says, before anything is scanned, what a scanner would see of
// a planned part: how sure each characteristic would be that the plan judges, and
// whether its band can be judged at all.
//
// Input is a plan.Plan and the scanner's noise, mm, and point spacing, mm, both
// as the report of a real scan states them; nothing of them is made up. Output is a
// Forecast, as text or JSON. Run builds the simplest part that carries the plan's
// holes exactly (a disc with holes and bores through it; what the plan leaves open is in
// Assumed, other faces and bosses are in LeftOut), simulates scans of it
// (package mesh/scansim), and takes each through the whole of what a real one goes
// through: report.Measure and check.Check. As the truth is known, the uncertainty
// that a check would state is beside what 95 % of the errors stayed within.
//
// Trials go on until the standard error of every mean stated uncertainty is within
// Options.Precision of it (less where the band is wide beside it, see there), or their
// number is used up, which Case.Stable tells. The same plan, options and seed give the same figures on any number of processors.
//
// The ratio of band to uncertainty is the measurement capability index of JCGM
// 106:2012, 7.6.3. Simulated scans have no gaps, coats, dirt or error of scale;
// what the plan states of the latter is added as a check adds it.
package forecast
