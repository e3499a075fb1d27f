package fit

// Options of every fit. The zero value works.
type Options struct {
	// Weights, if not nil, holds one weight a point, the inverse of its
	// variance up to a common factor. Nil means all points count the same.
	// Points of weight zero are left out.
	Weights []float64
	// MaxIter bounds the iterations. Zero means 200.
	MaxIter int
}
