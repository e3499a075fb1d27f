package forecast

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// How many trials are used, and in which order, is the same on any number of
// processors, though later trials are done first here.
func TestRepeatIsTheSameOnAnyCores(t *testing.T) {
	for _, jobs := range []int{1, 2, 7} {
		got, err := repeat(t.Context(), jobs, 100,
			func(_ context.Context, i int) (int, error) {
				time.Sleep(time.Duration((i*7)%3) * time.Millisecond)
				return i, nil
			},
			func(done []int) bool { return len(done) >= 17 }, nil)
		require.NoError(t, err)
		want := make([]int, 17)
		for i := range want {
			want[i] = i
		}
		assert.Equal(t, want, got, "%d jobs", jobs)
	}
}

func TestRepeatEndsWithTheMostTrials(t *testing.T) {
	heard := 0
	got, err := repeat(t.Context(), 3, 9, func(_ context.Context, i int) (int, error) { return i, nil },
		func([]int) bool { return false }, func(done []int) { heard = max(heard, len(done)) })
	require.NoError(t, err)
	assert.Len(t, got, 9)
	assert.True(t, slices.IsSorted(got))
	assert.Equal(t, 9, heard)
}

func TestRepeatGivesUpOnAnError(t *testing.T) {
	broken := errors.New("broken")
	_, err := repeat(t.Context(), 2, 1000, func(_ context.Context, i int) (int, error) {
		if i == 5 {
			return 0, broken
		}
		return i, nil
	}, func([]int) bool { return false }, nil)
	assert.ErrorIs(t, err, broken)
}
