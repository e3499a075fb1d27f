package pattern

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/cmplx"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/mesh/geom"
)

// Features are what patterns are sought among: holes, studs and slots of parallel faces,
// laid on one plane.
type Features struct {
	Places
	Size, SizeU []float64 // mm: diameter, or width of a slot, and its standard uncertainty
	Kind        []string  // features of one pattern are of one kind, mostly
	Area        float64   // mm², of where they may lie; 0: that of a box about them
}

// alike reports whether two features are of one kind and size.
func (f *Features) alike(i, j int) bool {
	return f.Kind[i] == f.Kind[j] && math.Abs(f.Size[i]-f.Size[j]) <=
		max(sameSize*min(f.Size[i], f.Size[j]), 3*math.Hypot(f.SizeU[i], f.SizeU[j]))
}

// Found is a pattern among features.
type Found struct {
	Reading
	// Members are the numbers of the features, as Reading lists them: of a ring
	// counter-clockwise, of a grid by rows.
	Members []int
	// Also is the number of the found pattern of which this is another reading (a square
	// is a ring, too), or -1.
	Also int
	// LogOdds is the log of how much more probable the places are by the pattern than by
	// features put anywhere, the number of patterns tried allowed for.
	LogOdds float64
}

// Search finds rings, grids, rectangles and lines, most probable first. A feature belongs
// to one pattern, but for a square of four, which is a ring as well.
//
// Evidence for a ring is equal spacing: any three features, and the corners of every
// rectangle, lie on a circle. A pattern is kept if its members' places are leastOdds
// times as probable by it, averaged over all its places, sizes and turns, as anywhere on
// the area, times the prior of its kind and over the number of ways to choose as many
// features. By Markov's inequality random places show such a pattern with a probability
// of less than 1/leastOdds, however many are tried.
func Search(f Features) []Found {
	s := newSearch(f)
	var out []Found
	taken := make([]bool, len(s.z))
	take := func(found Found) {
		found.Also = -1
		out = append(out, found)
		for _, i := range found.Members {
			taken[i] = true
		}
		out = append(out, s.also(found, len(out)-1)...)
	}
	// Large grids first: what lies on them makes many small rings.
	for _, g := range s.best(s.grids(taken), taken, 10) {
		take(g)
	}
	for {
		all := append(s.rings(taken, out), s.grids(taken)...)
		found := s.best(all, taken, 3)
		if len(found) == 0 {
			return out
		}
		for _, k := range found {
			take(k)
		}
	}
}

// best takes candidates of at least so many members, most probable first, that have no
// member in common with each other. One that lacks members yields to those that share
// its own among them and are together more probable: interleaved rings look like a fine
// one half empty.
func (s *search) best(all []Found, taken []bool, least int) []Found {
	used := slices.Clone(taken)
	slices.SortStableFunc(all, func(a, b Found) int { return cmp.Compare(b.LogOdds, a.LogOdds) })
	all = slices.DeleteFunc(all, func(k Found) bool { return k.LogOdds < logLeastOdds || len(k.Members) < least })
	var out []Found
	for i, k := range all {
		if slices.ContainsFunc(k.Members, func(i int) bool { return used[i] }) {
			continue
		}
		if len(k.Missing) > 0 {
			var parts float64
			outside := make([]bool, len(used))
			for j := range outside {
				outside[j] = !slices.Contains(k.Members, j)
			}
			for _, p := range s.best(slices.Clone(all[i+1:]), outside, 3) {
				parts += p.LogOdds
			}
			if parts > k.LogOdds {
				continue
			}
		}
		for _, i := range k.Members {
			used[i] = true
		}
		out = append(out, k)
	}
	return out
}

type search struct {
	f     Features
	z     []complex128
	class []int   // features of one class have one kind and size
	count []int   // of each class
	area  float64 // mm²
	noise []float64
}

func newSearch(f Features) *search {
	s := &search{f: f, area: f.Area, class: make([]int, len(f.XY)), noise: make([]float64, len(f.XY))}
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for i, p := range f.XY {
		s.z = append(s.z, complex(p[0], p[1]))
		s.noise[i] = f.variance(i)
		for x := range 2 {
			lo[x], hi[x] = min(lo[x], p[x]-f.Size[i]), max(hi[x], p[x]+f.Size[i])
		}
	}
	if s.area == 0 {
		w, h := hi[0]-lo[0], hi[1]-lo[1]
		grow := aroundFeatures * max(w, h)
		s.area = (w + grow) * (h + grow)
	}
	order := Without(len(s.z))
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(f.Kind[a], f.Kind[b]), cmp.Compare(f.Size[a], f.Size[b]))
	})
	first := -1
	for _, i := range order {
		if first < 0 || !f.alike(first, i) {
			first = i
			s.count = append(s.count, 0)
		}
		s.class[i] = len(s.count) - 1
		s.count[len(s.count)-1]++
	}
	return s
}

// near returns for each free feature those that a pattern's next ones are sought among:
// the nearest, of its own class and of all.
func (s *search) near(taken []bool) [][]int {
	out := make([][]int, len(s.z))
	free := slices.DeleteFunc(Without(len(s.z)), func(i int) bool { return taken[i] })
	for _, i := range free {
		order := slices.DeleteFunc(slices.Clone(free), func(j int) bool { return j == i })
		slices.SortStableFunc(order, func(a, b int) int {
			return cmp.Compare(square(s.z[a]-s.z[i]), square(s.z[b]-s.z[i]))
		})
		own := 0
		for k, j := range order {
			if s.class[j] == s.class[i] && own < nearest || k < nearest/2 {
				out[i] = append(out[i], j)
			}
			if s.class[j] == s.class[i] {
				own++
			}
		}
	}
	return out
}

// subset is the log of one over the number of ways to choose the members, of which those
// that are not of the commonest class are unlikely; three that are not alike make no pattern,
// as two holes and the bore between them would.
func (s *search) subset(members []int) float64 {
	in := make([]int, len(s.count))
	for _, i := range members {
		in[s.class[i]]++
	}
	main := 0
	for k := range in {
		if in[k] > in[main] {
			main = k
		}
	}
	rest := len(members) - in[main]
	if len(members) == 3 && rest > 0 {
		return math.Inf(-1)
	}
	return -logChoose(s.count[main], in[main]) - logChoose(len(s.z)-s.count[main], rest) + float64(rest)*math.Log(priorOtherKind)
}

// odds of the members by a reading against places anywhere.
func (s *search) odds(log float64, members []int) float64 {
	return log + s.subset(members) + float64(len(members))*math.Log(s.area)
}

// circle is where a ring may lie.
type circle struct {
	c complex128
	r float64
}

// rings returns the best ring of each set of free features that lie near equal steps
// round a circle: one through three of which one is as far from the second as from the
// third, or about the centre of a ring that is found.
func (s *search) rings(taken []bool, found []Found) []Found {
	t := ringTrial{s: s, best: map[string]Found{}, tried: map[string]bool{}}
	for _, f := range found {
		if g, err := FitRing(s.at(f.Members)); f.Kind == Ring && err == nil {
			for i, z := range s.z {
				if c := complex(g.X, g.Y); !taken[i] {
					h := s.hitsOn(circle{c, cmplx.Abs(z - c)}, taken)
					t.ringsOn(&h, i, nil)
				}
			}
		}
	}
	extent := math.Sqrt(s.area)
	for i, next := range s.near(taken) {
		for k, a := range next {
			for _, b := range next[:k] {
				u := math.Sqrt(s.noise[i] + s.noise[a] + s.noise[b])
				off := math.Abs(cmplx.Abs(s.z[a]-s.z[i]) - cmplx.Abs(s.z[b]-s.z[i]))
				if off > 2*drillSD(2*extent)+seedGate*u {
					continue
				}
				c, r, ok := s.through(a, i, b)
				if ok && r < extent && off < 2*drillSD(2*r)+seedGate*u {
					h := s.hitsOn(circle{c, r}, taken)
					t.ringsOn(&h, i, []int{a, b})
				}
			}
		}
	}
	return t.found()
}

func (s *search) at(members []int) (xy [][2]float64) {
	for _, i := range members {
		xy = append(xy, s.f.XY[i])
	}
	return xy
}

// through returns the circle through three features.
func (s *search) through(i, j, k int) (c complex128, radius float64, ok bool) {
	at := func(i int) r3.Vector { return r3.Vector{X: s.f.XY[i][0], Y: s.f.XY[i][1]} }
	m, radius, ok := geom.Circle(at(i), at(j), at(k))
	return complex(m.X, m.Y), radius, ok
}

// hits are the features on a circle.
type hits struct {
	s     *search
	k     circle
	sd    float64
	on    []int
	theta []float64
}

func (s *search) hitsOn(k circle, taken []bool) hits {
	h := hits{s: s, k: k, sd: drillSD(2 * k.r)}
	for i, z := range s.z {
		// (A hole that reaches the middle is a bore.)
		if d := z - k.c; !taken[i] && s.f.Size[i] < 2*k.r && math.Abs(cmplx.Abs(d)-k.r) < h.gate(i) {
			h.on, h.theta = append(h.on, i), append(h.theta, cmplx.Phase(d))
		}
	}
	return h
}

// gate is how far, mm, a feature may lie off its nominal place.
func (h *hits) gate(i int) float64 { return ringGate * math.Sqrt(h.sd*h.sd+h.s.noise[i]) }

// members returns those near the positions that steps from an anchor lead to, one a
// position, counter-clockwise; m is the number of positions, 0 for part of a ring. Of a
// full ring that lacks one, a feature beside its position fills it.
func (h *hits) members(step float64, m, anchor int, alike bool) []int {
	own := h.s.class[anchor]
	from := cmplx.Phase(h.s.z[anchor] - h.k.c)
	var position, hit []int // hit are of on
	beside := -1
	for i, f := range h.on {
		if alike && h.s.class[f] != own {
			continue
		}
		a := geom.WrapHalf(h.theta[i] - from)
		p := int(math.Round(a / step))
		if off := math.Abs(a-float64(p)*step) * h.k.r; off > min(step*h.k.r/4, h.gate(f)) {
			if h.s.class[f] == own {
				beside = i
			}
			continue
		}
		if m > 0 {
			p = (p + m) % m
		}
		if j := slices.Index(position, p); j < 0 {
			position, hit = append(position, p), append(hit, i)
		} else if h.s.class[h.on[hit[j]]] != own || f == anchor {
			hit[j] = i
		}
	}
	if m > 3 && len(hit) == m-1 && beside >= 0 {
		for p := range m {
			if !slices.Contains(position, p) && math.Abs(geom.WrapHalf(h.theta[beside]-from-float64(p)*step)) < step/2 {
				hit = append(hit, beside)
				break
			}
		}
	}
	slices.SortFunc(hit, func(a, b int) int { return cmp.Compare(geom.Wrap(h.theta[a]), geom.Wrap(h.theta[b])) })
	for k, i := range hit {
		hit[k] = h.on[i]
	}
	return hit
}

// ringTrial holds the best ring of each set of members.
type ringTrial struct {
	s     *search
	best  map[string]Found
	tried map[string]bool
}

func (t *ringTrial) found() (out []Found) {
	for _, key := range slices.Sorted(maps.Keys(t.best)) {
		// (An arc too short for its scatter determines no circle.)
		if _, err := FitRing(t.s.at(t.best[key].Members)); err == nil {
			out = append(out, t.best[key])
		}
	}
	return out
}

// ringsOn tries all steps of a ring on the circle from an anchor, in which the features
// with have their positions.
func (t *ringTrial) ringsOn(h *hits, anchor int, with []int) {
	if len(h.on) < 3 || !slices.Contains(h.on, anchor) {
		return // (a bore is on no ring)
	}
	try := func(step float64, m int) {
		if 2*h.k.r*math.Sin(step/2) < t.s.f.Size[anchor] {
			return // neighbours would run into each other
		}
		for _, i := range with {
			a := geom.WrapHalf(cmplx.Phase(t.s.z[i]-h.k.c) - cmplx.Phase(t.s.z[anchor]-h.k.c))
			if math.Abs(a-step*math.Round(a/step))*h.k.r > seedGate*math.Sqrt(h.sd*h.sd+t.s.noise[i]) {
				return
			}
		}
		for _, alike := range []bool{false, true} {
			if members := h.members(step, m, anchor, alike); len(members) >= 3 {
				t.judge(h.k, members, step, m, anchor)
			}
		}
	}
	for m := 3; m <= finestStep; m++ {
		try(2*math.Pi/float64(m), m)
	}
	for deg := 5; deg <= 120; deg += 5 {
		if 360%deg != 0 {
			try(float64(deg)*math.Pi/180, 0)
		}
	}
}

// judge weighs members as a ring of a step.
func (t *ringTrial) judge(k circle, members []int, step float64, m, anchor int) {
	key := fmt.Sprint(members)
	at := fmt.Sprint(key, step)
	if t.tried[at] {
		return
	}
	t.tried[at] = true
	h := t.s.ringOn(members, k)
	for _, r := range h.stepped(step, m, h.counted(step, m, slices.Index(members, anchor))) {
		odds := t.s.odds(r.log+t.s.bored(k, members), members)
		if have, ok := t.best[key]; !oblong(r.Angles) && odds >= logLeastOdds && (!ok || odds > have.LogOdds) {
			t.best[key] = Found{Reading: r, Members: members, LogOdds: odds}
		}
	}
}

// bored is how much more probable a ring is, as a log, since it says where a hole in its
// middle is that is larger than its own: three holes of part of a ring and the bore would
// pass for a ring of four else.
func (s *search) bored(k circle, members []int) float64 {
	largest := 0.0
	for _, i := range members {
		largest = max(largest, s.f.Size[i])
	}
	best := 0.0
	for i, z := range s.z {
		if s.f.Size[i] <= boreLarger*largest || s.f.Size[i] >= 2*k.r {
			continue
		}
		sd := drillSD(2 * k.r)
		v := sd*sd + s.noise[i]
		best = max(best, math.Log(priorBore*s.area/(2*math.Pi*v))-square(z-k.c)/(2*v))
	}
	return best
}

// oblong reports whether places at these angles are corners of a rectangle that is no
// square, which lie on a circle like those of any.
func oblong(angles []s1.Angle) bool {
	across := 0 // pairs
	even := true
	for i, a := range angles {
		for _, b := range angles[:i] {
			d := math.Abs(geom.WrapHalf((a - b).Radians()))
			if math.Pi-d < 1e-6 {
				across++
			} else if math.Abs(d-math.Pi/2) > 1e-6 {
				even = false
			}
		}
	}
	return !even && (len(angles) == 3 && across == 1 || len(angles) == 4 && across == 2)
}

func (s *search) ringOn(members []int, k circle) *ringOn {
	return newRingOn(s.at(members), k.c, k.r, s.area, usual, func(i int) float64 { return s.noise[members[i]] })
}
