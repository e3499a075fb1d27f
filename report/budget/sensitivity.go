package budget

import "slices"

// Sensitivities returns ∂f/∂x at x for each source, by central differences over
// its uncertainty u (JCGM 100:2008, 5.1.3 note 2, to fourth order: ±u/2 and ±u);
// zero where u is zero. f must be defined there and not keep its argument.
func Sensitivities(f func(x []float64) float64, x, u []float64) []float64 {
	out := make([]float64, len(x))
	at := slices.Clone(x)
	for i := range x {
		if u[i] == 0 {
			continue
		}
		step := func(d float64) float64 {
			at[i] = x[i] + d
			y := f(at)
			at[i] = x[i]
			return y
		}
		h := u[i] / 2
		out[i] = (8*(step(h)-step(-h)) - (step(2*h) - step(-2*h))) / (12 * h)
	}
	return out
}
