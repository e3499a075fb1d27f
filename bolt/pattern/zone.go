package pattern

import (
	"math"
	"slices"

	"github.com/golang/geo/s1"
	"gonum.org/v1/gonum/mat"
)

// Zone is how a nominal pattern lies best among places where the farthest counts.
type Zone struct {
	Centre [2]float64 // of the pattern's origin, mm
	Turn   s1.Angle
	// Diameter, mm, is that of the smallest zones, alike about all nominal places, that
	// hold the places: twice the largest distance, less its slack. No turn and shift make it smaller by
	// more than Gap.
	Diameter, Gap float64
	Worst         int // the place that is farthest off
}

// ToZone lays nominal on the places of m, one for each, at a scale, so that the largest
// distance is least (the position of a pattern, ASME Y14.5), its origin held where centre
// says or free. With a free origin it is the problem of Assemble without clearance: the
// linear program bounds what is linear in the turn, and turning by w moves a place at a
// distance q from the middle by q w²/2 more. Any layout that is as good turns by no more
// than w = 2 Diameter/L against this one, with L the largest distance of two places. The
// error is ErrUndetermined.
//
// Slack, mm, is how much each place may lie farther off than the others, as larger holes may
// at maximum material condition: that much less is counted of its distance. Nil is none.
func ToZone(nominal [][2]float64, m Places, scale float64, centre *[2]float64, slack []float64) (Zone, error) {
	n := len(nominal)
	if slack == nil {
		slack = make([]float64, n)
	}
	q := make([][2]float64, n)
	var middle [2]float64
	for i, p := range nominal {
		q[i] = [2]float64{scale * p[0], scale * p[1]}
		for x := range 2 {
			middle[x] += q[i][x] / float64(n)
		}
	}
	if centre != nil {
		return turnedZone(q, m, *centre, slack)
	}
	// About the middle, where turning moves the places least.
	pairs := make([][2]int, n)
	none := make([]float64, n)
	for i := range q {
		q[i][0], q[i][1] = q[i][0]-middle[0], q[i][1]-middle[1]
		pairs[i] = [2]int{i, i}
	}
	s, err := newSeat(Part{Places: m, Clearance: slack},
		Part{Places: Places{XY: q, Cov: mat.NewSymDense(2*n, nil)}, Clearance: none}, pairs)
	if err != nil {
		return Zone{}, err
	}
	j := s.best()
	z := Zone{Turn: j.Turn, Diameter: -2 * j.Spare, Worst: j.Worst}
	sin, cos := math.Sincos(j.Turn.Radians())
	z.Centre = [2]float64{j.Shift[0] - cos*middle[0] + sin*middle[1], j.Shift[1] - sin*middle[0] - cos*middle[1]}
	var far, across float64
	for i, a := range q {
		far = max(far, math.Hypot(a[0], a[1]))
		for _, b := range q[:i] {
			across = max(across, distance(a, b))
		}
	}
	w := 2 * (math.Abs(z.Diameter) + 2*slices.Max(slack)) / across
	z.Gap = 2*j.Gap + far*w*w
	return z, nil
}

// turnedZone turns the pattern about a held origin. Within a quarter turn of where two
// places match, their distance grows with the turn either way, so that the largest of
// several has one minimum.
func turnedZone(q [][2]float64, m Places, centre [2]float64, slack []float64) (Zone, error) {
	f, err := To(q, m, Options{Centre: &centre, Scale: 1})
	if err != nil {
		return Zone{}, err
	}
	start := f.Turn
	at := func(w float64) (d float64, worst int) {
		f.Turn = start + s1.Angle(w)
		d = math.Inf(-1)
		for i := range q {
			off := f.off(i)
			if far := math.Hypot(off[0], off[1]) - slack[i]; far > d {
				d, worst = far, i
			}
		}
		return d, worst
	}
	var far float64
	for _, p := range q {
		far = max(far, math.Hypot(p[0], p[1]))
	}
	least, _ := at(0)
	lo, hi := -math.Pi/2, math.Pi/2
	if least += slices.Max(slack); least < far { // the best turn moves no place by more than twice that
		lo, hi = -3*least/far, 3*least/far
	}
	for range 200 {
		a, b := lo+(hi-lo)/3, hi-(hi-lo)/3
		da, _ := at(a)
		db, _ := at(b)
		if da < db {
			hi = b
		} else {
			lo = a
		}
	}
	d, worst := at((lo + hi) / 2)
	return Zone{Centre: centre, Turn: f.Turn, Diameter: 2 * d, Gap: 2 * far * (hi - lo), Worst: worst}, nil
}
