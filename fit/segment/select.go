package segment

import "spotface/mesh/geom"

// quantiles returns the i-th and the j-th smallest of a, i <= j, and puts a into
// another order.
func quantiles[T float32 | float64](a []T, i, j int) (lo, hi T) {
	lo = geom.Nth(a, i)
	return lo, geom.Nth(a[i:], j-i)
}
