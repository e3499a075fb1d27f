package noise

import (
	"context"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

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

// Covariance returns the correlated part by the square of the distance.
func (m *Model) Covariance(d2 float64) float64 {
	sum := 0.0
	for k, l := range m.Length {
		sum += m.Variance[k] * math.Exp(-d2/(2*l*l))
	}
	return sum
}

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
//	C = N^½ A,  AᵀN^½X = 0,  AᵀA = 1:   Cᵀ(y) has the covariance σ² (1 + q CᵀKC)
type reduced struct {
	*Patch
	c     *mat.Dense
	z     []*mat.VecDense // Cᵀy of each piece
	last  *mat.VecDense   // Cᵀ of the last term where a group shares it; else nil
	floor float64         // mean square of the white noise assumed beside z
}

// reduce returns false where nothing is left of the patch.
func reduce(p *Patch, floor float64) (r reduced, ok bool) {
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
	var qr mat.QR
	var q mat.Dense
	qr.Factorize(x)
	qr.QTo(&q)
	r = reduced{Patch: p, c: mat.DenseCopyOf(q.Slice(0, n, terms, n))}
	for i := range n {
		floats.Scale(root[i], r.c.RawRowView(i))
	}
	for _, y := range p.Y {
		var z mat.VecDense
		z.MulVec(r.c.T(), mat.NewVecDense(n, y))
		r.z = append(r.z, &z)
	}
	if p.Group != 0 {
		one := make([]float64, n)
		for i, row := range p.Terms {
			one[i] = row[terms]
		}
		r.last = &mat.VecDense{}
		r.last.MulVec(r.c.T(), mat.NewVecDense(n, one))
	}
	r.floor = floor * floats.Sum(p.N) / float64(n)
	return r, true
}

// spectrum is a reduced patch by the eigenvectors of CᵀKC of one kernel.
type spectrum struct {
	value []float64
	z2    []float64 // mean over the pieces of the squared components of z
	z     []float64 // of the only piece
	last  []float64
	*reduced
}

// spectra returns those of all kernels.
func (r *reduced) spectra(lengths []float64, all []kernel) []spectrum {
	n, free := r.c.Dims()
	parts := make([]*mat.SymDense, len(lengths)) // CᵀKC of each length
	k, kc := mat.NewSymDense(n, nil), mat.NewDense(n, free, nil)
	var ckc mat.Dense
	for m, l := range lengths {
		r.lay(k, l)
		kc.Mul(k, r.c)
		ckc.Mul(r.c.T(), kc)
		parts[m] = mat.NewSymDense(free, nil)
		for i := range free {
			for j := i; j < free; j++ {
				parts[m].SetSym(i, j, ckc.At(i, j))
			}
		}
	}
	out := make([]spectrum, len(all))
	sum := mat.NewSymDense(free, nil)
	for i, kern := range all {
		raw := sum.RawSymmetric().Data
		clear(raw)
		for m, w := range kern.weight {
			if w != 0 {
				floats.AddScaled(raw, w, parts[m].RawSymmetric().Data)
			}
		}
		out[i] = r.spectrum(sum)
	}
	return out
}

// spectrum is that of CᵀKC; of white noise, where that is nil, any coordinates do.
func (r *reduced) spectrum(ckc *mat.SymDense) spectrum {
	_, free := r.c.Dims()
	s := spectrum{value: make([]float64, free), z2: make([]float64, free), reduced: r}
	turn := func(v *mat.VecDense) []float64 { return v.RawVector().Data }
	if ckc != nil {
		var eigen mat.EigenSym
		if eigen.Factorize(ckc, true) {
			var u mat.Dense
			eigen.VectorsTo(&u)
			eigen.Values(s.value)
			turn = func(v *mat.VecDense) []float64 {
				var t mat.VecDense
				t.MulVec(u.T(), v)
				return t.RawVector().Data
			}
		}
	}
	for i, v := range s.value {
		s.value[i] = max(v, 0)
	}
	for _, z := range r.z {
		t := turn(z)
		for i, v := range t {
			s.z2[i] += (v*v + r.floor) / float64(len(r.z))
		}
		s.z = t
	}
	if r.last != nil {
		s.last = turn(r.last)
	}
	return s
}

// visible is the mean correlated variance of a component, less what a group's last term
// hides, and free their number.
func visible(all []spectrum) (mean, free float64) {
	for _, s := range all {
		copies := float64(len(s.Y))
		mean += copies * floats.Sum(s.value)
		free += copies * float64(len(s.value))
		if s.last != nil {
			var of float64
			for i, v := range s.value {
				of += s.last[i] * s.last[i] * v
			}
			mean -= of / floats.Dot(s.last, s.last)
			free--
		}
	}
	return mean / max(free, 1), free
}

// likelihood returns the logarithm of the restricted likelihood of the patches with the
// ratio q, σ² profiled out, the posterior mean of σ², and the degrees of freedom.
//
// The last term of a patch of a group has the precision p about its estimate. Estimates
// of a group differ by their spread besides; residuals say how that compares with σ².
func likelihood(all []spectrum, q float64) (log, sigma2, free float64) {
	var quad, logDet float64
	type estimate struct{ p, at, spread float64 }
	groups := map[int][]estimate{}
	var order []int
	for _, s := range all {
		copies := float64(len(s.Y))
		var p, h float64
		for i, v := range s.value {
			d := 1 + q*v
			logDet += copies * math.Log(d)
			quad += copies * s.z2[i] / d
			free += copies
			if s.last != nil {
				p += s.last[i] * s.last[i] / d
				h += s.last[i] * s.z[i] / d
			}
		}
		if s.last != nil {
			quad -= h * h / p
			if groups[s.Group] == nil {
				order = append(order, s.Group)
			}
			groups[s.Group] = append(groups[s.Group], estimate{p, s.Offset + h/p, s.Spread})
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
	tried := kernels(lengths, scale)
	its, err := spectraOf(ctx, patches, lengths, tried, jobs)
	if err != nil {
		return nil, err
	}
	face, err := spectraOf(ctx, evidence, lengths, tried, jobs)
	if err != nil {
		return nil, err
	}
	m := &Model{Length: lengths, Variance: make([]float64, len(lengths))}
	var logs, of, prior []float64 // of the patches and of the face
	try := func(k int, kern []float64, q, length, pr float64) {
		log, sigma2, free := likelihood(its[k], q)
		m.points = append(m.points, gridPoint{kernel: kern, q: q, sigma2: sigma2, length: length})
		m.free = free
		logs, prior = append(logs, log), append(prior, pr)
		log, _, _ = likelihood(face[k], q)
		of = append(of, log)
	}
	for k, kern := range tried {
		mean, free := visible(its[k])
		if free == 0 || !(mean > 0) {
			continue
		}
		for s := range shares {
			share := leastShare * math.Pow(shareRatio, float64(s))
			try(k, kern.weight, share/mean, kern.reach*share/(1+share), kern.prior)
		}
	}
	alone := whitePrior
	if len(evidence) > 0 {
		alone = whiteBeside
	}
	try(len(tried), nil, 0, 0, alone)
	m.weigh(logs, of, prior)
	m.Hidden = m.points[len(m.points)-1].weight > 0.2 && !seen(face, tried, scale)
	return m, nil
}

// spectraOf returns by kernel those of all patches, and last those of white noise.
func spectraOf(ctx context.Context, patches []Patch, lengths []float64, tried []kernel, jobs int) ([][]spectrum, error) {
	var square, count float64
	for _, p := range patches {
		for _, y := range p.Y {
			square += floats.Dot(y, y)
			count += float64(len(y))
		}
	}
	floor := floorSD * floorSD * square / max(count, 1)
	found := make([][]spectrum, len(patches))
	err := parallel.Chunks(ctx, jobs, len(patches), 1, func(i, _ int) {
		if r, ok := reduce(&patches[i], floor); ok {
			found[i] = append(r.spectra(lengths, tried), r.spectrum(nil))
		}
	})
	out := make([][]spectrum, len(tried)+1)
	for _, f := range found {
		for k, s := range f {
			out[k] = append(out[k], s)
		}
	}
	return out, err
}

// weigh gives each grid point its weight, from the logarithms of the likelihoods of the
// patches and of the face, and sets what follows from it.
func (m *Model) weigh(logs, face, prior []float64) {
	// What the face says, as a factor to the prior whose mean is one.
	top := floats.Max(face)
	var mean, total float64
	for i, log := range face {
		face[i] = math.Exp(log - top)
		mean += prior[i] * face[i]
		total += prior[i]
	}
	for i := range logs {
		says := face[i]
		if m.points[i].kernel != nil { // the ratio is not quite the face's
			first := i / shares * shares
			says = (2*face[i] + face[max(i-1, first)] + face[min(i+1, first+shares-1)]) / 4
		}
		logs[i] += math.Log(prior[i] * (apart + (1-apart)*says*total/mean))
	}
	top = floats.Max(logs)
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
// ½ Σ (qλ - ln(1 + qλ)).
func seen(face [][]spectrum, tried []kernel, scale float64) bool {
	var at int
	for k, kern := range tried {
		if kern.smooth && math.Abs(math.Log(kern.reach/math.Sqrt2/scale)) < math.Log(ratio)/2+1e-9 {
			at = k
		}
	}
	sum := 0.0
	for _, s := range face[at] {
		for _, v := range s.value {
			sum += float64(len(s.Y)) * (tenth*v - math.Log1p(tenth*v)) / 2
		}
	}
	return sum > shows
}
