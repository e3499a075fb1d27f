package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// cylinderStart finds a cylinder on a sample of c, its axis square to a
// direction unless that is zero.
func cylinderStart(c *cloud, square r3.Vector, opt Options) (*cylinderModel, int, error) {
	small := c.sample(600)
	var g moments
	g.add(small)
	_, dir, val := principal(small)
	grain := c.grain()
	if val[1] <= 64*grain*grain {
		return nil, 0, degenerate("cylinder", "all points are on one line; a cylinder needs points beside it")
	}
	if val[0] <= 64*grain*grain {
		return nil, 0, degenerate("cylinder", "all points are on one plane; a cylinder needs points off it")
	}
	score := func(w r3.Vector) float64 {
		m, _ := g.circleMatrix(w)
		return leastEigen(&m, 3)
	}
	var field []runner[*cylinderModel]
	var starts []candidate
	if square == (r3.Vector{}) {
		starts = axisStarts(score, dir[:], fineStep(val), 16)
	} else {
		starts = squareStarts(score, square)
	}
	for _, st := range starts {
		a, b, d, _ := g.taubinAbout(st.w)
		for _, at := range c.holdRadius([]arc{arcOf(a, b, d, st.w)}, opt.Radius) {
			field = append(field, runner[*cylinderModel]{m: &cylinderModel{cur: at, holdR: opt.Radius > 0, square: square}})
		}
	}
	field = race(field, small, opt.MaxIter)
	if len(field) == 0 {
		return nil, 0, degenerate("cylinder", "no cylinder near the points")
	}
	return field[0].m, field[0].iters, nil
}

// squareStarts are the directions square to d at which score is least among
// their neighbours, on half a turn in steps of 1.5 degrees.
func squareStarts(score func(w r3.Vector) float64, d r3.Vector) []candidate {
	const steps = 120
	e1, e2 := Frame(d)
	var ring [steps]candidate
	for i := range ring {
		s, c := math.Sincos(math.Pi * float64(i) / steps)
		w := e1.Mul(c).Add(e2.Mul(s))
		ring[i] = candidate{w, score(w)}
	}
	var out []candidate
	for i, g := range ring {
		if g.ms <= ring[(i+1)%steps].ms && g.ms <= ring[(i+steps-1)%steps].ms {
			out = append(out, g)
		}
	}
	return out
}
