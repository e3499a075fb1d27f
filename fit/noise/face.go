package noise

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// Face returns what a face shows of noise about a scale, mm: tiles of cells that all have
// points, the same patch for tiles of one size. pts are places in the face's plane (z is
// not looked at), height their heights over it, area, mm², what they are spread over. The
// face may be bowed: a surface of second degree is taken out of all, a plane of each tile.
func Face(pts []r3.Vector, height []float64, area, scale float64) []Patch {
	if len(pts) < 2*leastTile*leastTile*facePoints || !(area > 0) {
		return nil
	}
	height = unbowed(pts, height)
	side := max(faceCell*scale, math.Sqrt(facePoints*area/float64(len(pts))))
	lo, hi := geom.Bounds(pts)
	cols, rows := int((hi.X-lo.X)/side)+1, int((hi.Y-lo.Y)/side)+1
	if float64(cols)*float64(rows) > 4*float64(len(pts)) {
		return nil // a narrow ring
	}
	sum, n := make([]float64, rows*cols), make([]float64, rows*cols)
	for i, p := range pts {
		at := int((p.Y-lo.Y)/side)*cols + int((p.X-lo.X)/side)
		sum[at] += height[i]
		n[at]++
	}
	var out []Patch
	for size := mostTile; size >= leastTile; size-- {
		p := newTile(size, side)
		for r := 0; r+size <= rows; r++ {
			for c := 0; c+size <= cols; c++ {
				p.addTile(sum, n, r, c, cols, size)
			}
		}
		if len(p.Y) > 0 {
			for i := range p.N {
				p.N[i] = float64(len(p.Y)) / p.N[i]
			}
			out = append(out, p)
		}
	}
	return out
}

// newTile is a tile of cells without residuals.
func newTile(size int, side float64) Patch {
	p := Patch{Axis: r3.Vector{Y: 1}, Width: side, Height: side, N: make([]float64, size*size)}
	for i := range size * size {
		u, v := float64(i%size), float64(i/size)
		p.At = append(p.At, r3.Vector{X: side * u, Y: side * v})
		p.Terms = append(p.Terms, []float64{1, u, v})
	}
	return p
}

// addTile adds the tile at a row and a column, if all its cells have points, and takes
// them. N is the sum of 1/n meanwhile.
func (p *Patch) addTile(sum, n []float64, row, col, cols, size int) {
	y := make([]float64, size*size)
	for i := range y {
		at := (row+i/size)*cols + col + i%size
		if n[at] == 0 {
			return
		}
		y[i] = sum[at] / n[at]
	}
	for i := range y {
		at := (row+i/size)*cols + col + i%size
		p.N[i] += 1 / n[at]
		n[at] = 0
	}
	p.Y = append(p.Y, y)
}

// unbowed returns heights less their least-squares surface of second degree.
func unbowed(pts []r3.Vector, height []float64) []float64 {
	var scale float64
	for _, p := range pts {
		scale = max(scale, math.Abs(p.X-pts[0].X), math.Abs(p.Y-pts[0].Y))
	}
	at := func(p r3.Vector) (u, v float64) { return (p.X - pts[0].X) / scale, (p.Y - pts[0].Y) / scale }
	var sums geom.QuadricSums
	for i, p := range pts {
		u, v := at(p)
		sums.Add(u, v, height[i])
	}
	q, ok := sums.Fit()
	if !ok {
		return height
	}
	out := make([]float64, len(height))
	for i, p := range pts {
		out[i] = height[i] - q.At(at(p))
	}
	return out
}
