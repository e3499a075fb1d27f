package bolt

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"spotface/bolt/hole"
)

// series is what the residuals of an outline look like round it.
type series struct {
	of     hole.Outline
	kind   hole.Kind
	depth  float64   // of the wall that each bin is the mean of, mm; 0: a rim
	height float64   // of its middle over the face, mm
	theta  []float64 // mean turn of each bin's points round the outline, rad
	y      []float64 // mean residual, outwards, mm
	n      []float64 // points
	rows   int       // of a wall's cells; 0: a rim
	cells  []cell    // of a wall, row by row
}

// cell is one row's part of a bin of a wall.
type cell struct {
	theta, y, n float64 // as a bin's
	row         int     // from the bottom
}

// radius is that of a circle as long as the outline.
func (s *series) radius() float64 { return s.of.Perimeter() / (2 * math.Pi) }

// newSeries bins the residuals of pts from the outline fitted to them.
//
// A bin's residual is the location of its points by Tukey's biweight at the
// outline's scale (Huber, Robust Statistics, 1981, section 3.2), which is not drawn
// to the outline where all of a bin's points are shifted together. n is the sum of
// their weights. Without a scale all points count alike.
func newSeries(pts [][2]float64, k hole.Kind, d disc) series {
	s := series{of: d.Outline, kind: k}
	for _, c := range cellsOf(pts, make([]int, len(pts)), 1, arcBins, d) {
		s.theta, s.y, s.n = append(s.theta, c.theta), append(s.y, c.y), append(s.n, c.n)
	}
	return s
}

// newWallSeries is newSeries of a wall, whose points lie at the given heights. Its
// depth is that over which points of their standard deviation are spread evenly; a wall
// whose points lie all at one height is a rim.
func newWallSeries(pts [][2]float64, height []float64, k hole.Kind, d disc) series {
	s := newSeries(pts, k, d)
	mean, sd := stat.PopMeanStdDev(height, nil)
	if !(sd > 0) || len(s.theta) == 0 {
		return s // all at one height: as a rim
	}
	s.depth = math.Sqrt(12) * sd
	s.height = mean
	lo := mean - s.depth/2
	// About square cells, of some points each.
	s.rows = min(int(s.depth/(d.Perimeter()/arcBins)+0.5), len(pts)/(cellPoints*len(s.theta)), mostRows)
	s.rows = max(s.rows, 1)
	row := make([]int, len(pts))
	for i, h := range height {
		row[i] = min(max(int(float64(s.rows)*(h-lo)/s.depth), 0), s.rows-1)
	}
	s.cells = cellsOf(pts, row, s.rows, noiseBins, d)
	return s
}

// cellsOf is newSeries row by row.
func cellsOf(pts [][2]float64, row []int, rows, bins int, d disc) []cell {
	count := rows * bins
	t, e, n, at := make([]float64, count), make([]float64, count), make([]float64, count), make([]float64, count)
	bin := make([]int, len(pts))
	res := make([]float64, len(pts))
	ang := make([]float64, len(pts))
	for i, p := range pts {
		ang[i], res[i] = d.Foot(p)
		bin[i] = row[i]*bins + min(int(ang[i]/(2*math.Pi)*float64(bins)), bins-1)
	}
	for round := range 12 {
		clear(t)
		clear(e)
		clear(n)
		for i, b := range bin {
			w := 1.0
			if d.scale > 0 {
				u := (res[i] - at[b]) / (hole.Tuning * d.scale)
				if u <= -1 || u >= 1 {
					continue
				}
				w = (1 - u*u) * (1 - u*u)
			}
			t[b] += w * ang[i]
			e[b] += w * res[i]
			n[b] += w
		}
		move := 0.0
		for b := range n {
			if n[b] > 0 {
				m := e[b] / n[b]
				move = max(move, math.Abs(m-at[b]))
				at[b] = m
			}
		}
		if d.scale == 0 || round > 0 && move < 1e-4*d.scale {
			break
		}
	}
	var out []cell
	for b := range n {
		if n[b] > 0 {
			out = append(out, cell{theta: t[b] / n[b], y: at[b], n: n[b], row: b / bins})
		}
	}
	return out
}

// median returns the middle value of v, the lower of two; 0 of none.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(v))
	return s[(len(s)-1)/2]
}
