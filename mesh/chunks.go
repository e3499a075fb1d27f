package mesh

import (
	"context"

	"spotface/mesh/parallel"
)

func jobCount(jobs int) int { return parallel.Jobs(jobs) }

func eachChunk(ctx context.Context, jobs, n, size int, work func(lo, hi int)) error {
	return parallel.Chunks(ctx, jobs, n, size, work)
}
