//go:build study

package robust_test

import "spotface/mesh/scansim/trials"

// size is how many draws a test takes: those of a study,
//
//	go test -tags study ./fit/robust
func size(_, study int) int { return trials.Asked(study) }
