package scansim

import "sync"

// newMeter returns a function that counts items done and passes the count on to
// progress, one call at a time. progress may be nil.
func newMeter(progress func(done, total int), total int) func(n int) {
	if progress == nil {
		return func(int) {}
	}
	var mu sync.Mutex
	done, told := 0, 0
	return func(n int) {
		mu.Lock()
		defer mu.Unlock()
		done += n
		if done == total || done-told >= total/50 {
			told = done
			progress(done, total)
		}
	}
}
