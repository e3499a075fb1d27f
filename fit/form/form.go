package form

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/fit"
	"spotface/fit/noise"
	"spotface/mesh/geom"
)

// Form is the flatness or cylindricity of a surface, mm, with its expanded uncertainty
// (k = 2).
type Form struct {
	Width, Expanded float64
	// OrNoise: it may all be the scan's noise, or form.
	OrNoise bool
}

// Flatness returns that of the face whose scanned points are pts and whose least-squares
// plane is p. sigma is the root mean square that residuals are known to have without form,
// mm; 0 where that is not known: then what is no slow form, and no dent, is noise. ok is
// false where too little of it was scanned.
func Flatness(pts []r3.Vector, p fit.Plane, sigma float64) (f Form, ok bool) {
	e1, e2 := geom.Basis(p.Normal)
	s := rolled(pts, p, e1, e2)
	// The cells lie along a narrow face, however it is turned.
	if l, err := fit.LineTo(pts, fit.Options{}); err == nil {
		e2 = geom.Unit(p.Normal.Cross(l.Direction))
		if n := rolled(pts, p, e2.Cross(p.Normal), e2); n.size[1]*acrossFlat < n.size[0]*leastRows {
			s = n
		}
	}
	size := max(s.size[0], s.size[1])
	if !(size > 0) {
		return f, false
	}
	s.side = max(size/acrossFlat, math.Sqrt(s.size[0]*s.size[1]*2*coarsePoints/float64(len(pts))))
	s.cols, s.rows = count(s.size[0], s.side), max(leastRows, count(s.size[1], s.side))
	s.place = func(u, v float64) r3.Vector { return r3.Vector{X: u, Y: v} }
	s.up = r3.Vector{Y: 1}
	s.basis = func(u, v float64) []float64 {
		u, v = 2*u/size, 2*v/size
		return []float64{1, u, v, u * u, u * v, v * v}
	}
	return s.form(sigma)
}

// rolled returns the residuals of pts from p by their places along e1 and e2.
func rolled(pts []r3.Vector, p fit.Plane, e1, e2 r3.Vector) sheet {
	s := sheet{own: 3, far: farFlat}
	for _, q := range pts {
		d := q.Sub(p.Point)
		s.add(d.Dot(e1), d.Dot(e2), d.Dot(p.Normal))
	}
	for k, c := range [][]float64{s.u, s.v} {
		if len(c) > 0 {
			s.lo[k], s.size[k] = slices.Min(c), slices.Max(c)-slices.Min(c)
		}
	}
	return s
}

// Cylindricity is Flatness of a cylinder of which all round, or nearly, was scanned from
// along[0] to along[1], measured along its axis from its point.
func Cylindricity(pts []r3.Vector, k fit.Cylinder, along [2]float64, sigma float64) (f Form, ok bool) {
	long := along[1] - along[0]
	if !(long > 0) {
		return f, false
	}
	e1, e2 := geom.Basis(k.Axis)
	s := sheet{own: 5, far: farRound, up: r3.Vector{Z: 1}}
	for _, q := range pts {
		d := q.Sub(k.Point)
		x, y := d.Dot(e1), d.Dot(e2)
		s.add(k.Radius*math.Atan2(y, x), d.Dot(k.Axis)-along[0], math.Hypot(x, y)-k.Radius)
	}
	s.side = 2 * math.Pi * k.Radius / aroundRound
	s.cols, s.rows = aroundRound, min(alongRound, max(leastRows, count(long, s.side)))
	s.lo, s.size = [2]float64{-math.Pi * k.Radius, 0}, [2]float64{2 * math.Pi * k.Radius, long}
	s.place = func(u, v float64) r3.Vector {
		sin, cos := math.Sincos(u / k.Radius)
		return r3.Vector{X: k.Radius * cos, Y: k.Radius * sin, Z: v}
	}
	s.basis = func(u, v float64) []float64 {
		u, v = u/k.Radius, 2*v/long-1
		s1, c1 := math.Sincos(u)
		s2, c2 := math.Sincos(2 * u)
		s3, c3 := math.Sincos(3 * u)
		row := []float64{1, s1, c1, v * s1, v * c1, // radius, place and tilt: the fit's own
			v, v * v, s2, c2, s3, c3}
		if long > 4*k.Radius { // a short one cannot bend
			row = append(row, v*v*s1, v*v*c1)
		}
		return row
	}
	return s.form(sigma)
}

// sheet is a surface rolled out flat, with its points' residuals.
type sheet struct {
	u, v, e  []float64
	lo, size [2]float64 // of the places, mm
	// Coarse cells, their size along u, mm, and how many of them noise may be shared over.
	cols, rows int
	side       float64
	far        float64
	own        int                          // terms that the shape itself takes up, the first
	basis      func(u, v float64) []float64 // the slow terms
	place      func(u, v float64) r3.Vector // on the surface
	up         r3.Vector
}

func (s *sheet) add(u, v, e float64) {
	s.u, s.v, s.e = append(s.u, u), append(s.v, v), append(s.e, e)
}

// cell is the mean of some points.
type cell struct {
	u, v, mean, n float64
	lo, hi        [2]float64
}

// count is the number of cells of about the given size along a length.
func count(length, side float64) int { return max(1, int(math.Round(length/side))) }

// cells returns those that have enough points: so many, and a quarter of the median's.
func (s *sheet) cells(cols, rows int, least float64) []cell {
	all := make([]cell, rows*cols)
	at := func(x float64, k, n int) int {
		return min(max(int((x-s.lo[k])/s.size[k]*float64(n)), 0), n-1)
	}
	for i, u := range s.u {
		v := s.v[i]
		c := &all[at(v, 1, rows)*cols+at(u, 0, cols)]
		if c.n == 0 {
			c.lo, c.hi = [2]float64{u, v}, [2]float64{u, v}
		}
		c.lo[0], c.hi[0] = min(c.lo[0], u), max(c.hi[0], u)
		c.lo[1], c.hi[1] = min(c.lo[1], v), max(c.hi[1], v)
		c.u, c.v, c.mean, c.n = c.u+u, c.v+v, c.mean+s.e[i], c.n+1
	}
	few := func(least float64) func(cell) bool { return func(c cell) bool { return c.n < least } }
	all = slices.DeleteFunc(all, few(least))
	counts := make([]float64, len(all))
	for i, c := range all {
		counts[i] = c.n
	}
	if all = slices.DeleteFunc(all, few(geom.Median(counts)/4)); len(all) == 0 {
		return nil
	}
	for i := range all {
		c := &all[i]
		c.u, c.v, c.mean = c.u/c.n, c.v/c.n, c.mean/c.n
	}
	return all
}

// left returns how far each cell's mean is off the slow terms b.
func (s *sheet) left(cells []cell, b []float64) []float64 {
	out := make([]float64, len(cells))
	for i, c := range cells {
		out[i] = c.mean - floats.Dot(s.basis(c.u, c.v), b)
	}
	return out
}

// scatter is the standard deviation of residuals, from their median so that a dent does
// not hide itself: of a normal distribution the median of |r| is 0.6745 of it.
func scatter(r []float64) float64 {
	abs := make([]float64, len(r))
	for i, v := range r {
		abs[i] = math.Abs(v)
	}
	return geom.Median(abs) / 0.6745
}

// slow fits the slow terms to cells without dents, and learns their noise.
func (s *sheet) slow(cells []cell) (m *noise.Model, f noise.Fit, ok bool) {
	terms := len(s.basis(0, 0))
	for round := 0; ; round++ {
		p := noise.Patch{Axis: s.up, Width: s.side, Height: s.size[1] / float64(s.rows), Y: make([][]float64, 1)}
		for _, c := range cells {
			p.At, p.N = append(p.At, s.place(c.u, c.v)), append(p.N, c.n)
			p.Y[0], p.Terms = append(p.Y[0], c.mean), append(p.Terms, s.basis(c.u, c.v))
		}
		if len(cells) < cellsLeast*terms {
			return nil, f, false
		}
		b, ok := leastSquares(p.Terms, p.Y[0])
		if !ok {
			return nil, f, false
		}
		r := s.left(cells, b)
		most := dentRatio * scatter(r) * math.Sqrt(float64(len(r))/float64(len(r)-terms))
		var kept []cell
		for i, c := range cells {
			if math.Abs(r[i]) <= most {
				kept = append(kept, c)
			}
		}
		if len(kept) < len(cells) && round < 3 {
			cells = kept
			continue
		}
		// Without a deadline: it takes some hundredths of a second.
		m, _ = noise.Learn(context.Background(), []noise.Patch{p}, nil, scaleCells*s.side, 1)
		f, ok = m.Fit(&p, p.Terms)
		return m, f, ok
	}
}

// leastSquares fits y = X b.
func leastSquares(x [][]float64, y []float64) (b []float64, ok bool) {
	a := mat.NewDense(len(x), len(x[0]), nil)
	for i, row := range x {
		a.SetRow(i, row)
	}
	var v mat.VecDense
	if v.SolveVec(a, mat.NewVecDense(len(y), y)) != nil {
		return nil, false
	}
	return v.RawVector().Data, true
}

// form returns that of the sheet in noise of the given root mean square, 0 if unknown.
func (s *sheet) form(sigma float64) (f Form, ok bool) {
	coarse := s.cells(s.cols, s.rows, coarsePoints)
	m, slow, ok := s.slow(coarse)
	if !ok {
		return f, false
	}
	side := max(math.Sqrt(s.size[0]*s.size[1]*finePoints/float64(len(s.e))), max(s.size[0], s.size[1])/mostFine)
	fine := s.cells(count(s.size[0], side), count(s.size[1], side), finePoints)
	if len(fine) < len(coarse) {
		fine = coarse
	}
	r := s.left(fine, slow.Beta)
	short, quiet, byNoise := s.short(fine, r, slow.Beta, sigma)
	if !short {
		most := dentRatio * scatter(r)
		for i, v := range r {
			if math.Abs(v) <= most {
				r[i] = 0
			}
		}
	}
	// What noise adds to a term: the positive-part estimate of James and Stein, term by term.
	for k := s.own; k < len(slow.Beta); k++ {
		slow.Beta[k] *= max(0, 1-quiet*quiet*slow.Cov.At(k, k)/(slow.Beta[k]*slow.Beta[k]))
	}
	rows, extra := s.corners(coarse, make([]float64, len(coarse)))
	mean, limit, ok := s.drawn(rows, &slow)
	if !ok {
		return f, false
	}
	more, left := s.corners(fine, r)
	rows, extra = append(rows, more...), append(extra, left...)
	span, low, high := widest(rows, slow.Beta[s.own:], extra)
	terms := len(rows[0])
	g := mat.NewVecDense(terms, nil) // of the range by the terms
	for k := range terms {
		g.SetVec(k, rows[high][k]-rows[low][k])
	}
	v := mat.Inner(g, slow.Cov.SliceSym(s.own, s.own+terms), g)
	u := math.Sqrt(max(4*v, limit*limit-mean))
	if short {
		f.Width = math.Sqrt(max(0, span*span-byNoise*byNoise))
		f.Expanded = math.Hypot(quiet*u, 2*shortSD*span)
		return f, true
	}
	f.Width, f.Expanded = span, u
	if f.Width > u && m.CorrelationLength() > s.far*s.side {
		f.Expanded, f.OrNoise = f.Width, true
	}
	return f, u > 0
}

// short reports whether what is left of fine cells' means is form: where the points'
// residuals about the slow terms exceed the noise. It then enlarges r by what changes
// within a cell, and returns what part of the residuals is noise, and the range that noise
// gives r: of m means of standard deviation s, 2 s √(2 ln m).
func (s *sheet) short(cells []cell, r, b []float64, sigma float64) (is bool, quiet, byNoise float64) {
	var all, means, own float64 // variances of points, of means, of noise in means
	for i, u := range s.u {
		d := s.e[i] - floats.Dot(s.basis(u, s.v[i]), b)
		all += d * d / float64(len(s.e))
	}
	if sigma == 0 || all < restGain*restGain*sigma*sigma {
		return false, 1, 0
	}
	for i, c := range cells {
		means += r[i] * r[i] / float64(len(r))
		own += sigma * sigma / c.n / float64(len(r))
	}
	factor := mostHidden
	if means > own {
		factor = min(mostHidden, max(1, math.Sqrt((all-sigma*sigma)/(means-own))))
	}
	for i := range r {
		r[i] *= factor
	}
	return true, sigma / math.Sqrt(all), 2 * factor * math.Sqrt(own*2*math.Log(float64(len(cells))))
}

// corners returns the slow terms that are form at the corners of the cells, and what is
// left there.
func (s *sheet) corners(cells []cell, r []float64) (rows [][]float64, extra []float64) {
	for i, c := range cells {
		for _, at := range [4][2]float64{c.lo, {c.hi[0], c.lo[1]}, {c.lo[0], c.hi[1]}, c.hi} {
			rows, extra = append(rows, s.basis(at[0], at[1])[s.own:]), append(extra, r[i])
		}
	}
	return rows, extra
}

// widest returns the range of rows times b, and extra where given, and which rows are its
// ends.
func widest(rows [][]float64, b, extra []float64) (span float64, low, high int) {
	least, most := math.Inf(1), math.Inf(-1)
	for i, row := range rows {
		v := floats.Dot(row, b)
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

// drawn returns the mean square and the 95 % point of the range of rows times the terms,
// where these are nothing but noise: Student's distribution of their covariance and degrees
// of freedom. √(limit² - mean) is then the least expanded uncertainty, so that zero lies in
// the interval of 95 % of perfect surfaces: of a range w they read √(w² - mean), or less.
func (s *sheet) drawn(rows [][]float64, slow *noise.Fit) (mean, limit float64, ok bool) {
	terms := len(rows[0])
	var chol mat.Cholesky
	if !chol.Factorize(slow.Cov.SliceSym(s.own, s.own+terms)) {
		return 0, 0, false
	}
	var l mat.TriDense
	chol.LTo(&l)
	rng := rand.New(rand.NewPCG(1, uint64(terms))) // always the same draws: part of the formula
	chi2 := distuv.ChiSquared{K: slow.DOF, Src: rng}
	spans := make([]float64, draws)
	z, b := make([]float64, terms), make([]float64, terms)
	for i := range spans {
		wide := math.Sqrt((slow.DOF - 2) / chi2.Rand())
		for k := range terms {
			z[k] = rng.NormFloat64()
			b[k] = 0
			for j := range k + 1 {
				b[k] += wide * l.At(k, j) * z[j]
			}
		}
		spans[i], _, _ = widest(rows, b, nil)
		mean += spans[i] * spans[i] / draws
	}
	slices.Sort(spans)
	return mean, spans[draws*95/100], true
}
