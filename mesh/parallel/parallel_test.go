package parallel

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func ExampleChunks() {
	square := make([]int, 10)
	err := Chunks(context.Background(), 0, len(square), 4, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			square[i] = i * i
		}
	})
	fmt.Println(square, err)
	// Output: [0 1 4 9 16 25 36 49 64 81] <nil>
}

func TestChunksCoverTheRangeOnceAtAnyNumberOfJobs(t *testing.T) {
	for _, n := range []int{0, 1, 7, 8, 9, 100} {
		for _, jobs := range []int{-1, 0, 1, 2, 3, 50} {
			seen := make([]int32, n)
			require.NoError(t, Chunks(t.Context(), jobs, n, 8, func(lo, hi int) {
				assert.True(t, lo%8 == 0 && (hi == lo+8 || hi == n), "chunk %d to %d of %d", lo, hi, n)
				for i := lo; i < hi; i++ {
					atomic.AddInt32(&seen[i], 1)
				}
			}))
			for i, c := range seen {
				assert.EqualValues(t, 1, c, "item %d of %d, %d jobs", i, n, jobs)
			}
		}
	}
}

func TestWorkersHaveRoomOfTheirOwn(t *testing.T) {
	const jobs = 4
	var busy [jobs]atomic.Int32
	require.NoError(t, Workers(t.Context(), jobs, 1000, 1, func(w, _, _ int) error {
		if !assert.Less(t, w, jobs) {
			return nil
		}
		assert.EqualValues(t, 1, busy[w].Add(1), "worker %d twice at once", w)
		runtime.Gosched()
		busy[w].Add(-1)
		return nil
	}))
}

func TestLowestFailureIsReturned(t *testing.T) {
	for _, jobs := range []int{1, 4} {
		for range 50 {
			err := Workers(t.Context(), jobs, 100, 1, func(_, lo, _ int) error {
				if lo == 17 || lo > 20 {
					return fmt.Errorf("item %d", lo)
				}
				runtime.Gosched()
				return nil
			})
			assert.EqualError(t, err, "item 17", "%d jobs", jobs)
		}
	}
}

func TestCancelledLoopStops(t *testing.T) {
	for _, jobs := range []int{1, 4} {
		ctx, cancel := context.WithCancelCause(t.Context())
		var calls atomic.Int32
		err := Chunks(ctx, jobs, 1000, 1, func(lo, _ int) {
			if calls.Add(1) == 10 {
				cancel(errors.New("enough"))
			}
		})
		assert.ErrorIs(t, err, context.Canceled)
		assert.Less(t, calls.Load(), int32(10+jobs), "%d jobs", jobs)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	assert.ErrorIs(t, Chunks(ctx, 0, 0, 1, func(_, _ int) {}), context.Canceled, "no items")
}

func TestJobs(t *testing.T) {
	assert.Equal(t, runtime.GOMAXPROCS(0), Jobs(0))
	assert.Equal(t, 3, Jobs(3))
}

func TestOrderedDeliversInOrderAndRunsAheadByABoundedNumber(t *testing.T) {
	for _, n := range []int{0, 1, 7, 200} {
		for _, jobs := range []int{1, 2, 5} {
			var begun, delivered atomic.Int32
			var got []int
			require.NoError(t, Ordered(t.Context(), jobs, upTo(n), func(i int) int {
				ahead := begun.Add(1) - delivered.Load()
				assert.LessOrEqual(t, ahead, int32(2*jobs), "as many kept as at work")
				if i%7 == 0 { // slow ones, so that others overtake them
					time.Sleep(200 * time.Microsecond)
				}
				return i * i
			}, func(i, v int) error {
				assert.Equal(t, i*i, v)
				got = append(got, i)
				delivered.Add(1)
				return nil
			}))
			assert.Len(t, got, n)
			assert.IsIncreasing(t, append([]int{-1}, got...))
		}
	}
}

// upTo yields the numbers from 0 to below n.
func upTo(n int) iter.Seq[int] {
	return func(yield func(int) bool) {
		for i := 0; i < n && yield(i); i++ {
		}
	}
}

func TestOrderedStops(t *testing.T) {
	full := errors.New("disk full")
	for _, jobs := range []int{1, 4} {
		last := -1
		err := Ordered(t.Context(), jobs, upTo(1000), func(i int) int { return i }, func(i, _ int) error {
			last = i
			if i == 17 {
				return full
			}
			return nil
		})
		assert.ErrorIs(t, err, full)
		assert.Equal(t, 17, last, "nothing is delivered after the failure")

		// A slow first item holds the others at the end of the window; they leave with the context.
		ctx, cancel := context.WithCancel(t.Context())
		err = Ordered(ctx, jobs, upTo(1000), func(i int) int {
			if i == 0 {
				time.Sleep(5 * time.Millisecond)
				cancel()
			}
			return i
		}, func(int, int) error { return nil })
		assert.ErrorIs(t, err, context.Canceled)
	}
}
