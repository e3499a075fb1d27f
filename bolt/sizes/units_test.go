package sizes

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"spotface/mesh/scansim/trials"
)

// hardwareHole reports whether a hole may be that of a fastener in the tables: within
// three standard uncertainties and 0.05 mm, as it is made.
func hardwareHole(d, u float64) bool {
	near := func(size float64) bool { return size > 0 && math.Abs(d-size) <= 3*math.Hypot(u, 0.05) }
	for _, f := range metric {
		if near(f.clear[0]) || near(f.clear[1]) || near(f.clear[2]) || near(f.drill) || near(f.old[1]) || near(f.old[2]) {
			return true
		}
	}
	for _, f := range inch {
		if near(f.clear[0]*inchMM) || near(f.clear[1]*inchMM) || near(f.clear[2]*inchMM) {
			return true
		}
	}
	return false
}

// bolted is a simulated part: a ring of clearance holes about a bore, by its sizes in
// millimetres. u is the standard uncertainty of each.
type bolted struct{ hole, bore, width, u float64 }

func (b bolted) read(unit float64) ([]Feature, float64) {
	return []Feature{{Hole, b.hole / unit, b.u / unit}, {Bore, b.bore / unit, b.u / unit}}, b.width / unit
}

func logUniform(rng *rand.Rand, lo, hi float64) float64 {
	return lo * math.Pow(hi/lo, rng.Float64())
}

// standard has holes for a fastener of the tables, made up to 0.05 mm off, and a bore of
// whole millimetres or sixteenths of an inch.
func standard(rng *rand.Rand) bolted {
	u := logUniform(rng, 0.003, 0.06)
	var d, bore float64
	if f := metric[rng.IntN(18)]; rng.IntN(2) == 0 {
		d, bore = f.clear[rng.IntN(3)], math.Round(f.diameter*(3+5*rng.Float64()))
	} else {
		f := inch[rng.IntN(14)]
		d, bore = f.clear[rng.IntN(3)]*inchMM, math.Round(f.diameter*(3+5*rng.Float64())*16)/16*inchMM
	}
	off := func() float64 { return u*rng.NormFloat64() + 0.1*(rng.Float64()-0.5) }
	return bolted{d + off(), bore + off(), bore + d*(4+6*rng.Float64()), u}
}

// Of parts scanned in inches or metres and read as millimetres whose holes suit a fastener
// in that unit only, all are doubted and their unit is named; of those in centimetres and
// feet 95 %.
func TestUnitsCaught(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 8))
	n := trials.Draws(250, 1000)
	for _, unit := range units[1:] {
		caught, named, first := 0, 0, 0
		for done := 0; done < n; {
			b := standard(rng)
			only := true
			for _, o := range units {
				s := unit.mm / o.mm
				only = only && (o == unit || !hardwareHole(b.hole/s, b.u/s))
			}
			if !only {
				continue
			}
			done++
			features, width := b.read(unit.mm)
			c := ReadUnits(features, width)
			if c.Doubt {
				caught++
			}
			if slices.ContainsFunc(c.Readings, func(r Reading) bool { return r.Unit == unit.name }) {
				named++
			}
			if c.Readings[0].Unit == unit.name {
				first++
			}
		}
		t.Logf("%s: doubted %d, named %d, named first %d of %d", unit.name, caught, named, first, n)
		if unit.name == "in" || unit.name == "m" {
			assert.Equal(t, []int{n, n}, []int{caught, named}, unit.name)
		}
		assert.GreaterOrEqual(t, min(caught, named), n*95/100, unit.name)
	}
}

// Of parts in millimetres with odd sizes at most 1 in 1,000 is doubted, be it by holes,
// bore and width or by a hole alone; of those with standard sizes 1 in 100.
func TestMillimetresRaiseNoDoubt(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 15))
	n := trials.Draws(1000, 4000)
	var odd, alone, usual int
	for done := 0; done < n; {
		d := logUniform(rng, 2, 40)
		b := bolted{hole: d, bore: logUniform(rng, 5, 200), u: logUniform(rng, 0.003, 0.06)}
		b.width = b.bore + d*(4+6*rng.Float64())
		if hardwareHole(b.hole, b.u) {
			continue
		}
		done++
		features, width := b.read(1)
		if ReadUnits(features, width).Doubt {
			odd++
		}
		if ReadUnits(features[:1], 0).Doubt {
			alone++
		}
		if ReadUnits(standard(rng).read(1)).Doubt {
			usual++
		}
	}
	t.Logf("doubted: %d odd, %d by an odd hole alone, %d of standard sizes, of %d", odd, alone, usual, n)
	assert.LessOrEqual(t, max(odd, alone), n/1000)
	assert.LessOrEqual(t, usual, n/100)
}
