package hole

import (
	"cmp"
	"math"
	"slices"
)

// Evidence is what a scan shows about one place of a face.
type Evidence struct {
	Pts     [][2]float64 // of the walls there, or of the edge where the surface turns down
	Rim     bool         // Pts are of an edge
	Drawn   bool         // the mesh of a drawing, in which nothing is hidden
	Pieces  int          // of a circle that are looked at; zero means 72
	Cover   *Cover
	Spacing float64 // between the scan's points, mm
	Noise   float64 // standard deviation of a piece of the boundary, mm
}

// Opening is an outline that explains what a scan shows.
type Opening struct {
	Outline
	Kind  Kind
	Gain  float64    // over no outline, less what its numbers cost, nats
	Shown [4]float64 // of a slot's ends and flanks, or a rectangle's sides, the share seen, half where but the face is
	Arc   float64    // of the outline where the boundary is seen, rad of a circle B wide
}

// what one piece of an outline shows.
type piece int

const (
	unseen piece = iota
	boundary
	faced // the face comes up to it
	off   // boundary or face where the outline has none
)

// evidence a sample of which is enough to compare outlines by.
const enoughPoints = 800

// Explain returns the outline that explains the evidence best, begun at starts. ok is
// false where none does, or where it shows too little of itself; then the
// Opening is the best there is.
func (ev Evidence) Explain(starts ...Outline) (best Opening, ok bool) {
	if n := len(ev.Pts); n > enoughPoints {
		some := make([][2]float64, enoughPoints)
		for k := range some {
			some[k] = ev.Pts[k*n/enoughPoints]
		}
		ev.Pts = some
	}
	best.Gain = math.Inf(-1)
	try := func(k Kind, starts ...Outline) (better Opening) {
		better.Gain = math.Inf(-1)
		for _, s := range starts {
			if k == Round {
				s.A, s.C = s.B, s.B
			} else if k == Slot {
				s.C = s.B
			}
			sigma := ev.sigma(s.B)
			o, _, fits := s.Fit(k, ev.Pts, wide*s.B+2*ev.Spacing, sigma/4, comparedSettled*sigma)
			if !fits {
				continue
			}
			if p := ev.judge(o, k); p.Gain > better.Gain && p.itself(ev.sigmaOfAll(o.B)) {
				better = p
			}
		}
		if better.Gain > best.Gain {
			best = better
		}
		return better
	}
	round := try(Round, starts...)
	if round.Gain > 0.95*(onOutline*piecesOfCircle-3*perNumber) {
		return best, true
	}
	long := starts
	if round.Kind == Round {
		end := round.complete(ev.Rim) && round.Arc < mostOfEnd
		long = append(slices.Clone(starts), ev.slots(round.Outline, end)...)
	}
	slot := try(Slot, long...)
	if slot.Gain < 0.9*onOutline*slot.Perimeter()/(2*math.Pi*slot.B)*piecesOfCircle || slot.Kind == "" {
		var turned []Outline
		for _, s := range starts {
			turned = append(turned, ev.rectangles(s)...)
		}
		try(Rectangle, turned...)
	}
	return best, best.complete(ev.Rim)
}

// Placed moves a circle of known radius, about whose place a hole is expected, to the
// points within band of it. ok is false where too little of it is seen, or where the face
// is seen in it. scale is that of the points, at least floor.
func (ev Evidence) Placed(c Outline, band, floor float64) (o Opening, scale float64, ok bool) {
	at, scale, ok := c.Fit(placed, ev.Pts, band, floor, Settled*c.B)
	if !ok {
		return o, scale, false
	}
	o = ev.judge(at, Round)
	known := o.Gain + perNumber*float64(numbers[Round])
	return o, scale, known >= needsPlaced && o.Arc >= leastPlaced && math.Hypot(at.X-c.X, at.Y-c.Y) <= MostMisplaced*c.B
}

// sigma is the standard deviation of a piece of the boundary of an opening half as wide as b.
// A wall reads wide or narrow as a whole, and its pieces with it.
func (ev *Evidence) sigma(b float64) float64 {
	if !ev.Rim {
		return ev.sigmaOfAll(b)
	}
	return math.Hypot(ev.Noise, formShare*b)
}

// sigmaOfAll is the same for what all pieces say together: those of a small opening share
// their noise, so that fewer count.
func (ev *Evidence) sigmaOfAll(b float64) float64 {
	shared := piecesOfCircle * sharedAlong * ev.Spacing / (2 * math.Pi * b)
	return math.Hypot(ev.Noise*math.Sqrt(max(1, shared)), formShare*b)
}

// itself reports whether an outline differs from those of fewer numbers by more than the
// form of a drilled hole, and from a circle by more than its boundary scatters.
func (o *Opening) itself(sigma float64) bool {
	long := o.A-o.B > max(leastLonger*o.B, surelyLonger*sigma)
	switch o.Kind {
	case Slot:
		return long
	case Rectangle:
		return o.B-o.C > leastSquarer*o.B && (long || o.B-o.C > surelySquarer*sigma)
	}
	return true
}

// complete reports whether an opening gains enough, and shows what distinguishes it.
func (o *Opening) complete(rim bool) bool {
	need := needsWall
	if rim {
		need = needsRim
	}
	if !(o.Gain+3*perNumber >= need) {
		return false
	}
	if o.Kind == Round {
		return o.Arc >= leastArc
	}
	for _, s := range o.Shown {
		if s < leastShown {
			return false
		}
	}
	return true
}

// judge returns the outline with what it gains.
func (ev *Evidence) judge(o Outline, k Kind) Opening {
	r := Opening{Outline: o, Kind: k, Gain: -perNumber * float64(numbers[k])}
	p := o.Perimeter()
	n := min(int(float64(cmp.Or(ev.Pieces, 3*piecesOfCircle))*p/(2*math.Pi*o.B)+0.5), 1000)
	weight := p / (2 * math.Pi * o.B) * piecesOfCircle / float64(n)
	seen, gain := ev.pieces(o, n)
	var of, shown [4]float64
	for i, s := range seen {
		r.Gain += weight * gain[i]
		u, v, nu, _ := o.at((float64(i) + 0.5) * p / float64(n))
		side := 0
		if k == Rectangle && math.Abs(nu) < math.Sqrt2/2 || k == Slot && math.Abs(u) < o.A-o.C {
			side = 2
			if v < 0 {
				side = 3
			}
		} else if u < 0 {
			side = 1
		}
		of[side]++
		switch s {
		case faced:
			shown[side] += 0.5
		case boundary:
			shown[side]++
			r.Arc += 2 * math.Pi * weight / piecesOfCircle
		}
	}
	for i := range of {
		if r.Shown[i] = 1; of[i] > 0 {
			r.Shown[i] = shown[i] / of[i]
		}
	}
	// Where neither boundary nor face is seen for long: what begins there?
	open := func(i int) bool { s := seen[(i+n)%n]; return s == unseen || s == off }
	for i := range n {
		if !open(i) || open(i-1) {
			continue
		}
		length := 1
		for length < n && open(i+length) {
			length++
		}
		if float64(length)*weight/piecesOfCircle < openRun && r.Arc > longOpen {
			continue
		}
		for _, end := range [2][2]int{{i, 1}, {i + length - 1, -1}} {
			if seen[(end[0]-end[1]+n)%n] == boundary && (seen[(end[0]+n)%n] == off || length > 1 && seen[(end[0]+end[1]+n)%n] == off) {
				if r.Gain += goesOn; ev.Rim {
					r.Gain += goesOnRim - goesOn
				}
			}
		}
	}
	if ev.island(&o) {
		r.Gain = math.Inf(-1)
	}
	return r
}

// pieces says of n equal pieces of an outline what the scan shows there, and what the
// outline gains by that.
func (ev *Evidence) pieces(o Outline, n int) ([]piece, []float64) {
	per := o.Perimeter()
	seen, gain := make([]piece, n), make([]float64, n)
	on := make([][]float64, n)
	beyond := make([]float64, n) // distance of the nearest point outside
	within := wide*o.B + 2*ev.Spacing
	own := o.axes()
	for _, p := range ev.Pts {
		u, v := own.local(p)
		e, _, _ := o.off(u, v)
		i := min(int(o.along(u, v)/per*float64(n)), n-1)
		switch {
		case math.Abs(e) <= within:
			on[i] = append(on[i], e)
		case e > 0 && (beyond[i] == 0 || e < beyond[i]):
			beyond[i] = e
		case e < 0:
			on[i] = append(on[i], e)
		}
	}
	sigma := ev.sigma(o.B)
	reach := near*o.B + 2*ev.Spacing
	step := max(ev.Cover.Cell, 0.5*ev.Spacing)
	for i := range n {
		u, v, nu, nv := o.at((float64(i) + 0.5) * per / float64(n))
		covered := func(e float64) bool {
			p := o.Global(u+e*nu, v+e*nv)
			return ev.Cover.Covered(p[0], p[1])
		}
		face := math.Inf(1) // how far out it begins
		for e := -ev.Spacing; e <= max(reach, min(beyond[i], 3*o.B)); e += step {
			if covered(e) {
				face = e
				break
			}
		}
		// What lies beyond where the face begins is another opening's.
		slices.Sort(on[i])
		for len(on[i]) > 0 && on[i][len(on[i])-1] > max(face, 0)+2*ev.Spacing {
			on[i] = on[i][:len(on[i])-1]
		}
		if len(on[i]) > 0 {
			m := on[i][len(on[i])/2]
			lost := min(m*m/(2*sigma*sigma), mostOff)
			if gain[i] = onOutline - lost; ev.Rim && face > reach+2*ev.Spacing {
				gain[i] = min(gain[i], 0) // no edge of this face
			}
			seen[i] = boundary
			if lost > onOutline {
				seen[i] = off
			}
			continue
		}
		inside := false
		for e := -max(2*ev.Spacing, 3*sigma); e > -o.B/2 && !inside; e -= step {
			inside = covered(e)
		}
		switch {
		case inside || beyond[i] > 0 && beyond[i] < 3*o.B && face > beyond[i]:
			seen[i], gain[i] = off, onOutline-mostOff
		case face <= reach:
			seen[i], gain[i] = faced, faceMeets
		case ev.Drawn:
			seen[i], gain[i] = off, onOutline-mostOff
		case ev.Rim:
			gain[i] = nothingAtRim
		default:
			gain[i] = nothingSeen
		}
	}
	return seen, gain
}

// island reports whether the face lies in the middle of an outline: it is a groove.
func (ev *Evidence) island(o *Outline) bool {
	n, in := 0, 0
	for i := range 36 {
		u, v, _, _ := o.at(float64(i) / 36 * o.Perimeter())
		for _, f := range [4]float64{0.05, 0.3, 0.5, 0.7} {
			n++
			if p := o.Global(f*u, f*v); ev.Cover.Covered(p[0], p[1]) {
				in++
			}
		}
	}
	cell := ev.Cover.Cell * ev.Cover.Cell / (math.Pi * o.A * o.B) // of a cloud it is large
	return float64(in) > (mostIsland+2*cell)*float64(n)
}

// slots returns slots that have a circle in their middle, or as one end: the best few of
// many.
func (ev *Evidence) slots(c Outline, end bool) (out []Outline) {
	var all []Opening
	for k := range 24 {
		o := c
		o.Angle = float64(k) * math.Pi / 12
		if k < 12 {
			o.A, o.B, o.C = 1.2*c.B, 0.9*c.B, 0.9*c.B
			all = append(all, ev.judge(o, Slot))
		}
		for _, half := range [2]float64{0.7, 2} {
			if !end {
				break
			}
			m := o.Global(half*c.B, 0)
			all = append(all, ev.judge(Outline{m[0], m[1], o.Angle, c.B + half*c.B, c.B, c.B}, Slot))
		}
	}
	slices.SortStableFunc(all, func(p, q Opening) int { return cmp.Compare(q.Gain, p.Gain) })
	for _, o := range all[:3] {
		out = append(out, o.Outline)
	}
	return out
}

// rectangles returns rectangles about the middle of s, each as large as the points that
// lie along its axes say.
func (ev *Evidence) rectangles(s Outline) []Outline {
	var out []Outline
	turns := 6
	if s.A > 1.2*s.B {
		turns = 1
	}
	for k := range turns {
		o := s
		o.Angle += float64(k) * math.Pi / 12
		var side [4][]float64
		for _, p := range ev.Pts {
			u, v := o.local(p)
			switch {
			case math.Abs(s.Off(p)) > s.B/2:
			case math.Abs(u)/s.A > 1.5*math.Abs(v)/s.B:
				i := 0
				if u < 0 {
					i = 1
				}
				side[i] = append(side[i], math.Abs(u))
			case math.Abs(v)/s.B > 1.5*math.Abs(u)/s.A:
				i := 2
				if v < 0 {
					i = 3
				}
				side[i] = append(side[i], math.Abs(v))
			}
		}
		var at [4]float64
		for i := range side {
			if len(side[i]) < 3 {
				return out
			}
			slices.Sort(side[i])
			at[i] = side[i][len(side[i])/2]
		}
		m := o.Global((at[0]-at[1])/2, (at[2]-at[3])/2)
		o.X, o.Y, o.A, o.B = m[0], m[1], (at[0]+at[1])/2, (at[2]+at[3])/2
		if o.A < o.B {
			o.A, o.B, o.Angle = o.B, o.A, o.Angle+math.Pi/2
		}
		o.C = 0.6 * o.B
		out = append(out, o)
	}
	return out
}
