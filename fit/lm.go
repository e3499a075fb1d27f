package fit

import (
	"cmp"
	"context"
	"math"

	"gonum.org/v1/gonum/floats"

	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// solved is the end of an iteration: the normal equations there, and how it
// went.
type solved struct {
	sums
	iters     int
	converged bool
}

// solve minimises the sum of squares by Levenberg–Marquardt: Madsen, Nielsen &
// Tingleff (2004), algorithm 3.16, with Marquardt's scaling (damping times the
// diagonal of J'J). Near the end it takes undamped Gauss–Newton steps and stops
// when these no longer shrink, which is at the rounding of the residuals: the
// cost, being flat there, would stop it at half the digits. Where these are many, they become
// Newton steps, see differences.
func solve(m model, c *cloud, opt Options) solved {
	maxIter, still := cmp.Or(opt.MaxIter, defaultIter), stillStep
	if opt.ShapeOnly {
		still = nearStep
	}
	w := newAccumulator(m, c)
	p := m.params()
	n := float64(len(c.x))

	var step [maxParams]float64
	var out solved
	if !m.try(&step) {
		out.f = math.Inf(1)
		return out
	}
	w.sum(&out.sums)
	m.accept()
	if math.IsNaN(out.f) || math.IsInf(out.f, 0) {
		return out
	}
	mu, nu := firstDamping, 2.0
	last := math.Inf(1) // size of the step before
	polished := 0
	var next sums
	var hessian matrix
	for out.iters < maxIter {
		out.iters++
		damp, normal := mu, out.sums
		if last < polishFrom {
			damp = 0 // polish
			if polished++; polished%slowSteps == 0 {
				hessian = w.differences(&out.sums)
			}
			if polished >= slowSteps {
				normal.a = hessian
			}
		}
		ok := normalStep(&normal, p, damp, &step)
		// How far the step moves the surface, RMS, in scaled units.
		size, predicted := 0.0, 0.0
		for i := range p {
			size += out.a[i][i] * step[i] * step[i]
			predicted += step[i] * (damp*out.a[i][i]*step[i] - out.g[i])
		}
		size = math.Sqrt(size / n)
		next.f = math.Inf(1)
		if ok && m.try(&step) {
			w.sum(&next)
		}
		// Each residual is sure to ε, so the sum of their squares to 2ε Σ|f| + nε²,
		// and Σ|f| ≤ √(nF): less of a change says nothing of the step.
		noise := out.f*costRounding + (2*math.Sqrt(n*out.f)+n*pointRounding)*pointRounding
		if !(next.f <= out.f+noise) {
			if ok && size < stillStep { // at the rounding: nothing better is to be had
				out.converged = true
				return out
			}
			mu = max(mu*nu, leastDamping)
			nu *= 2
			last = math.Inf(1)
			if mu > mostDamping {
				return out
			}
			continue
		}
		gain := 1.0
		if damp > 0 && predicted > noise {
			gain = (out.f - next.f) / predicted
		}
		m.accept()
		out.sums = next
		t := 2*gain - 1
		mu *= max(leastCut, 1-t*t*t)
		nu = 2
		// Correlated parameters move much and the surface little: by the root of
		// predicted/n in an undamped step. Rounding of the residuals alone makes
		// predicted about pε².
		if size < still || damp == 0 && predicted < 4*float64(p)*pointRounding*pointRounding {
			out.converged = true
			return out
		}
		last = size
	}
	return out
}

// differences returns the second derivatives of half the sum of squares at the accepted
// state, from differences of the gradient. Beside J'J they have Σ f ∇²f, which is as large
// for the direction of a short cylinder that is oval: without it the iteration takes
// hundreds of steps or ends nowhere.
func (w *accumulator) differences(s *sums) (h matrix) {
	p, n := w.m.params(), float64(len(w.c.x))
	for i := range p {
		if s.held>>i&1 != 0 {
			continue
		}
		by := differStep / math.Sqrt(s.a[i][i]/n)
		for _, way := range [...]float64{-1, 1} {
			step := [maxParams]float64{}
			step[i] = way * by
			var at sums
			if w.m.try(&step) {
				w.sum(&at)
			}
			for j := range p {
				h[min(i, j)][max(i, j)] += way * at.g[j] / (2 * by)
			}
		}
	}
	for i := range p { // twice beside the diagonal
		for j := i + 1; j < p; j++ {
			h[i][j] /= 2
		}
	}
	return h
}

// normalStep solves (A + damp diag A) step = -g of the parameters that are free by
// Cholesky's method on the matrix scaled to unit diagonal. False where it is not positive
// definite.
func normalStep(s *sums, p int, damp float64, step *[maxParams]float64) bool {
	var l [maxParams * maxParams]float64
	var d, x [maxParams]float64
	var free [maxParams]int
	n := 0
	for i := range p {
		if s.held>>i&1 != 0 {
			continue
		}
		if !(s.a[i][i] > 0) {
			return false
		}
		free[n], d[n] = i, 1/math.Sqrt(s.a[i][i])
		n++
	}
	for i := range n {
		for j := range i {
			l[i*n+j] = s.a[free[j]][free[i]] * d[i] * d[j]
		}
		l[i*n+i] = 1 + damp
		x[i] = -s.g[free[i]] * d[i]
	}
	if !geom.Cholesky(l[:n*n], n, leastPivot) {
		return false
	}
	geom.CholeskySolve(l[:n*n], x[:n])
	*step = [maxParams]float64{}
	for i := range n {
		step[free[i]] = x[i] * d[i]
	}
	return true
}

// block is some rows of the Jacobian in columns, and the residuals.
type block struct {
	j [maxParams][]float64
	f []float64
}

// newBlock makes room for the rows of m, blockRows or those of all points of c.
func newBlock(m model, c *cloud) block {
	n := min(blockRows, m.perPoint()*len(c.x))
	buf := make([]float64, (maxParams+1)*n)
	b := block{f: buf[:n]}
	for k := range b.j {
		b.j[k] = buf[(k+1)*n : (k+2)*n]
	}
	return b
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
	for k := range per * m {
		b.f[k] *= sw[k%m]
		for p := range params {
			b.j[p][k] *= sw[k%m]
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
		w.jobs = min(parallel.Jobs(0), n/(2*chunk))
		w.parts = make([]sums, (n+chunk-1)/chunk)
	}
	for range w.jobs {
		w.blocks = append(w.blocks, newBlock(m, c))
	}
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
