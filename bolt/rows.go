package bolt

import "math"

// A wall shows more of its noise than the means over its depth do: how its rows differ
// tells the lengths of what hangs together. So likelihoods look at two more series of
// each wall: the slopes and the bows of its bins over the depth,
//
//	y = Σ p_i y_i / rows,   p_i the polynomial of first or second degree over the
//	                        rows that is orthogonal to those before, Σ p_i² = rows
//
// from each of which the three that a circle would take out are taken too: a wall that
// leans, tapers or bulges is no noise. The three series are taken for independent. (Slope
// and mean are, and slope and bow; the mean and the bow nearly.)

// rowSeries is the slope, or the bow, of a wall's bins.
type rowSeries struct {
	*binned
	poly   []float64 // p_i / rows
	height float64   // of a row, mm
}

// leastRows is the number of rows of which slopes and bows are looked at.
const leastRows = 3

// rowSeries returns the slopes and the bows of a wall's bins in which all rows are seen.
func (s arcSeries) rowSeries() []rowSeries {
	if s.rows < leastRows {
		return nil
	}
	var t, y, n [mostBins][mostRows]float64
	for _, c := range s.cells {
		b := min(int(c.theta/(2*math.Pi)*mostBins), mostBins-1)
		t[b][c.row] += c.n * c.theta
		y[b][c.row] += c.n * c.y
		n[b][c.row] += c.n
	}
	var out []rowSeries
	for _, p := range polynomials(s.rows) {
		q := arcSeries{radius: s.radius, depth: s.depth}
		for b := range n {
			var theta, sum, mean, white float64
			seen := true
			for i, w := range p {
				seen = seen && n[b][i] > 0
				theta += t[b][i]
				sum += n[b][i]
				mean += w * y[b][i] / n[b][i]
				white += w * w / n[b][i]
			}
			if seen {
				q.theta, q.y, q.n = append(q.theta, theta/sum), append(q.y, mean), append(q.n, 1/white)
			}
		}
		if len(q.y) >= 5 {
			out = append(out, rowSeries{q.bins(), p, s.depth / float64(s.rows)})
		}
	}
	return out
}

// polynomials are those of first and second degree over rows, orthogonal to a
// constant and to each other, with a sum of squares of 1/rows.
func polynomials(rows int) [2][]float64 {
	n := float64(rows)
	var out [2][]float64
	var square [2]float64
	for i := range rows {
		z := float64(i) - (n-1)/2
		for k, v := range [2]float64{z, z*z - (n*n-1)/12} {
			out[k] = append(out[k], v)
			square[k] += v * v
		}
	}
	for k, p := range out {
		for i := range p {
			p[i] /= math.Sqrt(n * square[k])
		}
	}
	return out
}

// turns is kernel.turns for what r is a series of, of rows laid out by layRows.
func (r rowSeries) turns(rows []turns) turns {
	var out turns
	for i, p := range r.poly {
		for j, q := range r.poly {
			t := &rows[max(i-j, j-i)]
			for k := range out {
				out[k] += p * q * t[k]
			}
		}
	}
	return out
}

// layRows lays the kernel out over a wall: the covariance of two cells of so many bins'
// width and the height given by the angle between them, of rows 0, 1, ... apart.
func (k kernel) layRows(radius, height float64, rows, bins int) []turns {
	out := make([]turns, rows)
	for lag := range out {
		out[lag] = layTurns(radius, bins, func(across float64) float64 { return k.rowsAt(across, height, lag) })
	}
	return out
}
