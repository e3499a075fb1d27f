package bolt

import "math"

// A wall shows more of its noise than the means over its depth do: how its rows differ
// tells the lengths of what hangs together. So likelihoods look at one more series of
// each wall, the slopes of its bins over the depth,
//
//	y = Σ p_i y_i / rows,   p_i linear over the rows, Σ p_i = 0, Σ p_i² = rows
//
// from which the three that a circle would take out are taken too: a wall that leans or
// tapers is no noise. Slope and mean are independent in noise that is the same at all
// depths. (The bow is not, of the mean; taken for independent it made intervals too short.)

// slopes is the slope of a wall's bins over its depth.
type slopes struct {
	*binned
	line   []float64 // p_i / rows
	height float64   // of a row, mm
}

// leastRows is the number of rows of which slopes are looked at.
const leastRows = 3

// slopes returns the slopes of a wall's bins in which all rows are seen; ok is false
// where they are too few to tell anything.
func (s arcSeries) slopes() (out slopes, ok bool) {
	if s.rows < leastRows {
		return out, false
	}
	var t, y, n [mostBins][mostRows]float64
	for _, c := range s.cells {
		b := min(int(c.theta/(2*math.Pi)*mostBins), mostBins-1)
		t[b][c.row] += c.n * c.theta
		y[b][c.row] += c.n * c.y
		n[b][c.row] += c.n
	}
	line := lineOver(s.rows)
	q := arcSeries{radius: s.radius, depth: s.depth}
	for b := range n {
		var theta, sum, mean, white float64
		seen := true
		for i, w := range line {
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
	return slopes{q.bins(), line, s.depth / float64(s.rows)}, len(q.y) >= 5
}

// lineOver is a line over rows, orthogonal to a constant, with a sum of squares of
// 1/rows.
func lineOver(rows int) []float64 {
	n := float64(rows)
	line := make([]float64, rows)
	for i := range line {
		line[i] = (float64(i) - (n-1)/2) / math.Sqrt(n*n*(n*n-1)/12)
	}
	return line
}

// turns is kernel.turns of slopes, of rows laid out by layRows.
func (s slopes) turns(rows []turns) turns {
	var out turns
	for i, p := range s.line {
		for j, q := range s.line {
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
