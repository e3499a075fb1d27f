//go:build !study

package trials

// Draws is how many draws a test takes that is its own study: few, with -short a quarter
// of them, and with -tags study as many as the claim was made of.
func Draws(few, _ int) int { return Of(few, few/4) }
