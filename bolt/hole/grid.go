package hole

import "math"

// Grid finds points of a plane by square cells.
type Grid struct {
	x0, y0, cell float64
	nx, ny       int
	start        []int32 // of each cell in item, and the end
	item         []int32
	place        func(i int32) [2]float64
}

// NewGrid sorts n points, whose places are given, into cells, at most some 4 million.
func NewGrid(n int, place func(i int32) [2]float64, cell float64) Grid {
	g := frameOf(n, place, cell)
	g.start = make([]int32, g.nx*g.ny+1)
	for i := range int32(n) {
		g.start[g.at(place(i))+1]++
	}
	for c := 1; c < len(g.start); c++ {
		g.start[c] += g.start[c-1]
	}
	next := append([]int32(nil), g.start[:len(g.start)-1]...)
	g.item = make([]int32, n)
	for i := range int32(n) {
		c := g.at(place(i))
		g.item[next[c]] = i
		next[c]++
	}
	return g
}

// frameOf returns the cells about points, one at least, without the points in them.
func frameOf(n int, place func(i int32) [2]float64, cell float64) Grid {
	g := Grid{place: place, x0: math.Inf(1), y0: math.Inf(1)}
	x1, y1 := math.Inf(-1), math.Inf(-1)
	for i := range int32(n) {
		p := place(i)
		g.x0, x1 = min(g.x0, p[0]), max(x1, p[0])
		g.y0, y1 = min(g.y0, p[1]), max(y1, p[1])
	}
	if n == 0 {
		g.x0, g.y0, x1, y1 = 0, 0, 0, 0
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

// Box calls do for each point of the cells that a box about (x, y) meets, rx and ry to
// either side: for all in the box and some round it.
func (g *Grid) Box(x, y, rx, ry float64, do func(i int32)) {
	ix0 := max(int(math.Floor((x-rx-g.x0)/g.cell)), 0)
	ix1 := min(int(math.Floor((x+rx-g.x0)/g.cell)), g.nx-1)
	iy0 := max(int(math.Floor((y-ry-g.y0)/g.cell)), 0)
	iy1 := min(int(math.Floor((y+ry-g.y0)/g.cell)), g.ny-1)
	for iy := iy0; iy <= iy1; iy++ {
		for ix := ix0; ix <= ix1; ix++ {
			c := iy*g.nx + ix
			for _, i := range g.item[g.start[c]:g.start[c+1]] {
				do(i)
			}
		}
	}
}

// Within calls do for each point not farther than r from (x, y).
func (g *Grid) Within(x, y, r float64, do func(i int32)) {
	g.Box(x, y, r, r, func(i int32) {
		p := g.place(i)
		if dx, dy := p[0]-x, p[1]-y; dx*dx+dy*dy <= r*r {
			do(i)
		}
	})
}
