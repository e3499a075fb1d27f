package bolt

import (
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// spot is a hole as the search for bolt circles sees it, on one sheet.
type spot struct {
	x, y, r float64
	vr      float64       // variance of r, mm²
	cov     [2][2]float64 // of the centre, mm²
}

// found is a bolt circle among spots.
type found struct {
	member  []int // of the spots
	x, y, r float64
	nominal Nominal
	chance  float64 // expected number of such circles among holes put anywhere
}

// sameDiameter is the share by which diameters of one pattern may differ.
const sameDiameter = 0.04

// findCircles divides spots into bolt circles, best first; what stands in none
// stays single. Holes of one circle have the same diameter within sameDiameter
// or three standard uncertainties, lie on a circle, and make a regular
// pattern, or are so many on one circle that it is not chance. Most holes win,
// then the wider circle.
//
// A circle is kept if holes put anywhere would show one like it in fewer than
// one part in fifty: an a contrario test (Desolneux, Moisan and Morel, From gestalt
// theory to image analysis, 2008, chapter 3) over all choices of holes.
func findCircles(spots []spot) []found {
	var out []found
	left := make([]int, len(spots))
	for i := range left {
		left[i] = i
	}
	for len(left) >= 3 {
		best, ok := bestCircle(spots, left)
		if !ok {
			break
		}
		out = append(out, best)
		left = slices.DeleteFunc(left, func(i int) bool { return slices.Contains(best.member, i) })
	}
	return out
}

// radialTolerance is how far off its pitch circle a hole may stand and still
// belong to it, mm.
func radialTolerance(r, sd float64) float64 { return max(0.3+0.003*r, 4*sd) }

func bestCircle(spots []spot, left []int) (found, bool) {
	var best found
	have := false
	tried := map[string]bool{}
	for _, seed := range left {
		var like []int
		for _, j := range left {
			d := math.Abs(spots[j].r - spots[seed].r)
			if d <= max(sameDiameter*spots[seed].r, 3*math.Sqrt(spots[seed].vr+spots[j].vr)) {
				like = append(like, j)
			}
		}
		if len(like) < 3 {
			continue
		}
		if key := fmt.Sprint("of", like); tried[key] {
			continue
		} else {
			tried[key] = true
		}
		for a := range like {
			for b := a + 1; b < len(like); b++ {
				for c := b + 1; c < len(like); c++ {
					if len(like) > 40 && (a+b+c)%((len(like)/40)+1) != 0 {
						continue
					}
					if !mayBeRegular(spots, like[a], like[b], like[c]) {
						continue
					}
					member := onCircle(spots, like, like[a], like[b], like[c])
					if len(member) < 3 || have && len(member) < len(best.member) {
						continue
					}
					key := fmt.Sprint(member)
					if tried[key] {
						continue
					}
					tried[key] = true
					f, ok := judgeCircle(spots, member, len(like))
					if ok && (!have || better(f, best)) {
						best, have = f, true
					}
				}
			}
		}
	}
	return best, have
}

// better orders circles: a regular pattern before none, then most holes, then
// the wider.
func better(a, b found) bool {
	if a.nominal.Irregular != b.nominal.Irregular {
		return !a.nominal.Irregular
	}
	if len(a.member) != len(b.member) {
		return len(a.member) > len(b.member)
	}
	return a.r > b.r*(1+1e-9)
}

// mayBeRegular reports whether three holes may belong to a pattern: some
// spacing, with few places empty, puts all three within some 2 mm along their
// circle. It is there to spare the work on those that cannot.
func mayBeRegular(spots []spot, i, j, k int) bool {
	p, q, r := spots[i], spots[j], spots[k]
	x, y, radius, ok := through([2]float64{p.x, p.y}, [2]float64{q.x, q.y}, [2]float64{r.x, r.y})
	if !ok {
		return false
	}
	at := func(s spot) float64 { return math.Atan2(s.y-y, s.x-x) }
	sd := math.Sqrt(max(p.cov[0][0], q.cov[0][0], r.cov[0][0], p.cov[1][1], q.cov[1][1], r.cov[1][1]))
	tol := (2 + 0.01*radius + 10*sd) / radius
	a, b := wrap(at(q)-at(p)), wrap(at(r)-at(p))
	for m := 3; m <= finestStep; m++ {
		step := 2 * math.Pi / float64(m)
		if step < tol {
			return true // anything fits: let the reading decide
		}
		if math.Abs(a-math.Round(a/step)*step) < tol && math.Abs(b-math.Round(b/step)*step) < tol {
			return true
		}
	}
	for deg := 5.0; deg <= 175; deg += 5 {
		step := deg * math.Pi / 180
		if math.Abs(a-math.Round(a/step)*step) < tol && math.Abs(b-math.Round(b/step)*step) < tol {
			return true
		}
	}
	return false
}

// onCircle returns the spots of like on the circle through i, j and k.
func onCircle(spots []spot, like []int, i, j, k int) []int {
	p, q, r := spots[i], spots[j], spots[k]
	cx, cy, cr, ok := through([2]float64{p.x, p.y}, [2]float64{q.x, q.y}, [2]float64{r.x, r.y})
	if !ok {
		return nil // all but on a line: no bolt circle
	}
	if cr < 1.5*p.r {
		return nil // holes would run into each other
	}
	var member []int
	for _, m := range like {
		s := spots[m]
		if math.Abs(math.Hypot(s.x-cx, s.y-cy)-cr) <= 2*radialTolerance(cr, math.Sqrt(s.cov[0][0]+s.cov[1][1])) {
			member = append(member, m)
		}
	}
	return member
}

// judgeCircle fits the members, drops those off the fitted circle, and reads
// the pattern; n is the number of holes that they were chosen from.
func judgeCircle(spots []spot, member []int, n int) (found, bool) {
	var l laid
	for {
		var err error
		if l, err = layHoles(spotHoles(spots, member)); err != nil {
			return found{}, false
		}
		worst, at := 0.0, -1
		for i := range l.holes {
			c := l.holes[i].CentreCov
			over := math.Abs(l.ring.radial[i]) / radialTolerance(l.ring.r, math.Sqrt(c[0][0]+c[1][1]))
			if over > max(1, worst) {
				worst, at = over, i
			}
		}
		if at < 0 {
			break
		}
		if len(member) == 3 {
			return found{}, false
		}
		id := l.holes[at].ID
		member = slices.DeleteFunc(slices.Clone(member), func(m int) bool { return fmt.Sprint(m) == id })
	}
	k := len(member)
	at := l.flat.at([2]float64{l.ring.x, l.ring.y})
	f := found{member: member, x: at.X, y: at.Y, r: l.ring.r}
	readings := l.readings()
	f.nominal = readings[0]
	// Chance that k holes anywhere lie on a circle, and regularly.
	tol := radialTolerance(f.r, 0)
	f.chance = float64(n-2) * math.Exp(logChoose(n, k)+float64(k-3)*math.Log(min(1, tol/f.r)))
	if !f.nominal.Irregular {
		for _, r := range readings {
			if r.Irregular {
				f.chance *= r.Confidence / priorIrregular / f.nominal.Confidence
			}
		}
	}
	return f, f.chance < 0.02
}

// spotHoles makes Holes of spots, named by their number.
func spotHoles(spots []spot, member []int) []Hole {
	out := make([]Hole, len(member))
	for i, m := range member {
		s := spots[m]
		out[i] = Hole{ID: fmt.Sprint(m), Kind: Round, Centre: r3.Vector{X: s.x, Y: s.y},
			Axis: r3.Vector{Z: 1}, CentreCov: s.cov, Diameter: 2 * s.r}
	}
	return out
}
