package bolt

import (
	"context"

	"spotface/fit/segment"
	"spotface/mesh"
)

// Options of Measure; the zero value works.
type Options struct {
	Face  string   // id of the mounting face; empty: chosen
	Bore  string   // id of the main bore's cylinder; empty: chosen
	Clock string   // id of the clocking hole; empty: the first of its circle
	Only  []string // ids to keep; empty: all
	Jobs  int
}

// Measure finds holes, studs and bolt circles in a segmented scan.
func Measure(ctx context.Context, s *mesh.Scan, seg *segment.Segmentation, opt Options) (*Measurement, error) {
	panic("todo")
}
