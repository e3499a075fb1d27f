// Package batch is about many parts that were checked by one plan: the lines of results
// that check writes, one a scan, and how far a stopped run had come.
//
// Lengths are millimetres, angles degrees, as in the reports. It measures and judges nothing.
package batch
