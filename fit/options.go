package fit

// Options of every fit. The zero value works.
type Options struct {
	// Weights, if not nil, holds one weight a point, the inverse of its
	// variance up to a common factor. Nil means all points count the same.
	// Points of weight zero are left out.
	Weights []float64
	// Radius, if above zero, is held, mm, where a circle, sphere or cylinder is
	// fitted: a hole that a known drill made. Other shapes refuse it.
	Radius float64
	// MaxIter bounds the iterations. Zero means 200.
	MaxIter int
}
