package noise

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"

	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// Model is the noise of some surfaces.
type Model struct {
	// Length and Variance, mm and mm², are the correlated part on the mean of the mixture,
	// Nugget is the white part.
	Length, Variance []float64
	Nugget           float64
	// Hidden: the residuals look white, and nothing shows whether they are.
	Hidden bool

	points []gridPoint
	free   float64
}

// gridPoint is one noise of the mixture.
type gridPoint struct {
	kernel    []float64 // weights of the lengths; nil: white
	q, sigma2 float64
	weight    float64
	length    float64 // of correlation, mm, times the correlated part of what is visible
}

// Total is the correlated variance, mm².
func (m *Model) Total() float64 { return floats.Sum(m.Variance) }

// CorrelationLength is the mean distance at which the correlation has fallen to 1/e, that of
// white noise being zero; 0 where the noise is more likely white.
func (m *Model) CorrelationLength() float64 {
	sum := 0.0
	for _, p := range m.points {
		if p.kernel == nil && p.weight > 0.5 {
			return 0
		}
		sum += p.weight * p.length
	}
	return sum
}

// reduced is a patch in coordinates in which the fitted terms are gone:
//
//	C = N^½ A,  AᵀN^½X = 0,  AᵀA = 1:   z = Cᵀy has the covariance σ² (1 + q CᵀKC)
type reduced struct {
	*Patch
	free  int         // coordinates
	parts [][]float64 // CᵀKC of each length, row by row
	z     [][]float64 // a row a piece, and one of the last term where a group shares it
	floor float64     // variance of the white noise assumed beside them
}

// reduce returns false where nothing is left of the patch. floor is the mean square of the
// white noise assumed beside the residuals.
func reduce(p *Patch, lengths []float64, floor float64) (r reduced, ok bool) {
	n, terms := len(p.At), len(p.Terms[0])
	if p.Group != 0 {
		terms--
	}
	if n < len(p.Terms[0])+2 {
		return r, false
	}
	x, root := mat.NewDense(n, terms, nil), make([]float64, n)
	for i, row := range p.Terms {
		root[i] = math.Sqrt(p.N[i])
		for j := range terms {
			x.Set(i, j, root[i]*row[j])
		}
	}
	tau, work := make([]float64, terms), make([]float64, max(n, len(p.Y)+1))
	lapack64.Geqrf(x.RawMatrix(), tau, work, len(work))
	turn := func(m *mat.Dense) *mat.Dense { // m N^½ Q, whose columns from terms on are m C
		for i := range m.RawMatrix().Rows {
			floats.Mul(m.RawRowView(i), root)
		}
		lapack64.Ormqr(blas.Right, blas.NoTrans, x.RawMatrix(), tau, m.RawMatrix(), work, len(work))
		return m
	}
	r = reduced{Patch: p, free: n - terms}
	k := mat.NewSymDense(n, nil)
	for _, l := range lengths {
		p.lay(k, l)
		both := turn(mat.DenseCopyOf(turn(mat.DenseCopyOf(k)).T()))
		r.parts = append(r.parts, mat.DenseCopyOf(both.Slice(terms, n, terms, n)).RawMatrix().Data)
	}
	r.floor = floor * floats.Sum(p.N) / float64(n)
	rows := slices.Clone(p.Y)
	if p.Group != 0 {
		last := make([]float64, n)
		for i, row := range p.Terms {
			last[i] = row[terms]
		}
		rows = append(rows, last)
	}
	z := turn(mat.NewDense(len(rows), n, slices.Concat(rows...)))
	for k := range rows {
		r.z = append(r.z, z.RawRowView(k)[terms:])
	}
	return r, true
}

// mixed is a reduced patch turned so that V = CᵀKC of one kernel is tridiagonal: a ratio q
// costs no factorisation then.
type mixed struct {
	*reduced
	v, beside []float64   // V's diagonal, and the one beside it
	z         [][]float64 // as in reduced
	trace     float64     // of V
	hidden    float64     // tᵀVt / tᵀt of the last term t, where a group shares it
}

// mix returns patches with a kernel of the weights; of white noise, where that is nil, V is
// zero.
func mix(all []reduced, kernel []float64) []mixed {
	out := make([]mixed, len(all))
	for i := range all {
		m := mixed{reduced: &all[i]}
		n := m.free
		v := make([]float64, n*n)
		for k, w := range kernel {
			if w != 0 {
				floats.AddScaled(v, w, m.parts[k])
			}
		}
		for _, row := range m.reduced.z {
			m.z = append(m.z, slices.Clone(row))
		}
		m.v, m.beside = geom.Tridiagonal(v, n, m.z)
		m.trace = floats.Sum(m.v)
		if m.Group != 0 {
			t := m.z[1]
			for k, l := range t {
				m.hidden += l * l * m.v[k]
				if k > 0 {
					m.hidden += 2 * l * t[k-1] * m.beside[k-1]
				}
			}
			m.hidden /= floats.Dot(t, t)
		}
		out[i] = m
	}
	return out
}

// visible is the mean correlated variance of a coordinate, less what a group's last term
// hides, and free their number.
func visible(all []mixed) (mean, free float64) {
	for _, r := range all {
		mean += float64(len(r.Y))*r.trace - r.hidden
		free += float64(len(r.Y) * r.free)
		if r.Group != 0 {
			free--
		}
	}
	return mean / max(free, 1), free
}

// weighed is what a likelihood needs of a patch whose coordinates have the covariance
// M = 1 + qV: log det M, Σ zᵀM⁻¹z with the white noise assumed beside z, and with t of the
// last term tᵀM⁻¹t and tᵀM⁻¹z.
func (r *mixed) weighed(q float64) (logDet, quad, tt, tz float64) {
	// M = LDLᵀ; L is 1 on its diagonal and below is beneath it.
	pivot, below := make([]float64, r.free), make([]float64, r.free)
	for k, v := range r.v {
		if pivot[k] = 1 + q*v; k > 0 {
			below[k] = q * r.beside[k-1] / pivot[k-1]
			pivot[k] -= below[k] * q * r.beside[k-1]
		}
		logDet += math.Log(pivot[k])
	}
	// M⁻¹ has on its diagonal 1/(D + D from the other end - M's diagonal).
	up, white := 0.0, float64(len(r.Y))*r.floor
	for k := r.free - 1; k >= 0; k-- {
		m := 1 + q*r.v[k]
		quad += white / (pivot[k] - up)
		if k > 0 {
			up = q * q * r.beside[k-1] * r.beside[k-1] / (m - up)
		}
	}
	for _, z := range r.z[:len(r.Y)] {
		y := 0.0
		for k, p := range pivot {
			y = z[k] - below[k]*y
			quad += y * y / p
		}
	}
	if r.Group != 0 {
		y, t := 0.0, 0.0
		for k, p := range pivot {
			y, t = r.z[0][k]-below[k]*y, r.z[1][k]-below[k]*t
			tt += t * t / p
			tz += t * y / p
		}
	}
	return logDet, quad, tt, tz
}

// likelihood returns the logarithm of the restricted likelihood of the patches with the
// ratio q, σ² profiled out, the posterior mean of σ², and the degrees of freedom.
//
// The last term of a patch of a group has the precision p about its estimate. Estimates
// of a group differ by their spread besides; residuals say how that compares with σ².
func likelihood(all []mixed, q float64) (log, sigma2, free float64) {
	var quad, logDet float64
	type estimate struct{ p, at, spread float64 }
	groups := map[int][]estimate{}
	var order []int
	for i := range all {
		r := &all[i]
		det, square, p, h := r.weighed(q)
		copies := float64(len(r.Y))
		logDet += copies * det
		quad += square
		free += copies * float64(r.free)
		if r.Group != 0 {
			quad -= h * h / p
			if groups[r.Group] == nil {
				order = append(order, r.Group)
			}
			groups[r.Group] = append(groups[r.Group], estimate{p, r.Offset + h/p, r.Spread})
			free--
		}
	}
	known := quad / max(free, 1) // σ² of what the terms leave
	for _, g := range order {
		var sum, mean float64
		for _, e := range groups[g] {
			w := 1 / (1/e.p + e.spread*e.spread/known)
			logDet += math.Log(e.p / w)
			sum += w
			mean += w * e.at
		}
		for _, e := range groups[g] {
			w := 1 / (1/e.p + e.spread*e.spread/known)
			quad += w * (e.at - mean/sum) * (e.at - mean/sum)
			free++
		}
		logDet += math.Log(sum)
		free--
	}
	return -logDet/2 - free/2*math.Log(max(quad, math.SmallestNonzeroFloat64)), quad / max(free-2, 1), free
}

// Learn learns the noise of patches from their residuals, about the scale, mm, at which it
// moves what is fitted to them. Evidence are pieces of a face whose noise is of the same
// kind, not necessarily of the same size. jobs is the number of goroutines, zero GOMAXPROCS.
// The error is ctx's.
func Learn(ctx context.Context, patches, evidence []Patch, scale float64, jobs int) (*Model, error) {
	lengths := ladder(scale)
	tried := append(kernels(lengths, scale), kernel{prior: whitePrior})
	if len(evidence) > 0 {
		tried[len(tried)-1].prior = whiteBeside
	}
	its, err := reduceAll(ctx, patches, lengths, jobs)
	if err != nil {
		return nil, err
	}
	face, err := reduceAll(ctx, evidence, lengths, jobs)
	if err != nil {
		return nil, err
	}
	type point struct {
		gridPoint
		log, free float64
	}
	found := make([][]point, len(tried))
	err = parallel.Chunks(ctx, jobs, len(tried), 1, func(k, _ int) {
		kern := tried[k]
		of, about := mix(its, kern.weight), mix(face, kern.weight)
		try := func(p gridPoint) {
			at := point{gridPoint: p}
			at.log, at.sigma2, at.free = likelihood(of, p.q)
			says, _, n := likelihood(about, p.q)
			at.log += says*coarse/(coarse+n) + math.Log(kern.prior)
			found[k] = append(found[k], at)
		}
		mean, free := visible(of)
		switch {
		case kern.weight == nil:
			try(gridPoint{})
		case free > 0 && mean > 0:
			for s := range shares {
				share := leastShare * math.Pow(shareRatio, float64(s))
				try(gridPoint{kernel: kern.weight, q: share / mean, length: kern.reach * share / (1 + share)})
			}
		}
	})
	if err != nil {
		return nil, err
	}
	m := &Model{Length: lengths, Variance: make([]float64, len(lengths))}
	var logs []float64
	for _, p := range slices.Concat(found...) {
		m.points = append(m.points, p.gridPoint)
		m.free = p.free
		logs = append(logs, p.log)
	}
	m.weigh(logs)
	m.Hidden = m.points[len(m.points)-1].weight > likelyWhite && !seen(face, tried, scale)
	return m, nil
}

// reduceAll reduces those patches of which something is left.
func reduceAll(ctx context.Context, patches []Patch, lengths []float64, jobs int) ([]reduced, error) {
	var square, count float64
	for _, p := range patches {
		for _, y := range p.Y {
			square += floats.Dot(y, y)
			count += float64(len(y))
		}
	}
	floor := floorSD * floorSD * square / max(count, 1)
	all := make([]reduced, len(patches))
	err := parallel.Chunks(ctx, jobs, len(patches), 1, func(i, _ int) {
		all[i], _ = reduce(&patches[i], lengths, floor)
	})
	return slices.DeleteFunc(all, func(r reduced) bool { return r.Patch == nil }), err
}

// weigh gives each grid point its weight, from the logarithms of their probabilities, and
// sets what follows from it.
func (m *Model) weigh(logs []float64) {
	top := floats.Max(logs)
	var sum float64
	for i, log := range logs {
		m.points[i].weight = math.Exp(log - top)
		sum += m.points[i].weight
	}
	for i := range m.points {
		p := &m.points[i]
		p.weight /= sum
		m.Nugget += p.weight * p.sigma2
		for k, c := range p.kernel {
			m.Variance[k] += p.weight * p.sigma2 * p.q * c
		}
	}
}

// seen reports whether smooth noise as long as the scale would show on the face, if a
// tenth of all noise were that: by the mean of the log likelihood ratio to white noise,
// ½ (q tr V - ln det (1 + qV)).
func seen(face []reduced, tried []kernel, scale float64) bool {
	var at int
	for k, kern := range tried {
		if kern.smooth && math.Abs(math.Log(kern.reach/math.Sqrt2/scale)) < math.Log(ratio)/2+1e-9 {
			at = k
		}
	}
	sum := 0.0
	for _, r := range mix(face, tried[at].weight) {
		log, _, _, _ := r.weighed(tenth)
		sum -= float64(len(r.Y)) * (log - tenth*r.trace) / 2
	}
	return sum > shows
}

// Fit is a least-squares fit to the residuals of a patch.
type Fit struct {
	Beta []float64
	Cov  *mat.SymDense
	// Inverse is (XᵀWX)⁻¹ of the weights W.
	Inverse *mat.Dense
	// DOF are the degrees of freedom of Cov.
	DOF float64
}

// Fit fits the terms, a row a cell, to the first piece of p by least squares weighted by
// W, the inverse of the diagonal of the mean covariance V:
//
//	β = (XᵀWX)⁻¹ XᵀWy = Bᵀy      Cov(β) = Bᵀ V B = Σ w_k Bᵀ V_k B
//
// How far the V_k of the mixture disagree tells how well the noise is known. As variances
// go by an inverse gamma distribution with ν degrees of freedom, whose squared coefficient
// of variation is 2/(ν-4), β has the distribution of Student with ν. ok is false where the
// cells do not determine β.
func (m *Model) Fit(p *Patch, terms [][]float64) (f Fit, ok bool) {
	n, t := len(terms), 0
	if n > 0 {
		t = len(terms[0])
	}
	if n < t || !(m.Nugget > 0) {
		return f, false
	}
	x, wx := mat.NewDense(n, t, nil), mat.NewDense(n, t, nil)
	slow := m.Total() / m.Nugget
	for i, row := range terms {
		for j, v := range row {
			x.Set(i, j, v)
			wx.Set(i, j, v/(1/p.N[i]+slow))
		}
	}
	var a, b mat.Dense
	f.Inverse = &mat.Dense{}
	a.Mul(x.T(), wx)
	if f.Inverse.Inverse(&a) != nil {
		return f, false
	}
	b.Mul(wx, f.Inverse)
	var beta mat.VecDense
	beta.MulVec(b.T(), mat.NewVecDense(n, p.Y[0]))
	f.Beta = beta.RawVector().Data
	// Bᵀ K B of each length, and last of the white part.
	parts := make([][]float64, len(m.Length)+1)
	f.Cov = mat.NewSymDense(t, nil)
	add := func(l int, v float64, k *mat.SymDense) {
		var kb, bkb mat.Dense
		kb.Mul(k, &b)
		bkb.Mul(b.T(), &kb)
		parts[l] = bkb.RawMatrix().Data
		floats.AddScaled(f.Cov.RawSymmetric().Data, v, parts[l])
	}
	total := m.Total()
	k := mat.NewSymDense(n, nil)
	for l, length := range m.Length {
		if m.Variance[l] > negligible*total {
			p.lay(k, length)
			add(l, m.Variance[l], k)
		}
	}
	k.Zero()
	for i, n := range p.N {
		k.SetSym(i, i, 1/n)
	}
	add(len(m.Length), m.Nugget, k)
	f.DOF = m.freedom(parts, f.Cov)
	return f, true
}

// freedom returns the degrees of freedom of the covariance's mean over the mixture.
func (m *Model) freedom(parts [][]float64, mean *mat.SymDense) float64 {
	t := mean.SymmetricDim()
	by := make([]float64, len(parts)) // the trace of the first two terms, of each part
	var all float64
	for i := range min(t, 2) {
		for l, part := range parts {
			if part != nil {
				by[l] += part[i*t+i]
			}
		}
		all += mean.At(i, i)
	}
	var square float64
	for _, p := range m.points {
		if p.weight < negligible {
			continue
		}
		v := by[len(by)-1]
		for l, c := range p.kernel {
			v += p.q * c * by[l]
		}
		v *= p.sigma2 / all
		square += p.weight * v * v
	}
	square *= 1 + 2/max(m.free-4, 1) // σ² is not known either
	return 4 + 2/max(square-1, 1e-9)
}
