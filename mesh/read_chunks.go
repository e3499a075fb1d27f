package mesh

import (
	"context"
	"sync"
	"sync/atomic"
	"time"
)

// inChunks runs f for chunks 0 to n-1 on up to jobs goroutines. Chunks are
// handed out in order, and the error of the lowest chunk that fails is
// returned, so the outcome does not depend on jobs. It stops early when ctx
// ends.
func inChunks(ctx context.Context, n, jobs int, f func(worker, chunk int) error) error {
	var next, failed atomic.Int64
	failed.Store(int64(n))
	var mu sync.Mutex
	var first error
	run := func(worker int) {
		for {
			c := next.Add(1) - 1
			if c >= failed.Load() {
				return
			}
			err := ctx.Err()
			if err == nil {
				err = f(worker, int(c))
			}
			if err != nil {
				mu.Lock()
				if c < failed.Load() {
					failed.Store(c)
					first = err
				}
				mu.Unlock()
			}
		}
	}
	jobs = min(jobs, n)
	if jobs <= 1 {
		run(0)
		return first
	}
	var wg sync.WaitGroup
	for w := range jobs {
		wg.Go(func() { run(w) })
	}
	wg.Wait()
	return first
}

// meter passes progress on to the caller, from one goroutine, ten times a
// second at most.
type meter struct {
	done  atomic.Int64
	total int64
	call  func(done, total int)
	quit  chan struct{}
	wg    sync.WaitGroup
}

// newMeter starts a meter; a nil call makes one that only counts.
func newMeter(total int64, call func(done, total int)) *meter {
	m := &meter{total: total, call: call}
	if call == nil {
		return m
	}
	m.quit = make(chan struct{})
	m.wg.Go(func() {
		tick := time.NewTicker(100 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-tick.C:
				m.call(int(min(m.done.Load(), m.total)), int(m.total))
			case <-m.quit:
				m.call(int(min(m.done.Load(), m.total)), int(m.total))
				return
			}
		}
	})
	return m
}

// add counts n bytes as done.
func (m *meter) add(n int) { m.done.Add(int64(n)) }

// stop makes the last call and waits for it.
func (m *meter) stop() {
	if m.quit != nil {
		close(m.quit)
		m.wg.Wait()
	}
}
