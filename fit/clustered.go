package fit

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"
)

// Neighbouring points of a scan share their error. The methods here give the
// covariance of a fit that holds all the same, taken from the residuals without
// a model of the noise, by leaving out one cluster of neighbouring points at a
// time. With rows x of the Jacobian and residuals e, cluster g moves the answer
// by
//
//	β(-g) - β = -(XᵀX - X_gᵀX_g)⁻¹ s_g,   s_g = Σ_{i in g} x_i e_i
//
// and the covariance is (G-1)/G times the sum over the G clusters of their
// squares: the jackknife of groups, Efron, The jackknife, the bootstrap and
// other resampling plans, SIAM 1982, eq. 3.13.
//
// A cluster is the points whose feet on the surface lie in one cell of a cubic
// grid. What clusters share across their borders is missing, in proportion to
// border over area: variances V(b) at the cell sizes b and 2b give
// V = 2 V(2b) - V(b) (Richardson's extrapolation), at most half more than V(2b),
// at the largest cells of which there are still fewestClusters.

// Clustered returns f with neighbours' shared error in its covariance. pts are the
// points that were fitted (equal weights), spacing their distance, mm; the clusters
// are eight spacings and more across, so that on a surface less than some twenty
// wide a tilt comes out up to a quarter too sure. share is what neighbours are known
// to share from elsewhere, or nil: no variance is less than it makes it (see
// shared), nor than that of f. known is false where the surface is too small for
// enough clusters and nothing is known from elsewhere: then f comes back, which
// takes every point for independent. What the fit held stays without variance.
func Clustered(f Fit, pts []r3.Vector, spacing float64, share Covariance) (out Fit, known bool) {
	c := clusters{f.Kind().Params(), f.Statistics().Sigma, spacing, rowsOf(f.Surface())}
	cov := f.Covariance()
	basis := freeOf(cov)
	if basis != nil {
		row := c.row
		c.k = basis.RawMatrix().Cols
		c.row = func(q r3.Vector, x []float64) (float64, r3.Vector) {
			var all [maxParams]float64
			e, foot := row(q, all[:])
			k, _ := basis.Dims()
			mat.NewVecDense(c.k, x).MulVec(basis.T(), mat.NewVecDense(k, all[:k]))
			return e, foot
		}
		cov = mat.NewSymDense(c.k, nil)
		for i := range c.k {
			cov.SetSym(i, i, 1)
		}
	}
	white := make([][]float64, c.k)
	for i := range white {
		white[i] = mat.Row(nil, i, cov)
	}
	known = c.widen(pts, share, white)
	cov = symmetric(white...)
	if basis != nil {
		var all mat.Dense
		all.Product(basis, cov, basis.T())
		k, _ := all.Dims()
		cov = mat.NewSymDense(k, nil)
		for i := range k {
			for j := i; j < k; j++ {
				cov.SetSym(i, j, all.At(i, j))
			}
		}
	}
	return f.WithCovariance(cov), known
}

// freeOf returns a basis B of the parameters that a fit left free, such that its
// covariance is BB'; nil where nothing was held, or nothing is known.
func freeOf(cov *mat.SymDense) *mat.Dense {
	k := cov.SymmetricDim()
	scale := make([]float64, k)
	corr := mat.NewSymDense(k, nil)
	for i := range k {
		scale[i] = math.Sqrt(cov.At(i, i))
		for j := range i + 1 {
			if s := scale[i] * scale[j]; s > 0 {
				corr.SetSym(i, j, cov.At(i, j)/s)
			}
		}
	}
	var e mat.EigenSym
	if !e.Factorize(corr, true) {
		return nil
	}
	var v mat.Dense
	e.VectorsTo(&v)
	val := e.Values(nil)
	held := 0
	for held < k && val[held] < heldVariance {
		held++
	}
	if held == 0 || held == k {
		return nil
	}
	b := mat.NewDense(k, k-held, nil)
	b.Apply(func(i, j int, _ float64) float64 {
		return scale[i] * v.At(i, held+j) * math.Sqrt(val[held+j])
	}, b)
	return b
}

// rowsOf fills the rows of a shape's Jacobian.
func rowsOf(s Shape) rowFunc {
	return func(q r3.Vector, x []float64) (float64, r3.Vector) {
		e := s.Partials(q, x)
		return e, q.Sub(s.anchor()).Sub(s.NormalAt(q).Mul(e))
	}
}

// clusters makes the covariance of one fit.
type clusters struct {
	k       int
	sigma   float64
	spacing float64
	row     rowFunc
}

// rowFunc fills x with the residual's derivatives at q and returns the residual
// and the foot of q on the surface, relative to the surface's own point.
type rowFunc func(q r3.Vector, x []float64) (e float64, foot r3.Vector)

// cellKey numbers the cells of a grid.
type cellKey [3]int32

// widen raises the covariance whose rows are given, that of independent points, to
// that of clusters and of what neighbours share.
func (c *clusters) widen(pts []r3.Vector, share Covariance, cov [][]float64) (known bool) {
	white := make([][]float64, c.k)
	for i := range white {
		white[i] = slices.Clone(cov[i])
	}
	wide, known := c.covariance(pts, white)
	f := make([]float64, c.k)
	if share != nil {
		model := shared(c.sigma, pts, c.row, share, white)
		for i := range f {
			f[i] = model[i][i]
		}
	}
	for i := range f {
		if v := wide[i][i]; v > 0 {
			f[i] = math.Sqrt(max(1, f[i]/v))
		}
	}
	for i := range cov {
		for j := range cov[i] {
			cov[i][j] = wide[i][j] * f[i] * f[j]
		}
	}
	return known || share != nil
}

// covariance is that of clusters, or white, that of independent points, where there
// are too few.
func (c *clusters) covariance(pts []r3.Vector, white [][]float64) (cov [][]float64, known bool) {
	cov = white
	if c.sigma == 0 || c.spacing <= 0 || len(pts) == 0 {
		return cov, false
	}
	var normal mat.SymDense // XᵀX
	var chol mat.Cholesky
	flat := mat.NewSymDense(c.k, nil)
	for i := range c.k {
		for j := i; j < c.k; j++ {
			flat.SetSym(i, j, white[i][j]/(c.sigma*c.sigma))
		}
	}
	if !chol.Factorize(flat) || chol.InverseTo(&normal) != nil {
		return cov, false
	}
	var last []float64 // variances at half the cell
	for groups := c.groups(pts, clusterSpacings*c.spacing); len(groups) >= fewestClusters; groups = c.coarser(groups) {
		next, ok := c.jackknife(groups, &normal)
		if !ok {
			return cov, known
		}
		known = true
		// Variances beyond the cells, a parameter at a time.
		f := make([]float64, c.k)
		for i := range f {
			f[i] = 1
			if last != nil {
				f[i] = max(1, min(mostBeyond, 2-last[i]/next[i][i]))
			}
			f[i] = max(f[i], white[i][i]/next[i][i])
		}
		last = make([]float64, c.k)
		for i := range f {
			last[i] = next[i][i]
		}
		for i := range next {
			for j := range next[i] {
				next[i][j] *= math.Sqrt(f[i] * f[j])
			}
		}
		cov = next
	}
	return cov, known
}

// group is one cluster: its cell, Σ x e and Σ x xᵀ over its points.
type group struct {
	key    cellKey
	score  []float64
	normal *mat.SymDense
}

// groups returns the clusters in the order in which they first come up, so that
// the same points give the same digits.
func (c *clusters) groups(pts []r3.Vector, cell float64) []group {
	index := map[cellKey]int{}
	var out []group
	x := make([]float64, c.k)
	for _, q := range pts {
		clear(x)
		e, foot := c.row(q, x)
		// Borders off the middle, where symmetric surfaces would lie on them.
		key := cellKey{
			int32(math.Floor(foot.X/cell + 0.37)),
			int32(math.Floor(foot.Y/cell + 0.41)),
			int32(math.Floor(foot.Z/cell + 0.45)),
		}
		i, ok := index[key]
		if !ok {
			i = len(out)
			index[key] = i
			out = append(out, c.empty(key))
		}
		raw := out[i].normal.RawSymmetric()
		for k := range x {
			out[i].score[k] += x[k] * e
			for l := k; l < c.k; l++ {
				raw.Data[k*raw.Stride+l] += x[k] * x[l]
			}
		}
	}
	return out
}

func (c *clusters) empty(key cellKey) group {
	return group{key, make([]float64, c.k), mat.NewSymDense(c.k, nil)}
}

// coarser puts the clusters of eight neighbouring cells together.
func (c *clusters) coarser(fine []group) []group {
	index := map[cellKey]int{}
	var out []group
	for _, g := range fine {
		key := cellKey{g.key[0] >> 1, g.key[1] >> 1, g.key[2] >> 1}
		i, ok := index[key]
		if !ok {
			i = len(out)
			index[key] = i
			out = append(out, c.empty(key))
		}
		for k, v := range g.score {
			out[i].score[k] += v
		}
		out[i].normal.AddSym(out[i].normal, g.normal)
	}
	return out
}

// jackknife leaves out one group after the other. ok is false where one of them
// alone determines a parameter.
func (c *clusters) jackknife(groups []group, normal *mat.SymDense) (cov [][]float64, ok bool) {
	cov = make([][]float64, c.k)
	for i := range cov {
		cov[i] = make([]float64, c.k)
	}
	rest := mat.NewSymDense(c.k, nil)
	var chol mat.Cholesky
	var z mat.VecDense
	g := float64(len(groups))
	for _, a := range groups {
		for i := range c.k {
			for j := i; j < c.k; j++ {
				rest.SetSym(i, j, normal.At(i, j)-a.normal.At(i, j))
			}
		}
		if !chol.Factorize(rest) || chol.SolveVecTo(&z, mat.NewVecDense(c.k, a.score)) != nil {
			return nil, false
		}
		for i := range cov {
			for j := range cov[i] {
				cov[i][j] += (g - 1) / g * z.AtVec(i) * z.AtVec(j)
			}
		}
	}
	return cov, true
}
