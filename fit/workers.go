package fit

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// parallelFrom is the number of points from which a second core pays.
const parallelFrom = 8 * chunk

// crew sums chunks of points, on several cores where there are many, and adds
// the chunks' sums in order.
type crew struct {
	m       model
	c       *cloud
	parts   []sums
	b       *block
	next    atomic.Int64
	start   []chan struct{}
	done    sync.WaitGroup
	workers int
}

func newCrew(m model, c *cloud) *crew {
	n := len(c.x)
	w := &crew{m: m, c: c, b: new(block), workers: 1}
	if n >= parallelFrom {
		w.workers = min(runtime.GOMAXPROCS(0), n/(2*chunk))
	}
	if w.workers > 1 {
		w.parts = make([]sums, (n+chunk-1)/chunk)
		for range w.workers - 1 {
			ch := make(chan struct{}, 1)
			w.start = append(w.start, ch)
			go func() {
				b := new(block)
				for range ch {
					w.some(b)
					w.done.Done()
				}
			}()
		}
	}
	return w
}

// close ends the helpers.
func (w *crew) close() {
	for _, ch := range w.start {
		close(ch)
	}
}

// some takes chunks until none are left.
func (w *crew) some(b *block) {
	for {
		i := int(w.next.Add(1)) - 1
		if i >= len(w.parts) {
			return
		}
		w.parts[i] = sums{}
		sumRange(w.m, w.c, i*chunk, min((i+1)*chunk, len(w.c.x)), b, &w.parts[i])
	}
}

// sum forms the normal equations at the trial state, less what is held.
func (w *crew) sum(total *sums) {
	w.all(total)
	total.hold(w.m)
}

func (w *crew) all(total *sums) {
	*total = sums{}
	if w.workers == 1 {
		for lo := 0; lo < len(w.c.x); lo += chunk {
			var part sums
			sumRange(w.m, w.c, lo, min(lo+chunk, len(w.c.x)), w.b, &part)
			total.plus(&part)
		}
		return
	}
	w.next.Store(0)
	w.done.Add(len(w.start))
	for _, ch := range w.start {
		ch <- struct{}{}
	}
	w.some(w.b)
	w.done.Wait()
	for i := range w.parts {
		total.plus(&w.parts[i])
	}
}
