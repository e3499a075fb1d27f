package hole

import "math"

// Grid finds points of a sheet by square cells.
type Grid struct {
	x0, y0, cell float64
	nx, ny       int
	start        []int32 // of each cell in item, and the end
	item         []int32
	pts          [][2]float64
}

// NewGrid sorts pts into cells, at most some 4 million of them.
func NewGrid(pts [][2]float64, cell float64) Grid {
	if len(pts) == 0 {
		return Grid{cell: cell, start: []int32{0}}
	}
	g := frameOf(pts, cell)
	g.start = make([]int32, g.nx*g.ny+1)
	for _, p := range pts {
		g.start[g.at(p)+1]++
	}
	for c := 1; c < len(g.start); c++ {
		g.start[c] += g.start[c-1]
	}
	next := append([]int32(nil), g.start[:len(g.start)-1]...)
	g.item = make([]int32, len(pts))
	for i, p := range pts {
		c := g.at(p)
		g.item[next[c]] = int32(i)
		next[c]++
	}
	return g
}

// frameOf returns the cells about pts, one at least, without the points in them.
func frameOf(pts [][2]float64, cell float64) Grid {
	g := Grid{pts: pts, x0: math.Inf(1), y0: math.Inf(1)}
	x1, y1 := math.Inf(-1), math.Inf(-1)
	for _, p := range pts {
		g.x0, x1 = min(g.x0, p[0]), max(x1, p[0])
		g.y0, y1 = min(g.y0, p[1]), max(y1, p[1])
	}
	g.cell = max(cell, math.Sqrt((x1-g.x0)*(y1-g.y0)/4e6), max(x1-g.x0, y1-g.y0)/1e6, 1e-9)
	g.nx, g.ny = int((x1-g.x0)/g.cell)+1, int((y1-g.y0)/g.cell)+1
	return g
}

func (g *Grid) at(p [2]float64) int {
	ix := min(max(int((p[0]-g.x0)/g.cell), 0), g.nx-1)
	iy := min(max(int((p[1]-g.y0)/g.cell), 0), g.ny-1)
	return iy*g.nx + ix
}

// Filled is the number of cells that hold a point, and Cell their edge, mm.
func (g *Grid) Filled() (n int, cell float64) {
	for c := 1; c < len(g.start); c++ {
		if g.start[c] > g.start[c-1] {
			n++
		}
	}
	return n, g.cell
}

// Within calls do for each point not farther than r from (x, y).
func (g *Grid) Within(x, y, r float64, do func(i int32)) {
	if len(g.item) == 0 {
		return
	}
	ix0 := max(int(math.Floor((x-r-g.x0)/g.cell)), 0)
	ix1 := min(int(math.Floor((x+r-g.x0)/g.cell)), g.nx-1)
	iy0 := max(int(math.Floor((y-r-g.y0)/g.cell)), 0)
	iy1 := min(int(math.Floor((y+r-g.y0)/g.cell)), g.ny-1)
	for iy := iy0; iy <= iy1; iy++ {
		for ix := ix0; ix <= ix1; ix++ {
			c := iy*g.nx + ix
			for _, i := range g.item[g.start[c]:g.start[c+1]] {
				dx, dy := g.pts[i][0]-x, g.pts[i][1]-y
				if dx*dx+dy*dy <= r*r {
					do(i)
				}
			}
		}
	}
}
