package forecast

import (
	"context"
	"sync"
)

// repeat runs trial(0), trial(1), ... on jobs processors until enough is content
// with the results so far or there are most of them, and returns them in order.
//
// enough sees the results in order, one more each time, and never those of later
// trials that happen to be done already: how many trials are used does not depend
// on the number of processors. tell, if set, hears of every finished trial, from
// one goroutine at a time.
func repeat[T any](ctx context.Context, jobs, most int, trial func(context.Context, int) (T, error),
	enough func([]T) bool, tell func(done []T)) ([]T, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var (
		mu      sync.Mutex
		wg      sync.WaitGroup
		next    int
		results = make([]T, 0, most) // in order
		ahead   = make(map[int]T)    // done, but an earlier one is not
		failed  error
		stop    bool
	)
	take := func() (int, bool) {
		mu.Lock()
		defer mu.Unlock()
		if stop || next >= most {
			return 0, false
		}
		next++
		return next - 1, true
	}
	give := func(i int, r T, err error) {
		mu.Lock()
		defer mu.Unlock()
		if stop {
			return
		}
		if err != nil {
			failed, stop = err, true
			cancel()
			return
		}
		ahead[i] = r
		for !stop {
			r, ok := ahead[len(results)]
			if !ok {
				break
			}
			delete(ahead, len(results))
			results = append(results, r)
			if enough(results) {
				stop = true
				cancel() // the rest are of no use
			}
		}
		if tell != nil {
			tell(results)
		}
	}
	for range max(1, jobs) {
		wg.Go(func() {
			for {
				i, ok := take()
				if !ok {
					return
				}
				r, err := trial(ctx, i)
				give(i, r, err)
			}
		})
	}
	wg.Wait()
	if failed != nil {
		return nil, failed
	}
	return results, nil
}
