package fit

import (
	"math"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"spotface/fit/noise"
	"spotface/mesh/geom"
)

// Neighbouring points of a scan share their error. The covariances here hold all the
// same. That of clusters is taken from the residuals without a model of the noise, by
// leaving out one cluster of neighbouring points at a time. With rows x of the
// Jacobian and residuals e, cluster g moves the answer by
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
//
// A surface too small for clusters still has its neighbours' shared error. Where
// other surfaces of the same scan show how far that reaches, its covariance
// follows from it:
//
//	Cov(β) = (XᵀX)⁻¹ Xᵀ V X (XᵀX)⁻¹,   V = σ² I + C(|p_i - p_j|)
//
// (least squares under correlated errors: Rao, Linear statistical inference and its
// applications, 2nd ed. 1973, section 4a; from memory).

// Covariance is what the errors of two points share, mm², by the square of their
// distance, mm².
type Covariance func(distance2 float64) float64

// Clustered returns f with neighbours' shared error in its covariance. pts are the
// points that were fitted (equal weights), spacing their distance, mm; the clusters
// are eight spacings and more across, so that on a surface less than some twenty
// wide a tilt comes out up to a quarter too sure. share is what neighbours are known
// to share from elsewhere, or nil: no variance is less than it makes it, nor than
// that of f. known is false where the surface is too small for enough clusters and
// nothing is known from elsewhere: then f comes back, which takes every point for
// independent. What the fit held stays without variance.
func Clustered(f Fit, pts []r3.Vector, spacing float64, share Covariance) (out Fit, known bool) {
	c := newClusters(f)
	cov, known := c.jackknifed(pts, spacing)
	if share != nil {
		model := c.shared(pts, share)
		cov = enlarged(cov, func(i int, v float64) float64 { return model.At(i, i) / v })
		known = true
	}
	var all mat.Dense
	all.Product(c.basis, cov, c.basis.T())
	return f.WithCovariance(upper(&all)), known
}

// clusters makes the covariance of one fit, of the parameters that it left free.
type clusters struct {
	surface Shape
	basis   *mat.Dense    // of all parameters, a column for each that is free
	white   *mat.SymDense // covariance of the free ones where points are independent
	sigma   float64
}

// newClusters takes the parameters of f, or where something was held, or is not known,
// combinations of them such that their covariance is one: of the basis B, BB' is that
// of f.
func newClusters(f Fit) *clusters {
	cov := f.Covariance()
	k := cov.SymmetricDim()
	c := &clusters{f.Surface(), mat.NewDense(k, k, nil), cov, f.Statistics().Sigma}
	for i := range k {
		c.basis.Set(i, i, 1)
	}
	scale, val, v := correlation(cov)
	held := 0
	for held < k && val[held] < heldVariance {
		held++
	}
	if held == 0 || held == k {
		return c
	}
	c.basis = mat.NewDense(k, k-held, nil)
	c.basis.Apply(func(i, j int, _ float64) float64 {
		return scale[i] * v.At(i, held+j) * math.Sqrt(val[held+j])
	}, c.basis)
	c.white = mat.NewSymDense(k-held, nil)
	for i := range k - held {
		c.white.SetSym(i, i, 1)
	}
	return c
}

// row fills x with the residual's derivatives at q and returns the residual and the
// foot of q on the surface, relative to the surface's own point.
func (c *clusters) row(q r3.Vector, x []float64) (e float64, foot r3.Vector) {
	var all [maxParams]float64
	e = c.surface.Partials(q, all[:])
	clear(x)
	raw := c.basis.RawMatrix()
	for i := range raw.Rows {
		for j := range x {
			x[j] += all[i] * raw.Data[i*raw.Stride+j]
		}
	}
	return e, q.Sub(c.surface.anchor()).Sub(c.surface.NormalAt(q).Mul(e))
}

// jackknifed is the covariance of clusters, or that of independent points where there
// are too few.
func (c *clusters) jackknifed(pts []r3.Vector, spacing float64) (cov *mat.SymDense, known bool) {
	cov = c.white
	if c.sigma == 0 || spacing <= 0 {
		return cov, false
	}
	var normal mat.SymDense // XᵀX = σ² Cov⁻¹
	var chol mat.Cholesky
	if !chol.Factorize(c.white) || chol.InverseTo(&normal) != nil {
		return cov, false
	}
	normal.ScaleSym(c.sigma*c.sigma, &normal)
	var last *mat.SymDense // at half the cell
	groups := c.groups(pts, clusterSpacings*spacing)
	for ; len(groups) >= fewestClusters; groups = c.coarser(groups) {
		next, ok := c.jackknife(groups, &normal)
		if !ok {
			break
		}
		half := last
		cov = enlarged(next, func(i int, v float64) float64 {
			beyond := 1.0
			if half != nil {
				beyond = min(mostBeyond, 2-half.At(i, i)/v)
			}
			return max(beyond, c.white.At(i, i)/v)
		})
		last, known = next, true
	}
	return cov, known
}

// enlarged returns cov with the variance v of each parameter i that is above zero
// times by(i, v), if that is more than one, the correlations as they are.
func enlarged(cov *mat.SymDense, by func(i int, v float64) float64) *mat.SymDense {
	k := cov.SymmetricDim()
	root := make([]float64, k)
	out := mat.NewSymDense(k, nil)
	for i := range k {
		root[i] = 1
		if v := cov.At(i, i); v > 0 {
			root[i] = math.Sqrt(max(1, by(i, v)))
		}
		for j := range i + 1 {
			out.SetSym(i, j, cov.At(i, j)*root[i]*root[j])
		}
	}
	return out
}

// cellKey numbers the cells of a grid.
type cellKey [3]int32

// keyOf is the cell of a point. Borders are off the middle, where symmetric surfaces would
// lie on them.
func keyOf(p r3.Vector, cell float64) cellKey {
	return cellKey{
		int32(math.Floor(p.X/cell + borderX)),
		int32(math.Floor(p.Y/cell + borderY)),
		int32(math.Floor(p.Z/cell + borderZ)),
	}
}

// group is one cluster: its cell, Σ x e and Σ x xᵀ over its points.
type group struct {
	key    cellKey
	score  *mat.VecDense
	normal *mat.SymDense
}

// clusterSet holds the clusters in the order in which they first come up, so that
// the same points give the same digits.
type clusterSet struct {
	at   map[cellKey]int
	list []group
	k    int
}

func (s *clusterSet) get(key cellKey) *group {
	i, ok := s.at[key]
	if !ok {
		i = len(s.list)
		s.at[key] = i
		s.list = append(s.list, group{key, mat.NewVecDense(s.k, nil), mat.NewSymDense(s.k, nil)})
	}
	return &s.list[i]
}

func (c *clusters) newSet() *clusterSet {
	return &clusterSet{at: map[cellKey]int{}, k: c.white.SymmetricDim()}
}

// groups returns the clusters of the cells of one size, mm.
func (c *clusters) groups(pts []r3.Vector, cell float64) []group {
	set := c.newSet()
	x := make([]float64, set.k)
	for _, q := range pts {
		e, foot := c.row(q, x)
		g := set.get(keyOf(foot, cell))
		score, raw := g.score.RawVector().Data, g.normal.RawSymmetric()
		for k := range x {
			score[k] += x[k] * e
			for l := k; l < set.k; l++ {
				raw.Data[k*raw.Stride+l] += x[k] * x[l]
			}
		}
	}
	return set.list
}

// coarser puts the clusters of eight neighbouring cells together.
func (c *clusters) coarser(fine []group) []group {
	set := c.newSet()
	for _, g := range fine {
		to := set.get(cellKey{g.key[0] >> 1, g.key[1] >> 1, g.key[2] >> 1})
		to.score.AddVec(to.score, g.score)
		to.normal.AddSym(to.normal, g.normal)
	}
	return set.list
}

// jackknife leaves out one group after the other. ok is false where one of them
// alone determines a parameter.
func (c *clusters) jackknife(groups []group, normal *mat.SymDense) (cov *mat.SymDense, ok bool) {
	k := normal.SymmetricDim()
	cov = mat.NewSymDense(k, nil)
	var rest mat.SymDense
	var chol mat.Cholesky
	var z mat.VecDense
	g := float64(len(groups))
	for _, a := range groups {
		rest.ScaleSym(-1, a.normal)
		rest.AddSym(&rest, normal)
		if !chol.Factorize(&rest) || chol.SolveVecTo(&z, a.score) != nil {
			return nil, false
		}
		cov.SymRankOne(cov, (g-1)/g, &z)
	}
	return cov, true
}

// shared adds to the covariance of independent points what C makes of it:
// (XᵀX)⁻¹ Xᵀ C X (XᵀX)⁻¹ with (XᵀX)⁻¹ = Cov/σ², the middle from the pairs of some of
// the points, as many times as there are pairs of all.
func (c *clusters) shared(pts []r3.Vector, share Covariance) *mat.SymDense {
	k := c.white.SymmetricDim()
	n := min(len(pts), sharedPoints)
	if c.sigma == 0 || n < 2 {
		return c.white
	}
	rows, feet := make([]*mat.VecDense, n), make([]r3.Vector, n)
	for i := range n {
		rows[i] = mat.NewVecDense(k, nil)
		_, feet[i] = c.row(pts[i*len(pts)/n], rows[i].RawVector().Data)
	}
	mid := mat.NewSymDense(k, nil)
	for a, x := range rows {
		for b, y := range rows[:a] {
			if v := share(feet[a].Sub(feet[b]).Norm2()); v != 0 {
				mid.RankTwo(mid, v, x, y)
			}
		}
	}
	all := float64(len(pts))
	var add mat.Dense
	add.Product(c.white, mid, c.white)
	add.Scale(all*(all-1)/float64(n*(n-1))/math.Pow(c.sigma, 4), &add)
	out := upper(&add)
	out.AddSym(out, c.white)
	return out
}

// upper returns a matrix that is symmetric but for rounding as one that is.
func upper(m mat.Matrix) *mat.SymDense {
	k, _ := m.Dims()
	out := mat.NewSymDense(k, nil)
	for i := range k {
		for j := i; j < k; j++ {
			out.SetSym(i, j, m.At(i, j))
		}
	}
	return out
}

// Cells returns the residuals of f at pts, in units of their standard deviation, as means
// over less than mostCells cells of a cubic grid, with the mean derivatives by the
// parameters that f left free.
func Cells(f Fit, pts []r3.Vector) noise.Patch {
	c := newClusters(f)
	k := c.white.SymmetricDim()
	feet, e, rows := make([]r3.Vector, len(pts)), make([]float64, len(pts)), make([]float64, k*len(pts))
	for i, q := range pts {
		e[i], feet[i] = c.row(q, rows[k*i:k*i+k])
		e[i] /= c.sigma
	}
	lo, hi := geom.Bounds(feet)
	for side := hi.Sub(lo).Norm() / 16; ; side *= cellStep {
		p := noise.Patch{Width: side, Height: side, Y: make([][]float64, 1)}
		at := map[cellKey]int{}
		for i, foot := range feet {
			key := keyOf(foot, side)
			n, ok := at[key]
			if !ok {
				n = len(at)
				at[key] = n
				p.At, p.N = append(p.At, r3.Vector{}), append(p.N, 0)
				p.Y[0], p.Terms = append(p.Y[0], 0), append(p.Terms, make([]float64, k))
			}
			p.N[n]++
			step := 1 / p.N[n]
			p.At[n] = p.At[n].Add(foot.Sub(p.At[n]).Mul(step))
			p.Y[0][n] += (e[i] - p.Y[0][n]) * step
			for j := range k {
				p.Terms[n][j] += (rows[k*i+j] - p.Terms[n][j]) * step
			}
		}
		if len(p.At) <= mostCells {
			return p
		}
	}
}
