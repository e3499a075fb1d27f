package bolt

// golden returns the place of f's least value between lo and hi by n steps of golden
// section (Kiefer, Proceedings of the American Mathematical Society 4 (1953) 502-506),
// each of which leaves 0.618 of the interval. f has one minimum there.
func golden(lo, hi float64, n int, f func(float64) float64) float64 {
	const part = 0.6180339887498949
	a, b := hi-part*(hi-lo), lo+part*(hi-lo)
	fa, fb := f(a), f(b)
	for range n {
		if fa < fb {
			hi, b, fb = b, a, fa
			a = hi - part*(hi-lo)
			fa = f(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + part*(hi-lo)
			fb = f(b)
		}
	}
	return (lo + hi) / 2
}
