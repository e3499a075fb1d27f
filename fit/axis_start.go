package fit

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// axisGrid is the number of directions tried over half the sphere, about 4.5
// degrees apart.
const axisGrid = 600

// candidate is a direction of an axis and the mean square distance that a
// surface about it would leave, from the moments alone.
type candidate struct {
	w  r3.Vector
	ms float64
}

// axisStarts returns directions at which score is least among their
// neighbours, best first: a Fibonacci lattice over half the sphere (Swinbank &
// Purser, Q. J. R. Meteorol. Soc. 132 (2006) 1769–1793) and the directions
// given, each then walked downhill. A score is a few hundred operations
// whatever the number of points, so trying them all is cheap and misses no
// valley wider than the lattice; valleys that are narrower belong to features
// much longer than wide, whose axis is a principal direction.
func axisStarts(score func(w r3.Vector) float64, extra []r3.Vector, most int) []candidate {
	const golden = 2.399963229728653 // π(3 - √5)
	grid := make([]candidate, axisGrid)
	for i := range grid {
		z := (float64(i) + 0.5) / axisGrid
		r := math.Sqrt(1 - z*z)
		s, c := math.Sincos(golden * float64(i))
		w := r3.Vector{X: r * c, Y: r * s, Z: z}
		grid[i] = candidate{w, score(w)}
	}
	// Neighbours are within twice the mean spacing √(2π/n).
	near := math.Cos(1.9 * math.Sqrt(2*math.Pi/axisGrid))
	var low []candidate
	for i, g := range grid {
		least := true
		for j, h := range grid {
			if j != i && math.Abs(g.w.Dot(h.w)) > near && (h.ms < g.ms || h.ms == g.ms && j < i) {
				least = false
				break
			}
		}
		if least {
			low = append(low, g)
		}
	}
	for _, w := range extra {
		low = append(low, candidate{w, score(w)})
	}
	for i := range low {
		low[i] = descend(score, low[i])
	}
	slices.SortStableFunc(low, func(a, b candidate) int {
		switch {
		case a.ms < b.ms:
			return -1
		case a.ms > b.ms:
			return 1
		}
		return 0
	})
	var out []candidate
	for _, l := range low {
		twice := slices.ContainsFunc(out, func(o candidate) bool { return o.w.Cross(l.w).Norm() < 1e-3 })
		if !twice && len(out) < most {
			out = append(out, l)
		}
	}
	return out
}

// descend walks a direction downhill by a compass search (Kolda, Lewis &
// Torczon, SIAM Review 45 (2003) 385–482, section 1.1).
func descend(score func(w r3.Vector) float64, g candidate) candidate {
	for step := 0.05; step > 1e-3; {
		e1, e2 := Frame(g.w)
		moved := false
		for _, d := range [4]r3.Vector{e1, e2, e1.Mul(-1), e2.Mul(-1)} {
			w := unit(g.w.Add(d.Mul(step)))
			if ms := score(w); ms < g.ms {
				g, moved = candidate{w, ms}, true
				break
			}
		}
		if !moved {
			step /= 2
		}
	}
	return g
}

// cylinderStart finds a cylinder on a sample of c.
func cylinderStart(c *cloud, maxIter int) (*cylinderModel, int, error) {
	small := c.sample(600)
	var g moments
	g.add(small)
	val, dir := g.principal()
	grain := c.grain()
	if val[1] <= 64*grain*grain {
		return nil, 0, degenerate("cylinder", "all points are on one line; a cylinder needs points beside it")
	}
	if val[0] <= 64*grain*grain {
		return nil, 0, degenerate("cylinder", "all points are on one plane; a cylinder needs points off it")
	}
	score := func(w r3.Vector) float64 {
		e1, e2 := Frame(w)
		_, _, _, ms := g.taubin([]r3.Vector{e1, e2})
		return ms
	}
	best := math.Inf(1)
	var m *cylinderModel
	iters := 0
	for _, st := range axisStarts(score, dir[:], 10) {
		e1, e2 := Frame(st.w)
		a, b, d, _ := g.taubin([]r3.Vector{e1, e2})
		t := &cylinderModel{cur: arcOf(a, e1.Mul(b[0]).Add(e2.Mul(b[1])), d, st.w)}
		r := solve(t, small, maxIter)
		if r.f < best {
			best, m, iters = r.f, t, r.iters
		}
	}
	if m == nil {
		return nil, 0, degenerate("cylinder", "no cylinder near the points")
	}
	return m, iters, nil
}
