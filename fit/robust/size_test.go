//go:build !study

package robust_test

// size is how many draws a test takes: few, or with -tags study as many as the claim
// was made of.
func size(few, _ int) int { return few }
