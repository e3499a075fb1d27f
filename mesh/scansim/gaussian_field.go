package scansim

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"

	"gonum.org/v1/gonum/dsp/fourier"
)

// KernelShape is how correlation falls with distance.
type KernelShape string

// The shapes of correlation, with length L.
const (
	Exponential KernelShape = "exponential" // exp(-d/L)
	Gaussian    KernelShape = "gaussian"    // exp(-d²/(2L²))
)

// Kernel is the correlation of a scan's noise between two points of the
// surface at the distance d, mm. The zero value is independent noise.
type Kernel struct {
	Shape  KernelShape // empty means Exponential
	Length float64     // mm; zero means independent noise
	// Second is the length of a second scale of the same shape, mm, and
	// SecondShare its share of the correlated variance.
	Second, SecondShare float64
	// White is the share of all variance that is independent from point to
	// point.
	White float64
}

// At returns the correlation at the distance d, 1 at zero.
func (k Kernel) At(d float64) float64 {
	if d == 0 {
		return 1
	}
	c := k.one(d, k.Length)
	if k.SecondShare != 0 {
		c += k.SecondShare * (k.one(d, k.Second) - c)
	}
	return (1 - k.White) * c
}

func (k Kernel) one(d, length float64) float64 {
	switch {
	case length <= 0:
		return 0
	case k.Shape == Gaussian:
		return math.Exp(-d * d / (2 * length * length))
	}
	return math.Exp(-d / length)
}

// gaussianField draws stationary normal noise of unit variance on a regular grid, by
// circulant embedding (Dietrich and Newsam 1997): exact where the embedding's
// eigenvalues are not negative, which newGaussianField sees to. It is safe for
// concurrent use.
type gaussianField struct {
	nu, nv int // points wanted
	mu, mv int // of the torus that they are cut from
	root   []float64
	pool   sync.Pool
}

// axis is one direction of a grid: n points at lags of given distance.
type axis struct {
	n    int
	ring bool                  // the n points close on themselves
	step float64               // from one to the next, mm
	dist func(lag int) float64 // mm
}

// straight returns an axis of n points at the given spacing.
func straight(n int, step float64) axis {
	return axis{n: n, step: step, dist: func(lag int) float64 { return float64(lag) * step }}
}

// bent returns an axis of n points on a circle, at the given angle in radians;
// the distance is that through space, along the chord.
func bent(n int, step, radius float64, ring bool) axis {
	return axis{n: n, ring: ring, step: step * radius, dist: func(lag int) float64 {
		return 2 * radius * math.Sin(min(float64(lag)*step, math.Pi)/2)
	}}
}

func newGaussianField(u, v axis, k Kernel) (*gaussianField, error) {
	if u.n < 1 || v.n < 1 {
		return nil, fmt.Errorf("correlated noise: a grid of %d by %d points has none", u.n, v.n)
	}
	if !(k.White >= 0 && k.White <= 1) || !(k.SecondShare >= 0 && k.SecondShare <= 1) {
		return nil, fmt.Errorf("correlated noise: shares of %v and %v: use 0 to 1", k.White, k.SecondShare)
	}
	g := &gaussianField{nu: u.n, nv: v.n, mu: u.torus(), mv: v.torus()}
	for {
		lost := g.embed(u, v, k)
		if lost <= maxClipped {
			return g, nil
		}
		// A larger torus lets the correlation die out before it wraps: double
		// the shorter way round.
		growU, growV := !u.ring && u.n > 1, !v.ring && v.n > 1
		switch {
		case g.mu*g.mv >= 1<<23 || !growU && !growV:
			return nil, fmt.Errorf("correlated noise: a length of %v mm is too long for this grid of %d by %d points", k.Length, u.n, v.n)
		case growU && (!growV || float64(g.mu)*u.step <= float64(g.mv)*v.step):
			g.mu *= 2
		default:
			g.mv *= 2
		}
	}
}

// torus returns the period to start from: a power of 2 that holds every lag
// once either way, or the ring itself.
func (a axis) torus() int {
	if a.ring || a.n == 1 {
		return a.n
	}
	m := 1
	for m < 2*(a.n-1) {
		m *= 2
	}
	return m
}

// embed computes the square roots of the eigenvalues and returns the share that
// had to be clipped.
func (g *gaussianField) embed(u, v axis, k Kernel) (lost float64) {
	w := g.newWork()
	for j := range g.mv {
		dv := v.dist(min(j, g.mv-j))
		for i := range g.mu {
			w.a[j*g.mu+i] = complex(k.At(math.Hypot(u.dist(min(i, g.mu-i)), dv)), 0)
		}
	}
	w.transform()
	g.root = make([]float64, len(w.a))
	sum, neg := 0.0, 0.0
	for i, c := range w.a {
		if l := real(c); l > 0 {
			sum += l
			g.root[i] = math.Sqrt(l)
		} else {
			neg -= l
		}
	}
	// The variance is Σλ/M; make it 1 after clipping too.
	for i := range g.root {
		g.root[i] /= math.Sqrt(sum)
	}
	g.pool.New = func() any { return g.newWork() }
	return neg / sum
}

// draw2 draws two independent fields at the price of one, and calls use for each
// point (i, j), numbered j*nu+i.
func (g *gaussianField) draw2(rng *rand.Rand, use func(i int, a, b float64)) {
	w := g.draw(rng)
	defer g.pool.Put(w)
	for j := range g.nv {
		for i, c := range w.a[j*g.mu:][:g.nu] {
			use(j*g.nu+i, real(c), imag(c))
		}
	}
}

// draw returns the transform of sqrt(λ/M) z with z complex normal: real and
// imaginary part are independent and have the covariance asked.
func (g *gaussianField) draw(rng *rand.Rand) *fieldWork {
	w := g.pool.Get().(*fieldWork)
	for i, r := range g.root {
		w.a[i] = complex(r*rng.NormFloat64(), r*rng.NormFloat64())
	}
	w.transform()
	return w
}

// fieldWork is one goroutine's room for a transform over the torus.
type fieldWork struct {
	mu, mv   int
	a        []complex128
	row, col *fourier.CmplxFFT
	line     []complex128
}

func (g *gaussianField) newWork() *fieldWork {
	return &fieldWork{
		mu: g.mu, mv: g.mv, a: make([]complex128, g.mu*g.mv), line: make([]complex128, g.mv),
		row: fourier.NewCmplxFFT(g.mu), col: fourier.NewCmplxFFT(g.mv),
	}
}

func (w *fieldWork) transform() {
	if w.mu > 1 {
		for j := range w.mv {
			r := w.a[j*w.mu:][:w.mu]
			w.row.Coefficients(r, r)
		}
	}
	if w.mv == 1 {
		return
	}
	for i := range w.mu {
		for j := range w.mv {
			w.line[j] = w.a[j*w.mu+i]
		}
		w.col.Coefficients(w.line, w.line)
		for j := range w.mv {
			w.a[j*w.mu+i] = w.line[j]
		}
	}
}
