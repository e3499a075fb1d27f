//go:build !study

package fit_test

import "spotface/mesh/scansim/trials"

// size is how many draws a test takes: few, or with -tags study as many as the claim
// was made of.
func size(few, _ int) int { return trials.Of(few, few/4) }
