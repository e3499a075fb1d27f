package fit

import (
	"context"

	"gonum.org/v1/gonum/floats"

	"spotface/mesh/parallel"
)

// block is some rows of the Jacobian in columns, and the residuals.
type block struct {
	j [maxParams][blockRows]float64
	f [blockRows]float64
}

// model is a shape under iteration. It holds an accepted and a trial state.
type model interface {
	// params is the number of parameters, perPoint of residuals a point.
	params() int
	perPoint() int
	// try sets the trial state to the accepted one moved by step. False where
	// that is out of bounds.
	try(step *[maxParams]float64) bool
	// accept makes the trial state the accepted one.
	accept()
	// rows writes residuals and Jacobian of the points lo..hi at the trial
	// state: rows 0..hi-lo, and for a second residual a point the rows after.
	rows(c *cloud, lo, hi int, b *block)
	// held has a bit for each parameter that must not move.
	held() uint
}

// sums are the normal equations: J'WJ (upper part), J'Wf, f'Wf.
type sums struct {
	a    [maxParams][maxParams]float64
	g    [maxParams]float64
	f    float64
	held uint
}

func (s *sums) plus(o *sums) {
	for i := range maxParams {
		for j := i; j < maxParams; j++ {
			s.a[i][j] += o.a[i][j]
		}
		s.g[i] += o.g[i]
	}
	s.f += o.f
}

// weigh multiplies m points' rows, per of them a point, by the roots of the
// weights.
func (b *block) weigh(sw []float64, params, per int) {
	m := len(sw)
	for k := range per {
		f := b.f[k*m : (k+1)*m]
		for i, w := range sw {
			f[i] *= w
		}
		for p := range params {
			j := b.j[p][k*m : (k+1)*m]
			for i, w := range sw {
				j[i] *= w
			}
		}
	}
}

// addTo adds the first m rows to s. Each pass keeps its sums in registers.
func (b *block) addTo(s *sums, params, m int) {
	s.f += floats.Dot(b.f[:m], b.f[:m])
	for p := range params {
		u := b.j[p][:m]
		s.g[p] += floats.Dot(u, b.f[:m])
		for q := p; q < params; q++ {
			s.a[p][q] += floats.Dot(u, b.j[q][:m])
		}
	}
}

// sumRange adds the points lo..hi at the trial state to s.
func sumRange(m model, c *cloud, lo, hi int, b *block, s *sums) {
	params, per := m.params(), m.perPoint()
	step := blockRows / per
	for ; lo < hi; lo += step {
		end := min(lo+step, hi)
		m.rows(c, lo, end, b)
		if c.sw != nil {
			b.weigh(c.sw[lo:end], params, per)
		}
		b.addTo(s, params, per*(end-lo))
	}
}

// accumulator sums chunks of points, on several cores where there are many, and adds
// the chunks' sums in order: the same bits on any number of cores.
type accumulator struct {
	m      model
	c      *cloud
	jobs   int
	parts  []sums
	blocks []block // one a goroutine
}

func newAccumulator(m model, c *cloud) *accumulator {
	n := len(c.x)
	w := &accumulator{m: m, c: c, jobs: 1}
	if n >= parallelFrom {
		w.jobs = min(parallel.Jobs(c.jobs), n/(2*chunk))
		w.parts = make([]sums, (n+chunk-1)/chunk)
	}
	w.blocks = make([]block, w.jobs)
	return w
}

// sum forms the normal equations at the trial state, less what is held.
func (w *accumulator) sum(total *sums) {
	*total = sums{}
	n := len(w.c.x)
	if w.jobs == 1 {
		for lo := 0; lo < n; lo += chunk {
			var part sums
			sumRange(w.m, w.c, lo, min(lo+chunk, n), &w.blocks[0], &part)
			total.plus(&part)
		}
	} else {
		// The context never ends, and the work does not fail.
		_ = parallel.Workers(context.Background(), w.jobs, n, chunk, func(worker, lo, hi int) error {
			part := &w.parts[lo/chunk]
			*part = sums{}
			sumRange(w.m, w.c, lo, hi, &w.blocks[worker], part)
			return nil
		})
		for i := range w.parts {
			total.plus(&w.parts[i])
		}
	}
	total.held = w.m.held()
}
