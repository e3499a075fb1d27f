package pattern

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/geom"
	"spotface/mesh/scansim/trials"
)

// drawnRing is a ring as a maker may have meant it, and what is measured of it.
type drawnRing struct {
	angles []float64 // meant, degrees
	none   bool      // of no pattern
	places Places
	radius float64
	sd     float64 // of a place each way, drilling and measurement together, mm
}

// draw says how rings are drawn, both ways other than by the prior of Readings: as many
// positions from 3 to 12 alike, half of the rings with some of them empty, one in so many
// over part of the circle on one of some steps, one in so many of no pattern, each hole
// after the first moved by a part of the step, or anywhere 12 degrees or more apart.
type draw struct {
	most       int // positions
	empty      int // at most one in so many
	part, none int
	steps      []float64
	anywhere   bool
	err        func(*rand.Rand) float64 // of a coordinate, of standard deviation one
}

func laplace(rng *rand.Rand) float64 {
	return rng.ExpFloat64() / math.Sqrt2 * float64(1-2*rng.IntN(2))
}

var (
	someRings  = draw{12, 3, 5, 30, []float64{20, 30, 45, 60}, false, laplace}
	otherRings = draw{12, 2, 10, 10, []float64{15, 25, 35, 40, 50, 60}, true, (*rand.Rand).NormFloat64}
)

func (w draw) ring(rng *rand.Rand, drill float64) drawnRing {
	m := 3 + rng.IntN(w.most-2)
	at := rng.Perm(m)
	n := m
	if rng.IntN(2) == 0 {
		n = m - rng.IntN(m/w.empty+1)
	}
	n = max(n, 3)
	step := 360 / float64(m)
	if rng.IntN(w.part) == 0 {
		step = w.steps[rng.IntN(len(w.steps))]
		n = 3 + rng.IntN(3)
		at = []int{0, 1, 2, 3, 4}
	}
	d := drawnRing{none: rng.IntN(w.none) == 0, radius: 20 * math.Exp(1.6*rng.Float64())}
	chosen := slices.Sorted(slices.Values(at[:n]))
	u := 0.005 + 0.03*rng.Float64()
	d.sd = math.Hypot(drill, u)
	for _, k := range chosen {
		a := step * float64(k-chosen[0])
		if d.none && k > chosen[0] {
			a += (0.3 + 0.4*rng.Float64()) * step
		}
		d.angles = append(d.angles, a)
	}
	for near := d.none && w.anywhere; near; {
		near = false
		for i := range d.angles {
			d.angles[i] = 360 * rng.Float64()
			for _, b := range d.angles[:i] {
				near = near || math.Abs(math.Remainder(d.angles[i]-b, 360)) < 12
			}
		}
	}
	turn := 360 * rng.Float64()
	var xy [][2]float64
	for _, a := range d.angles {
		p := onRing(5, 9, d.radius, turn+a)[0]
		for x := range p {
			p[x] += drill*w.err(rng) + u*rng.NormFloat64()
		}
		xy = append(xy, p)
	}
	d.places = features(u, 6, xy...).Places
	return d
}

// right reports whether a reading has the angles that were meant.
func (d *drawnRing) right(r *Reading) bool {
	if d.none {
		return r.Kind == Irregular
	}
	return d.apart(r) < 1e-6
}

// apart is how far, mm, one of its places lies at least from what was meant, the turn that
// fits best allowed.
func (d *drawnRing) apart(r *Reading) float64 {
	if r.Kind != Ring {
		return math.Inf(1)
	}
	lo, hi := 0.0, 0.0
	for i, a := range r.Angles {
		e := geom.WrapHalf(a.Radians() - d.angles[i]*math.Pi/180)
		lo, hi = min(lo, e), max(hi, e)
	}
	return (hi - lo) / 2 * d.radius
}

// named counts the readings of rings that differ from all others by more than five
// expanded uncertainties (k = 2), drilling and measurement together: wrong, in doubt, all.
func named(t testing.TB, seed uint64, n int) (wrong, doubt, all int) {
	rng := rand.New(rand.NewPCG(seed, 1))
	for all < n {
		d := someRings.ring(rng, 0.03)
		readings, err := Readings(d.places)
		require.NoError(t, err)
		least := math.Inf(1)
		for i := range readings {
			if r := &readings[i]; !d.right(r) {
				least = min(least, d.apart(r))
			}
		}
		if d.none || least < 10*math.Hypot(d.sd, drillSD(2*d.radius)) {
			continue
		}
		all++
		switch p := together(readings); {
		case p < 0.9:
			doubt++
		case !d.right(&readings[0]):
			wrong++
		}
	}
	return wrong, doubt, all
}

// together is the probability of the likeliest reading and of those with its angles.
func together(readings []Reading) (p float64) {
	first := &readings[0]
	for i := range readings {
		r := &readings[i]
		same := r.Kind == first.Kind
		for k := range r.Angles {
			same = same && math.Abs(geom.WrapHalf((r.Angles[k]-first.Angles[k]).Radians())) < 1e-9
		}
		if same {
			p += r.Probability
		}
	}
	return p
}

// Rings whose readings differ by more than five expanded uncertainties are named right; at
// most 1 % are left in doubt. By StudyNominal of 4,000 none is wrong and none in doubt.
// False-alarm rate: 1e-3.
func TestRingsAreNamed(t *testing.T) {
	wrong, doubt, n := named(t, 5, trials.Of(60, 20))
	assert.Zero(t, wrong)
	assert.LessOrEqual(t, doubt, trials.Most(n, 0.01, 1e-3))
}

// Statements made with a probability are right as often: all together here, by tenths in
// StudyNominal. False-alarm rate: 1e-3 a side.
func TestStatementsAreRightAsOftenAsStated(t *testing.T) {
	var all stated
	for _, b := range someRings.statements(t, 9, trials.Of(300, 100), false) {
		all = all.and(b)
	}
	p := all.sum / float64(all.n)
	assert.GreaterOrEqual(t, all.right, trials.Least(all.n, p-0.02, 1e-3))
	assert.LessOrEqual(t, all.right, trials.Most(all.n, min(p+0.02, 1), 1e-3))
}

// stated are the statements of a range of probabilities.
type stated struct {
	n, right int
	sum      float64
}

func (a stated) and(b stated) stated { return stated{a.n + b.n, a.right + b.right, a.sum + b.sum} }

// statements sorts the likeliest readings of rings of any difficulty by the probability
// that they are stated with, in tenths from 0.3, the last from 0.98. Hard ones have at most
// six positions and an error of 0.3 mm or more.
func (w draw) statements(t testing.TB, seed uint64, n int, hard bool) (bins [8]stated) {
	rng := rand.New(rand.NewPCG(seed, 2))
	least, spread := 0.03, 4.5
	if hard {
		w.most, least, spread = 6, 0.3, 2.2
	}
	for range n {
		d := w.ring(rng, least*math.Exp(spread*rng.Float64()))
		readings, err := Readings(d.places)
		if err != nil {
			continue // too short an arc for its scatter
		}
		p := together(readings)
		k := min(6, max(0, int(10*p)-3))
		if p > 0.98 {
			k = 7
		}
		b := stated{n: 1, sum: p}
		if d.right(&readings[0]) {
			b.right = 1
		}
		bins[k] = bins[k].and(b)
	}
	return bins
}
