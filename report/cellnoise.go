package report

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// The cells of a surface share their error as far as the scan's noise reaches
// beyond a cell. How far, and how much of it, is read from what the fit of the
// slow terms leaves. Long noise is mostly taken up by the fit itself, and what is
// left of it is small but smooth: that is told by the likelihood of the residuals
// (restricted likelihood, Patterson & Thompson, Biometrika 58 (1971) 545-554),
// where their mean products by distance say next to nothing. No one noise is
// chosen: many are tried, each weighs by its likelihood, and the form that noise
// gives is drawn from all of them.

// noiseModel is one noise that the cells may have: each cell's own, one over its
// number of points, and mix times one of variance 1 that neighbours share.
type noiseModel struct {
	weight float64       // how likely, of all models
	cov    *mat.SymDense // of the terms, times a factor of 1/χ² with the noise's degrees of freedom
	reach  float64       // of the correlation, cells, by the share of the terms' variance that it makes
}

// termNoise is how the noise of the cells moves the fitted terms.
type termNoise struct {
	models []noiseModel
	dof    float64
}

// mean is the terms' covariance over all models; E(1/χ²) = 1/(ν - 2).
func (t *termNoise) mean() *mat.SymDense {
	p := t.models[0].cov.SymmetricDim()
	sum := mat.NewSymDense(p, nil)
	for _, m := range t.models {
		for i := range p {
			for j := range i + 1 {
				sum.SetSym(i, j, sum.At(i, j)+m.weight/(t.dof-2)*m.cov.At(i, j))
			}
		}
	}
	return sum
}

func (t *termNoise) reach() float64 {
	sum := 0.0
	for _, m := range t.models {
		sum += m.weight * m.reach
	}
	return sum
}

// correlations that are tried, over the distance d in reaches: smooth, of several
// lengths at once (1, 2.5 and 6 reaches), and rough; and the reaches, cells. The
// likelihood of the smooth one is narrow, so its reaches lie close. Much longer noise
// than the longest is all taken up by the fit.
var correlations = [...]struct {
	of                 func(d float64) float64
	least, times, most float64
}{
	{func(d float64) float64 { return math.Exp(-d * d / 2) }, 0.45, 1.25, 4.5},
	{func(d float64) float64 { return (math.Exp(-d*d/2) + math.Exp(-d*d/12.5) + math.Exp(-d*d/72)) / 3 }, 0.3, 1.5, 1.1},
	{func(d float64) float64 { return math.Exp(-d / 1.5) }, 0.5, 1.8, 4.5},
}

// Shared noise that is tried, as its variance over that of a cell's own: 1/4, and so
// many times four of it, to 65,536.
const (
	leastMix = 0.25
	mixTimes = 4
	mixes    = 10
)

// noiseOfTerms learns the noise of the cells' means y from what least squares of
// y = X b leaves of them, and says what it does to the terms b = A y; a is used up.
// away is the distance of two cells, in cells.
func noiseOfTerms(x *mat.Dense, a *mat.Dense, y []float64, cells []cell, away func(a, b cell) float64) (termNoise, bool) {
	n, p := x.Dims()
	mean := 0.0
	for _, c := range cells {
		mean += float64(c.n) / float64(n)
	}
	// A cell's mean times w, one over its own error, has own noise of variance 1.
	w := make([]float64, n)
	weighed := mat.DenseCopyOf(x)
	e := make([]float64, n)
	for i, c := range cells {
		w[i] = math.Sqrt(float64(c.n) / mean)
		floats.Scale(w[i], weighed.RawRowView(i))
		e[i] = w[i] * y[i]
	}
	slow := onto(weighed)
	slow.vector(e)
	d := make([]float64, n*n)
	for i := range n {
		for j := range i {
			d[i*n+j] = away(cells[i], cells[j])
		}
	}
	for i := range p {
		floats.Div(a.RawRowView(i), w) // b = A W⁻¹ (W y)
	}
	var alone mat.Dense
	alone.Mul(a, a.T())

	t := termNoise{dof: float64(n - p)}
	var logs []float64
	var family []int // of each model's correlation; -1: none
	add := func(kind int, shared *mat.Dense, line *tridiagonal, mix, reach float64) {
		logdet, quad := line.of(mix)
		if !(quad > 0) || math.IsNaN(logdet) {
			return
		}
		m := noiseModel{cov: mat.NewSymDense(p, nil)}
		var all, part float64
		for i := range p {
			for j := range i + 1 {
				v := alone.At(i, j)
				if mix > 0 {
					v += mix * shared.At(i, j)
				}
				m.cov.SetSym(i, j, quad*v)
			}
			all += m.cov.At(i, i)
			if mix > 0 {
				part += quad * mix * shared.At(i, i)
			}
		}
		m.reach = reach * part / all
		// The noise's size drops out with a prior even in its logarithm.
		logs = append(logs, -logdet/2-t.dof/2*math.Log(quad))
		t.models = append(t.models, m)
		family = append(family, kind)
	}
	for k, c := range correlations {
		for reach := c.least; reach <= c.most; reach *= c.times {
			raw := make([]float64, n*n)
			for i := range n {
				for j := range i + 1 {
					r := w[i] * w[j] * c.of(d[i*n+j]/reach)
					raw[i*n+j], raw[j*n+i] = r, r
				}
			}
			v := mat.NewDense(n, n, raw)
			var av, shared mat.Dense
			av.Mul(a, v)
			shared.Mul(&av, a.T())
			slow.both(v)
			line := straighten(v, p, e)
			if k == 0 && reach == c.least {
				add(-1, nil, line, 0, 0)
			}
			mix := leastMix
			for range mixes {
				add(k, &shared, line, mix, reach)
				mix *= mixTimes
			}
		}
	}
	if len(logs) < 2 {
		return t, false // residuals that are zero, or no numbers
	}
	t.weigh(logs, family)
	return t, t.dof > 2
}

// trust is how far the likelihood tells one shared noise from another: as if there
// were so many independent cells. Noise is never quite any of those tried, so that
// all of the likelihood would be sure of what the fit hides of it by details of what
// it leaves (12: by simulation, with noise of three lengths that is none of them).
const trust = 12

// weigh gives each model its weight, from the logarithms of their likelihoods and
// each model's correlation. Beforehand noise that cells share is as likely as that
// they do not, and each of the correlations as the others.
func (t *termNoise) weigh(logs []float64, family []int) {
	best := floats.Max(logs)
	var size [len(correlations) + 1]float64
	for _, f := range family {
		size[f+1]++
	}
	var none, shared, tempered float64
	for i, f := range family {
		w := math.Exp(logs[i] - best)
		if f < 0 {
			none = w
			continue
		}
		w /= size[f+1] * float64(len(correlations))
		shared += w
		t.models[i].weight = math.Exp((logs[i]-best)*min(1, trust/t.dof)) / size[f+1]
		tempered += t.models[i].weight
	}
	for i, f := range family {
		if f < 0 {
			t.models[i].weight = none / (none + shared)
			continue
		}
		t.models[i].weight *= shared / (none + shared) / tempered
	}
}
