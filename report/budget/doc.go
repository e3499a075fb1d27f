// Package budget does the arithmetic of an uncertainty budget as the GUM has it:
// what a source states becomes a standard uncertainty, standard uncertainties are
// propagated through a measurement's sensitivities and combined, and the coverage
// factor follows from the effective degrees of freedom.
//
// Units are the caller's; a sensitivity is in units of the result over units of
// its source.
//
// Source: JCGM 100:2008 (GUM), equations 10 and G.2b, by whose worked example
// H.1 it is tested, and by NIST TN 1900, example E13.
package budget
