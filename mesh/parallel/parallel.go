// Package parallel runs loops on several cores.
//
// It is the only parallel loop of the module. A loop over n items is cut into
// chunks of a fixed size, which goroutines take in order. The chunks do not
// depend on the number of goroutines: work that stores its results by item or
// by chunk, and adds sums up in chunk order afterwards, gives the same bytes
// on any number of cores. The context is looked at between chunks, so a chunk
// should take milliseconds.
package parallel

import (
	"context"
	"iter"
	"runtime"
	"sync"
	"sync/atomic"
)

// Jobs returns the number of goroutines that jobs asks for: jobs itself, or
// GOMAXPROCS where it is zero or less.
func Jobs(jobs int) int {
	if jobs <= 0 {
		return runtime.GOMAXPROCS(0)
	}
	return jobs
}

// Chunks calls work(lo, hi) for the chunks [0,size), [size,2size), ... of
// [0,n) on up to Jobs(jobs) goroutines. work must write only to what belongs
// to its chunk. Chunks stops early, with the context's error, when ctx ends.
func Chunks(ctx context.Context, jobs, n, size int, work func(lo, hi int)) error {
	return Workers(ctx, jobs, n, size, func(_, lo, hi int) error {
		work(lo, hi)
		return nil
	})
}

// Workers is Chunks for work that may fail, or that needs room of its own for
// each goroutine: worker counts from 0 to below Jobs(jobs), and no two calls
// with one worker overlap. The error of the lowest chunk that fails is
// returned, and no chunk is begun after it.
func Workers(ctx context.Context, jobs, n, size int, work func(worker, lo, hi int) error) error {
	chunks := (n + size - 1) / size
	var next, failed atomic.Int64 // failed: the lowest chunk that failed
	failed.Store(int64(chunks))
	var mu sync.Mutex
	var first error
	run := func(worker int) {
		for {
			c := int(next.Add(1)) - 1
			if int64(c) >= failed.Load() {
				return
			}
			err := ctx.Err()
			if err == nil {
				err = work(worker, c*size, min(n, (c+1)*size))
			}
			if err != nil {
				mu.Lock()
				if int64(c) < failed.Load() {
					failed.Store(int64(c))
					first = err
				}
				mu.Unlock()
			}
		}
	}
	jobs = min(Jobs(jobs), chunks)
	var wg sync.WaitGroup
	for worker := 1; worker < jobs; worker++ {
		wg.Go(func() { run(worker) })
	}
	run(0)
	wg.Wait()
	if first == nil {
		first = ctx.Err() // it may have ended during the last chunk
	}
	return first
}

// Ordered calls work for each item on up to Jobs(jobs) goroutines, and done with the item
// and its result, one call at a time in the items' order; items and done run on the
// caller's goroutine. Less than 2 Jobs(jobs) items are at work or wait for an earlier one.
// An error of done, or the end of ctx, stops the loop and is returned; done is not called
// after it.
func Ordered[E, T any](ctx context.Context, jobs int, items iter.Seq[E], work func(E) T,
	done func(E, T) error) error {
	jobs = Jobs(jobs)
	free := make(chan struct{}, jobs)
	var wg sync.WaitGroup
	defer wg.Wait()
	var ahead []func() error
	next := func() error {
		deliver := ahead[0]
		ahead = ahead[1:]
		return deliver()
	}
	for item := range items {
		v := make(chan T, 1)
		free <- struct{}{}
		wg.Go(func() {
			v <- work(item)
			<-free
		})
		ahead = append(ahead, func() error {
			r := <-v
			if err := ctx.Err(); err != nil {
				return err
			}
			return done(item, r)
		})
		if len(ahead) == 2*jobs-1 {
			if err := next(); err != nil {
				return err
			}
		}
	}
	for len(ahead) > 0 {
		if err := next(); err != nil {
			return err
		}
	}
	return ctx.Err()
}
