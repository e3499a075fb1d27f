package report

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// chances is how many perfect surfaces are drawn to learn what form the noise
// alone gives; the 95 % point is then sure to within one part in a hundred.
const chances = 400

// slowForm fits the terms of basis to the cells' means. The first free terms are
// those that the shape itself takes up; the form is the range of the others over
// the cells, less what noise alone gives it. away is the distance of two cells,
// in cells. Noise that reaches further than most, in cells, bends the surface as
// slowly as form does, and leaves too little in the residuals to tell how large it
// is: then form may be all of what is seen, or none.
//
// The range of a perfect surface is not zero but made by the noise, from the
// terms' covariance. With its mean square E and its 95 % point q, known from
// drawing the terms, the form of a range w is √(w² - E), and its expanded
// uncertainty at least √(q² - E): zero lies in the interval exactly where w ≤ q.
func slowForm(cells []cell, away func(a, b cell) float64, basis func(u, v float64) []float64, free int, most float64) formOf {
	if len(cells) == 0 || len(cells) < cellsLeast*len(basis(0, 0)) {
		return formOf{}
	}
	fit, stray, ok := slowFit(cells, away, basis)
	if !ok {
		return formOf{}
	}
	// The range is over the corners of the cells, since a bow is widest at the
	// surface's edge and not in the middle of the last cell.
	var rows [][]float64
	extra := make([]float64, 0, 4*len(cells))
	for i, c := range cells {
		for _, at := range [][2]float64{c.lo, {c.hi[0], c.lo[1]}, {c.lo[0], c.hi[1]}, c.hi} {
			rows, extra = append(rows, basis(at[0], at[1])[free:]), append(extra, stray[i])
		}
	}
	span, low, high := rangeOf(rows, fit.b[free:], extra)
	m := len(rows[0])
	mean, limit, ok := noiseRange(rows, &fit.noise, free)
	if !ok {
		return formOf{}
	}
	g := mat.NewVecDense(m, nil) // of the range by the terms
	for k := range m {
		g.SetVec(k, rows[high][k]-rows[low][k])
	}
	v := mat.Inner(g, last(fit.noise.mean(), free), g)
	u := math.Sqrt(max(Coverage*Coverage*v, limit*limit-mean))
	out := formOf{mm: math.Sqrt(max(0, span*span-mean)), expanded: u, ok: u > 0}
	if fit.noise.reach() > most && out.mm > u {
		out.expanded, out.orNoise = out.mm, true
	}
	return out
}

// slowTerms are the terms fitted to the cells, and what noise does to them.
type slowTerms struct {
	b     []float64
	noise termNoise
}

// slowFit fits the terms, and tells by how much each cell strays from them, where
// that is more than noise: a dent, which then takes no part in the fit.
func slowFit(cells []cell, away func(a, b cell) float64, basis func(u, v float64) []float64) (fit slowTerms, stray []float64, ok bool) {
	terms := len(basis(0, 0))
	stray = make([]float64, len(cells))
	use, fitted := cells, cells
	var x, inverse *mat.Dense
	var y []float64
	for range 4 {
		fitted = use
		n := len(use)
		if n < cellsLeast*terms {
			return fit, nil, false
		}
		x, y = mat.NewDense(n, terms, nil), make([]float64, n)
		for i, c := range use {
			x.SetRow(i, basis(c.u, c.v))
			y[i] = c.mean
		}
		if fit.b, inverse, ok = slowLeast(x, y); !ok {
			return fit, nil, false
		}
		// Scatter of the cells, from the middle of the residuals so that a dent
		// does not hide itself: for a normal distribution s = median |r| / 0.6745.
		off := func(c cell) float64 {
			slow := 0.0
			for k, v := range basis(c.u, c.v) {
				slow += v * fit.b[k]
			}
			return c.mean - slow
		}
		abs := make([]float64, len(cells))
		for i, c := range cells {
			abs[i] = math.Abs(off(c))
		}
		sorted := slices.Sorted(slices.Values(abs))
		scatter := sorted[len(cells)/2] / 0.6745 * math.Sqrt(float64(len(cells))/float64(len(cells)-terms))
		var kept []cell
		for i, c := range cells {
			stray[i] = 0
			if abs[i] > dentRatio*scatter {
				stray[i] = off(c)
			} else {
				kept = append(kept, c)
			}
		}
		if len(kept) == len(use) {
			break
		}
		use = kept
	}
	fit.noise, ok = noiseOfTerms(x, inverse, y, fitted, away)
	return fit, stray, ok
}

// slowLeast fits y = X b by least squares and returns b and the matrix A of b = A y,
// R⁻¹Qᵀ.
func slowLeast(x *mat.Dense, y []float64) (b []float64, a *mat.Dense, ok bool) {
	_, p := x.Dims()
	var qr mat.QR
	qr.Factorize(x)
	var q, r, inv mat.Dense
	qr.QTo(&q)
	qr.RTo(&r)
	if inv.Inverse(r.Slice(0, p, 0, p)) != nil {
		return nil, nil, false // singular, or nearly so
	}
	a = &mat.Dense{}
	a.Mul(&inv, q.Slice(0, len(y), 0, p).T())
	var v mat.VecDense
	v.MulVec(a, mat.NewVecDense(len(y), y))
	return v.RawVector().Data, a, true
}

// last is the block of cov from row and column free on.
func last(cov *mat.SymDense, free int) *mat.SymDense {
	return cov.SliceSym(free, cov.SymmetricDim()).(*mat.SymDense)
}

// rangeOf returns the range of rows times b, and extra where given, and which
// rows are its ends.
func rangeOf(rows [][]float64, b, extra []float64) (span float64, low, high int) {
	least, most := math.Inf(1), math.Inf(-1)
	for i, row := range rows {
		v := 0.0
		for k, r := range row {
			v += r * b[k]
		}
		if extra != nil {
			v += extra[i]
		}
		if v < least {
			least, low = v, i
		}
		if v > most {
			most, high = v, i
		}
	}
	return most - least, low, high
}

// noiseRange returns the mean square and the 95 % point of the range of rows
// times the terms from free on, where these are nothing but noise. Each model of
// the noise has as many of the draws as it is likely.
func noiseRange(rows [][]float64, noise *termNoise, free int) (mean, limit float64, ok bool) {
	m := len(rows[0])
	rng := rand.New(rand.NewPCG(1, uint64(m))) // always the same draws: part of the formula
	chi2 := distuv.ChiSquared{K: noise.dof, Src: rng}
	spans := make([]float64, chances)
	z, b := make([]float64, m), make([]float64, m)
	var l mat.TriDense
	model, upTo := -1, 0.0
	for i := range spans {
		for at := (float64(i) + 0.5) / chances; at > upTo && model+1 < len(noise.models); {
			model++
			upTo += noise.models[model].weight
			if at > upTo {
				continue
			}
			var chol mat.Cholesky
			if !chol.Factorize(last(noise.models[model].cov, free)) {
				return 0, 0, false
			}
			chol.LTo(&l)
		}
		wide := math.Sqrt(1 / chi2.Rand())
		for k := range m {
			z[k] = rng.NormFloat64()
			b[k] = 0
			for j := range k + 1 {
				b[k] += wide * l.At(k, j) * z[j]
			}
		}
		spans[i], _, _ = rangeOf(rows, b, nil)
		mean += spans[i] * spans[i] / chances
	}
	slices.Sort(spans)
	return mean, spans[chances*95/100], true
}
