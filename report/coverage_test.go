package report_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
	"spotface/report"
)

// covered counts intervals of one figure that hold the truth.
type covered struct {
	in, all int
	z2      float64 // sum of (error/u)²
}

func (c *covered) add(off, expanded float64) {
	c.all++
	if math.Abs(off) <= expanded {
		c.in++
	}
	c.z2 += 4 * off * off / (expanded * expanded)
}

func (c *covered) percent() float64 { return 100 * float64(c.in) / float64(c.all) }

// wholeScanner is a way to scan the parts of the study.
type wholeScanner struct {
	name string
	scan func(tb testing.TB, p *scansim.Part, seed uint64, rng *rand.Rand, f flange) (*mesh.Scan, scansim.Truth)
}

// flange is what a scanner knows of a part.
type flange struct {
	radius float64 // of its holes, mm
	size   float64 // of its disc, as a share of the study's
}

// cloudScanner throws 60,000 points from one stop, fewer but denser on a smaller part,
// their noise shared over a length of so many radii of the holes.
func cloudScanner(length float64) func(testing.TB, *scansim.Part, uint64, *rand.Rand, flange) (*mesh.Scan, scansim.Truth) {
	return func(tb testing.TB, p *scansim.Part, seed uint64, _ *rand.Rand, f flange) (*mesh.Scan, scansim.Truth) {
		s, truth, err := scansim.Cloud(tb.Context(), p, scansim.CloudOptions{Seed: seed, Points: int(60000 * f.size), Noise: 0.03,
			NoiseLength: length * f.radius, Tangential: 0.01, Outliers: 0.02, ByView: true, Normals: true, NormalNoise: 0.05})
		require.NoError(tb, err)
		return s, truth
	}
}

func wholeScanners() []wholeScanner {
	return []wholeScanner{
		{"cloud, white", cloudScanner(0)},
		{"cloud, smooth r/4", cloudScanner(0.25)},
		{"cloud, smooth r/2", cloudScanner(0.5)},
		{"fused", func(tb testing.TB, p *scansim.Part, seed uint64, rng *rand.Rand, _ flange) (*mesh.Scan, scansim.Truth) {
			s, truth, err := scansim.Fused(tb.Context(), p, scansim.FusedOptions{Seed: seed, Voxel: 0.35, Noise: 0.02,
				Missing: 0.1 * rng.Float64()})
			require.NoError(tb, err)
			return s, truth
		}},
	}
}

// anyFlange is a flange of 3 to 8 holes that scatter about a regular pattern. Its
// disc and bore, not its holes, are smaller by size.
func anyFlange(rng *rand.Rand, size float64) (*scansim.Part, flange) {
	n := []int{3, 4, 5, 6, 8}[rng.IntN(5)]
	spec := scansim.FlangeSpec{Diameter: size * (100 + 40*rng.Float64()), Thickness: 4 + 8*rng.Float64(),
		HoleDiameter: 4 + 8*rng.Float64(), Holes: n, Bore: size * (20 + 15*rng.Float64())}
	spec.PitchDiameter = 0.75 * spec.Diameter
	if n == 3 {
		spec.Spacing = 60 * s1.Degree
	}
	for range n {
		spec.Clocking = append(spec.Clocking, s1.Angle(0.1*rng.NormFloat64())*s1.Degree)
		spec.Radial = append(spec.Radial, 0.05*rng.NormFloat64())
	}
	return scansim.Flange(spec), flange{radius: spec.HoleDiameter / 2, size: size}
}

// wholeCount is what came of a scanner's parts.
type wholeCount struct {
	clocking, spacing, pitch, diameter, centre, position covered
	borePoint, boreAxis, boreDiameter                    covered
	faceNormal, faceOffset                               covered

	found, holes, invented int
	larger                 float64 // sum of diameters' errors, mm
}

func (c *wholeCount) figures() map[string]*covered {
	return map[string]*covered{"clocking": &c.clocking, "spacing": &c.spacing, "diameter": &c.diameter, "centre": &c.centre, "position": &c.position,
		"pitch": &c.pitch, "bore-point": &c.borePoint, "bore-axis": &c.boreAxis, "bore-diameter": &c.boreDiameter,
		"face-normal": &c.faceNormal, "face-offset": &c.faceOffset}
}

// part scans and measures one part and judges every interval of its report.
func (c *wholeCount) part(tb testing.TB, scanner wholeScanner, size float64, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 20))
	part, flange := anyFlange(rng, size)
	s, truth := scanner.scan(tb, part, seed, rng, flange)
	rep, err := report.Measure(tb.Context(), s, report.MeasureOptions{})
	require.NoError(tb, err)

	c.holes += len(truth.Holes)
	is := map[string]int{} // hole of the truth, by the report's id
	for _, h := range rep.Holes {
		centre := r3.Vector{X: h.Centre[0], Y: h.Centre[1], Z: h.Centre[2]}
		at := -1
		for k, t := range truth.Holes {
			if t.Centre.Distance(centre) < 1 {
				at = k
			}
		}
		if at < 0 {
			c.invented++
			continue
		}
		is[h.ID] = at
		t := truth.Holes[at]
		c.found++
		c.larger += h.Diameter - t.Diameter
		c.diameter.add(h.Diameter-t.Diameter, h.Uncertainty.Diameter)
		c.centre.add(centre.Sub(t.Centre).Cross(t.Axis).Norm(), h.Uncertainty.Centre)
	}
	c.surfaces(rep, truth)
	if len(rep.BoltCircles) == 0 || rep.BoltCircles[0].Nominal == nil || len(rep.BoltCircles[0].Holes) != len(truth.Holes) {
		return // holes not found are counted
	}
	ring, pattern := rep.BoltCircles[0], truth.Patterns[0]
	place := map[int]int{}
	for k, h := range pattern.Holes {
		place[h] = k
	}
	for _, k := range ring.Clocking {
		c.clocking.add(*k.DeviationDeg-pattern.BestFit[place[is[k.Hole]]].Degrees(), k.UncertaintyDeg)
	}
	for _, k := range ring.Spacing {
		if k.DeviationDeg == nil {
			continue
		}
		turn := pattern.BestFit[place[is[k.To]]] - pattern.BestFit[place[is[k.From]]]
		c.spacing.add(*k.DeviationDeg-math.Remainder(turn.Degrees(), 360), k.UncertaintyDeg)
	}
	c.pitch.add(ring.PitchDiameter-pattern.FitPitchDiameter, ring.Uncertainty.PitchDiameter)
	c.positions(tb, rep, truth, is)
}

// Through everything from points to report the stated intervals hold, on one kind of
// cloud and on fused scans; the study has all kinds. The discs are smaller than the
// study's, for most of a scan's points lie away from the holes; those at the holes are
// no fewer.
//
// Clocking, spacing, diameters, centres and positions of one part share what was learnt
// of the noise and the bore, so two of their intervals count as one. At a coverage of
// 93 % the false-alarm rate is 1e-4 a figure. Faces of fused scans are left to the
// study: DEVELOPERS.md has them among the known limits.
func TestStatedIntervalsThroughout(t *testing.T) {
	parts := uint64(trials.Of(2, 1))
	for _, scanner := range wholeScanners() {
		if scanner.name != "cloud, smooth r/4" && scanner.name != "fused" {
			continue
		}
		t.Run(scanner.name, func(t *testing.T) {
			var c wholeCount
			for seed := range parts {
				c.part(t, scanner, 0.42, seed)
			}
			assert.Equal(t, c.holes, c.found)
			assert.Zero(t, c.invented)
			for name, f := range c.figures() {
				if scanner.name == "fused" && strings.HasPrefix(name, "face") {
					continue
				}
				alike := 1
				if f.all > int(parts) {
					alike = 2
				}
				n := max(1, f.all/alike)
				assert.GreaterOrEqual(t, f.in, alike*trials.Least(n, 0.93, 1e-4), "%s of %d", name, f.all)
			}
		})
	}
}
