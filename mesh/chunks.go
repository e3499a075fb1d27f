package mesh

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// jobCount returns the number of goroutines to use: GOMAXPROCS for jobs <= 0.
func jobCount(jobs int) int {
	if jobs <= 0 {
		return runtime.GOMAXPROCS(0)
	}
	return jobs
}

// eachChunk calls work(lo, hi) for the chunks [0,size), [size,2size), ... of
// [0,n), several at a time. The chunks do not depend on jobs, so work that
// keeps its results by chunk or by item gives the same on any number of cores.
// It stops early, with the context's error, when ctx is cancelled.
func eachChunk(ctx context.Context, jobs, n, size int, work func(lo, hi int)) error {
	chunks := (n + size - 1) / size
	jobs = min(jobCount(jobs), chunks)
	if jobs <= 1 {
		for c := range chunks {
			if err := ctx.Err(); err != nil {
				return err
			}
			work(c*size, min(n, (c+1)*size))
		}
		return ctx.Err()
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range jobs {
		wg.Go(func() {
			for ctx.Err() == nil {
				c := int(next.Add(1)) - 1
				if c >= chunks {
					return
				}
				work(c*size, min(n, (c+1)*size))
			}
		})
	}
	wg.Wait()
	return ctx.Err()
}

// everyChunk is eachChunk on all cores for work too short to be cancelled.
func everyChunk(n, size int, work func(lo, hi int)) {
	_ = eachChunk(context.Background(), 0, n, size, work)
}
