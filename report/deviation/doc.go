// Package deviation says how far each scanned point lies from the ideal surface that it
// belongs to, and writes that as coloured files.
//
// Input is a scan and the surfaces found in it. A deviation is a signed distance, mm,
// positive outside the material. A point of no surface is not modelled: it has no deviation,
// and it is left white. What was not scanned is not there to be coloured.
//
// A Map takes 4 bytes a point, and making it 4.5 in all: 44 MB for 10 million points against
// 50 surfaces (BenchmarkOf).
//
// Files are binary PLY with a deviation for each point, and glTF 2.0 in its binary form.
package deviation
