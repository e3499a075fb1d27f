// Package page writes what a report says as one HTML file that needs nothing else: no
// network, no font, no other file.
//
// Input is a report and, for the parts that are made from it, the scan with its surfaces and
// their deviations. The page renders report.View and chooses nothing anew: the verdict and
// what it rests on, the drawing, the drill table, what to do, the uncertainties, charts, and
// last a view of the scan to turn. Lengths are millimetres unless asked for in inches;
// pictures and the view are in the part's frame.
//
// The same report and scan give the same bytes.
package page
