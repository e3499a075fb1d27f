// Package batch sums up many parts that were checked by one plan: for each characteristic
// mean, spread, trend, capability and control chart, which hole drifts, and which parts to
// look at first. It also defines the lines of results that such a batch is kept in.
//
// Input are the results of check, as JSON lines or as reports. Lengths are millimetres (or
// inches, where asked for), angles degrees; figures are deviations, measured less nominal.
// It measures and judges nothing, and it says nothing about parts that were not scanned.
//
// Intervals hold with 95 %. Sources:
//   - capability, its intervals, control charts and the rules by which they signal, share of
//     a count: NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.1.6, 6.3.2, 7.2.4;
//   - the rules themselves: Western Electric, Statistical Quality Control Handbook (1956);
//   - the test of normality: Anderson & Darling (1954), with the corrections and limits of
//     D'Agostino & Stephens, Goodness-of-Fit Techniques (1986), table 4.7;
//   - the share of a count: Clopper & Pearson, Biometrika 26 (1934).
package batch
