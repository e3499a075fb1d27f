package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// Neighbouring points of a scan share their error. The methods here give the
// covariance of a fit that holds all the same, taken from the residuals without
// a model of the noise: with rows x of the Jacobian and residuals e,
//
//	C (Σ_g s_g s_gᵀ) C / σ⁴,   s_g = Σ_{i in g} x_i e_i,   C = σ² (XᵀX)⁻¹
//
// where g runs over clusters of neighbouring points, so large that clusters
// hardly share their errors: Liang and Zeger, Longitudinal data analysis using
// generalized linear models, Biometrika 73 (1986) 13-22, eq. 4. The clusters
// are the points whose feet on the surface lie in one cell of a cubic grid. What
// they share across their borders is missing, in proportion to border over
// area: variances V(b) at the cell sizes b and 2b give V = 2 V(2b) - V(b)
// (Richardson's extrapolation), which is taken as a factor, the mean over the
// parameters, at the largest cells that are still fewestClusters.

// fewestClusters is the least number of clusters that a covariance is taken
// from: its relative scatter is about the root of two over it.
const fewestClusters = 24

// Clustered returns Cov with neighbours' shared error in it. pts are the points
// that were fitted (equal weights), spacing their distance, mm; the clusters
// are eight spacings and more across. known is
// false where the surface is too small for enough clusters: then Cov comes
// back, which takes every point for independent.
func (f PlaneFit) Clustered(pts []r3.Vector, spacing float64) (cov [3][3]float64, known bool) {
	e1, e2 := Frame(f.Normal)
	c := newClusters(3, f.Residuals.Sigma, spacing, func(q r3.Vector, x []float64) (float64, r3.Vector) {
		v := q.Sub(f.Point)
		x[0], x[1], x[2] = -1, -v.Dot(e1), -v.Dot(e2)
		e := v.Dot(f.Normal)
		return e, v.Sub(f.Normal.Mul(e))
	})
	out, known := c.covariance(pts, func(i, j int) float64 { return f.Cov[i][j] })
	for i := range out {
		copy(cov[i][:], out[i])
	}
	return cov, known
}

// Clustered is PlaneFit.Clustered for a sphere.
func (f SphereFit) Clustered(pts []r3.Vector, spacing float64) (cov [4][4]float64, known bool) {
	c := newClusters(4, f.Residuals.Sigma, spacing, func(q r3.Vector, x []float64) (float64, r3.Vector) {
		v := q.Sub(f.Centre)
		l := v.Norm()
		x[3] = -1
		if l == 0 {
			return -f.Radius, v
		}
		x[0], x[1], x[2] = -v.X/l, -v.Y/l, -v.Z/l
		return l - f.Radius, v.Mul(f.Radius / l)
	})
	out, known := c.covariance(pts, func(i, j int) float64 { return f.Cov[i][j] })
	for i := range out {
		copy(cov[i][:], out[i])
	}
	return cov, known
}

// Clustered is PlaneFit.Clustered for a cylinder.
func (f CylinderFit) Clustered(pts []r3.Vector, spacing float64) (cov [5][5]float64, known bool) {
	e1, e2 := Frame(f.Axis)
	c := newClusters(5, f.Residuals.Sigma, spacing, func(q r3.Vector, x []float64) (float64, r3.Vector) {
		v := q.Sub(f.Point)
		t := v.Dot(f.Axis)
		w := v.Sub(f.Axis.Mul(t))
		l := w.Norm()
		x[4] = -1
		if l == 0 {
			return -f.Radius, v
		}
		x[0], x[1] = -w.Dot(e1)/l, -w.Dot(e2)/l
		x[2], x[3] = t*x[0], t*x[1]
		return l - f.Radius, f.Axis.Mul(t).Add(w.Mul(f.Radius / l))
	})
	out, known := c.covariance(pts, func(i, j int) float64 { return f.Cov[i][j] })
	for i := range out {
		copy(cov[i][:], out[i])
	}
	return cov, known
}

// clusters sums score vectors x e over the cells of grids.
type clusters struct {
	k       int
	sigma   float64
	spacing float64
	row     rowFunc
}

// rowFunc fills x with the residual's derivatives at q and returns the residual
// and the foot of q on the surface, relative to the surface's own point.
type rowFunc func(q r3.Vector, x []float64) (e float64, foot r3.Vector)

func newClusters(k int, sigma, spacing float64, row rowFunc) *clusters {
	return &clusters{k, sigma, spacing, row}
}

// cellKey numbers the cells of a grid.
type cellKey [3]int32

func (c *clusters) covariance(pts []r3.Vector, at func(i, j int) float64) (cov [][]float64, known bool) {
	white := make([][]float64, c.k)
	for i := range white {
		white[i] = make([]float64, c.k)
		for j := range white[i] {
			white[i][j] = at(i, j)
		}
	}
	cov = white
	if c.sigma == 0 || c.spacing <= 0 || len(pts) == 0 {
		return cov, false
	}
	last := 1.0 // mean ratio of variances at half the cell; white noise at first
	for cell := 8 * c.spacing; ; cell *= 2 {
		sums := c.sums(pts, cell)
		if len(sums) < fewestClusters {
			return cov, known
		}
		known = true
		cov = c.sandwich(sums, white)
		var ratio float64
		for i := range cov {
			ratio += cov[i][i] / white[i][i] / float64(c.k)
		}
		beyond := max(ratio, 1)
		if last > 1 || cell > 8*c.spacing {
			beyond = max(beyond, 2*ratio-last)
		}
		last = ratio
		for i := range cov {
			for j := range cov[i] {
				cov[i][j] *= beyond / ratio
			}
		}
	}
}

// sums returns the clusters' score vectors, in the order in which the clusters
// first come up, so that the same points give the same digits.
func (c *clusters) sums(pts []r3.Vector, cell float64) [][]float64 {
	index := map[cellKey]int{}
	var sums [][]float64
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
			i = len(sums)
			index[key] = i
			sums = append(sums, make([]float64, c.k))
		}
		for k := range x {
			sums[i][k] += x[k] * e
		}
	}
	return sums
}

// sandwich returns white (Σ s sᵀ) white / σ⁴, corrected for the parameters
// fitted by G/(G-k) of G clusters.
func (c *clusters) sandwich(sums, white [][]float64) [][]float64 {
	g := float64(len(sums))
	f := g / (g - float64(c.k)) / (c.sigma * c.sigma * c.sigma * c.sigma)
	out := make([][]float64, c.k)
	for i := range out {
		out[i] = make([]float64, c.k)
	}
	z := make([]float64, c.k)
	for _, s := range sums {
		for i := range z {
			z[i] = 0
			for j := range s {
				z[i] += white[i][j] * s[j]
			}
		}
		for i := range z {
			for j := range z {
				out[i][j] += f * z[i] * z[j]
			}
		}
	}
	return out
}
