package report

import (
	"context"
	"runtime"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/form"
	"spotface/report/internal/testpart"
)

// stopping is a context that counts the looks at it and is cancelled at one.
type stopping struct {
	context.Context
	looks atomic.Int64
	stop  int64 // 0: never
}

func (c *stopping) Err() error {
	if n := c.looks.Add(1); c.stop > 0 && n >= c.stop {
		return context.Canceled
	}
	return nil
}

// Build looks at its context before each surface and circle, and whenever it is
// cancelled gives no report. From then on each core finishes the surface that it is
// at, some 15 ms of work, and starts no other.
func TestBuildStops(t *testing.T) {
	s, seg, m := testpart.Kettle().Measure(t)
	all := &stopping{Context: t.Context()}
	_, err := Build(all, s, seg, m)
	require.NoError(t, err)
	surfaces := len(seg.Planes()) + len(seg.Cylinders())
	require.GreaterOrEqual(t, all.looks.Load(), int64(surfaces+1))
	for stop := range all.looks.Load() {
		ctx := &stopping{Context: t.Context(), stop: stop + 1}
		rep, err := Build(ctx, s, seg, m)
		assert.ErrorIs(t, err, context.Canceled)
		assert.Nil(t, rep)
		// Of planes and of cylinders each core looks once more, the rest are the last look.
		assert.LessOrEqual(t, ctx.looks.Load()-ctx.stop, int64(2*runtime.GOMAXPROCS(0)+2), "looks after stop %d", ctx.stop)
	}
}

func TestFormsStop(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	var done atomic.Int64
	formsOf(ctx, 1000, func(int) (f form.Form, ok bool) {
		switch n := done.Add(1); {
		case n == 3:
			cancel()
		case n > 3:
			<-ctx.Done()
		}
		return f, false
	})
	assert.LessOrEqual(t, done.Load(), int64(3+runtime.GOMAXPROCS(0)))
}
