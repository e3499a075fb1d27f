// Package sizes says which standard size the maker of a part probably meant.
//
// Input is a measured hole, bore, pitch diameter or thickness, mm, with its standard
// uncertainty. Output is the standard sizes near it, each with its distance in standard
// uncertainties and a probability, beside the probability that no standard size was
// meant. All functions are pure: values in, values out.
//
// Method: Bayes' rule. The prior shares out what sizes are drawn from: clearance holes of
// fasteners, drills for tapping, millimetres and halves and tenths of one, preferred
// numbers, inch fractions, and any size at all (params.go). The likelihood is normal with
// the stated uncertainty and how far holes are made from their nominal size. A series
// whose steps the uncertainty does not resolve names nothing and counts as any size.
//
// The same evidence settles a scan's unit: a scan in inches that is read as millimetres
// has holes of sizes that nobody drills, and standard ones once it is read as inches
// (ReadUnits).
//
// Sources: ISO 3:1973 (preferred numbers), ISO 273:1979 and BS 4186:1967 (clearance
// holes), ASME B18.2.8-1999 (the same in inches), ISO 2306:1972 (drills for tapping), ISO
// 286-1 (the tolerance unit, by which holes of a size differ). How often each series is
// used is common practice, no source.
//
// It has no table of inch tapping drills, sheet gauges or keyways, and takes sizes one at
// a time. A stated probability is as good as the prior: testdata/studies/sizes.md has parts
// that follow others. Where all holes are made large or small, as drilled or printed ones
// are, it is too sure. It measures nothing and knows no scan.
package sizes
