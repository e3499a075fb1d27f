package pattern

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"github.com/golang/geo/s1"
)

// Circle is a hole of a plate that carries two patterns, mm, about the centre that one
// pattern turns about: seen from one side, so that of a mating face x is mirrored.
type Circle struct {
	XY     [2]float64
	Radius float64
}

// Edge is the material, mm, between a hole and a round outline of the given radius about
// the centre: negative where the hole cuts the outline.
func (c Circle) Edge(outline float64) float64 {
	return outline - math.Hypot(c.XY[0], c.XY[1]) - c.Radius
}

// Web is a turn at which the least material between two patterns is greatest nearby.
type Web struct {
	// Turn of the second pattern about the centre, in [-π, π].
	Turn s1.Angle
	// Least is the least material, mm, between the edges of a hole of the first pattern
	// and one of the second, and Pair these two. Negative: they overlap.
	Least float64
	Pair  [2]int
}

// gap is the material between two holes by the turn: least at turn = at, from where it
// rises for half a turn either way, unless one of the holes is at the centre.
type gap struct {
	pair            [2]int
	at              float64
	radial, product float64 // difference and product of their distances from the centre
	radii           float64
}

func (g gap) of(turn float64) float64 {
	return math.Hypot(g.radial, 2*math.Sqrt(g.product)*math.Sin((turn-g.at)/2)) - g.radii
}

// Clock returns the turns of pattern b, about the centre that both are given about, that
// keep most material between its holes and those of pattern a: every local maximum of the
// least web, the greatest first, of equal ones the smallest turn. Of n equal turns of a
// full ring all n are returned. Webs within one pattern do not depend on the turn and are
// not looked at. It is an error if a pattern is empty.
//
// Between neighbouring turns at which any pair is nearest or farthest each web only rises
// or only falls. The least of the rising ones rises, the least of the falling ones falls,
// so the one maximum there is where they cross or at an end.
func Clock(a, b []Circle) ([]Web, error) {
	if len(a) == 0 || len(b) == 0 {
		return nil, errors.New("clock: both patterns need at least one hole")
	}
	var gaps, turning []gap
	var ends []float64
	for i, p := range a {
		for j, q := range b {
			u, v := math.Hypot(p.XY[0], p.XY[1]), math.Hypot(q.XY[0], q.XY[1])
			at := math.Atan2(p.XY[1], p.XY[0]) - math.Atan2(q.XY[1], q.XY[0])
			gaps = append(gaps, gap{[2]int{i, j}, at, u - v, u * v, p.Radius + q.Radius})
			if u*v > 0 {
				turning = append(turning, gaps[len(gaps)-1])
				ends = append(ends, math.Remainder(at, 2*math.Pi), math.Remainder(at+math.Pi, 2*math.Pi))
			}
		}
	}
	round := func(x float64) float64 { return math.Round(x / gapTolerance) }
	least := func(turn float64) Web {
		g := slices.MinFunc(gaps, func(g, h gap) int {
			return cmp.Compare(round(g.of(turn)), round(h.of(turn)))
		})
		return Web{s1.Angle(math.Remainder(turn, 2*math.Pi)), g.of(turn), g.pair}
	}
	slices.Sort(ends)
	ends = slices.CompactFunc(ends, func(a, b float64) bool { return math.Abs(a-b) < sameTurn })
	n := len(ends)
	if n == 0 {
		return []Web{least(0)}, nil
	}
	if n > 1 && ends[0]+2*math.Pi-ends[n-1] < sameTurn {
		n--
	}
	// room is how much more material the least falling web has than the least rising one,
	// by what each does at within.
	room := func(turn, within float64) float64 {
		rising, falling := math.Inf(1), math.Inf(1)
		for _, g := range turning {
			if math.Sin(within-g.at) > 0 {
				rising = min(rising, g.of(turn))
			} else {
				falling = min(falling, g.of(turn))
			}
		}
		return falling - rising
	}
	end := func(k int) float64 { return ends[k%n] + float64(k/n)*2*math.Pi }
	tops := make([]float64, n+1) // the best turn of each interval
	for k := range n {
		lo, middle := end(k), (end(k)+end(k+1))/2
		for tops[k] = end(k + 1); tops[k]-lo > sameTurn; {
			if turn := (lo + tops[k]) / 2; room(turn, middle) > 0 {
				lo = turn
			} else {
				tops[k] = turn
			}
		}
	}
	tops[n] = tops[0] + 2*math.Pi
	var out []Web
	for k, turn := range tops[:n] {
		// A top at the end of its interval is a maximum if the next one's is there, too.
		if turn-end(k) < 2*sameTurn || end(k+1)-turn < 2*sameTurn && tops[k+1]-end(k+1) > 2*sameTurn {
			continue
		}
		out = append(out, least(turn))
	}
	slices.SortFunc(out, func(a, b Web) int {
		x, y := math.Abs(a.Turn.Radians()), math.Abs(b.Turn.Radians())
		return cmp.Or(cmp.Compare(round(b.Least), round(a.Least)),
			cmp.Compare(round(x), round(y)), cmp.Compare(b.Turn, a.Turn))
	})
	return out, nil
}
