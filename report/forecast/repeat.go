package forecast

import (
	"context"
	"sync"

	"spotface/mesh/parallel"
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
		results = make([]T, 0, most) // in order
		ahead   = make(map[int]T)    // done, but an earlier one is not
		failed  error
		stop    bool
	)
	err := parallel.Workers(ctx, jobs, most, 1, func(_, i, _ int) error {
		r, err := trial(ctx, i)
		mu.Lock()
		defer mu.Unlock()
		if stop {
			return nil
		}
		if err != nil {
			failed, stop = err, true
			cancel()
			return err
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
		return nil
	})
	switch {
	case failed != nil:
		return nil, failed
	case err != nil && !stop:
		return nil, err
	}
	return results, nil
}
