//go:build study

package fit_test

import "spotface/mesh/scansim/trials"

// size is how many draws a test takes: those of a study,
//
//	go test -tags study -run 'Poses|Scatter' ./fit
func size(_, study int) int { return trials.Asked(study) }
