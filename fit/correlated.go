package fit

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/fit/noise"
	"spotface/mesh/geom"
)

// Correlated returns f with the error that its points pts share, and that package noise
// has learned, in its covariance. unit is the mean square of the residuals that m was
// learned from, mm²; those of f have the same noise on their own scale, and perhaps form.
// The variances are those of least squares of cells' means in that noise, or of f if they
// are more, the correlations those of f. What the fit held stays without variance.
func Correlated(f Fit, pts []r3.Vector, m *noise.Model, unit float64) Fit {
	was, sigma := f.Covariance(), f.Statistics().Sigma
	if sigma == 0 || m == nil {
		return f
	}
	p := Cells(f, pts)
	g, ok := m.Fit(&p, p.Terms)
	if !ok {
		return f
	}
	// Form that the noise does not explain makes the means of cells larger: by the root of
	// chi-squared over its degrees of freedom (Birge, Phys. Rev. 40 (1932) 207-227).
	k := was.SymmetricDim()
	var chi2 float64
	for i, y := range p.Y[0] {
		chi2 += y * y * unit / (m.Nugget/p.N[i] + m.Total())
	}
	scale := sigma * sigma / unit * max(1, chi2/float64(max(1, len(p.N)-k)))
	root := make([]float64, k)
	for i := range k {
		if v := was.At(i, i); v > 0 {
			root[i] = math.Sqrt(max(1, g.Cov.At(i, i)*scale/v))
		}
	}
	var cov matrix
	for i := range k {
		for j := range k {
			cov[i][j] = was.At(i, j) * root[i] * root[j]
		}
	}
	return f.with(cov)
}

// Cells returns the residuals of f at pts, in units of their standard deviation, as means
// over less than mostCells cells of a cubic grid, with the mean derivatives by its
// parameters.
func Cells(f Fit, pts []r3.Vector) noise.Patch {
	k, sigma := f.Surface().Kind().Params(), f.Statistics().Sigma
	feet, e, rows := make([]r3.Vector, len(pts)), make([]float64, len(pts)), make([]float64, k*len(pts))
	for i, q := range pts {
		d := f.Partials(q, rows[k*i:k*i+k])
		e[i], feet[i] = d/sigma, q.Sub(f.anchor()).Sub(f.NormalAt(q).Mul(d))
	}
	lo, hi := geom.Bounds(feet)
	for side := hi.Sub(lo).Norm() / firstCells; ; side *= cellStep {
		p := noise.Patch{Width: side, Height: side, Y: make([][]float64, 1)}
		at := map[[3]int]int{}
		for i, foot := range feet {
			// Borders are off the middle, where symmetric surfaces would lie on them.
			cell := foot.Mul(1 / side).Add(border)
			key := [3]int{int(math.Floor(cell.X)), int(math.Floor(cell.Y)), int(math.Floor(cell.Z))}
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
