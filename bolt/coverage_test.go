package bolt

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"spotface/mesh/scansim"
)

// coverRow is one row of the study of coverage: parts with one bolt circle of
// equal holes, seen with noise whose correlation the program is not told.
type coverRow struct {
	name   string
	kernel scansim.Kernel
	arc    s1.Angle // seen of each hole
	wall   bool     // else a rim
	holes  int
	face   bool // the face round the holes is seen too, with the same noise
}

const (
	coverRadius = 4.0  // of a hole, mm
	coverPitch  = 40.0 // radius, mm
	coverSigma  = 0.03 // mm
	coverDepth  = 4.0  // of a wall, mm
)

func (r coverRow) String() string {
	kind := "rim"
	if r.wall {
		kind = "wall"
	}
	if r.face {
		kind = "face and " + kind
	}
	return fmt.Sprintf("%s/%s/%.0f/%d", r.name, kind, r.arc.Degrees(), r.holes)
}

// coverFigures are the figures whose intervals are judged.
const coverFigures = 5

var coverNames = [coverFigures]string{"clocking", "spacing", "diameter", "centre", "pitch"}

// coverCount is what came of a row's trials, by figure.
type coverCount struct {
	in, all [coverFigures]float64
	length  [coverFigures]float64 // sums of standard uncertainties
	z2      [coverFigures]float64
	bad     int
}

func (c *coverCount) add(figure int, off, u float64) {
	c.all[figure]++
	if math.Abs(off) <= 2*u {
		c.in[figure]++
	}
	c.length[figure] += u
	c.z2[figure] += off * off / (u * u)
}

// judge adds the figures of a part whose holes are all where they should be.
func (c *coverCount) judge(t testing.TB, cs []*candidate, at [][2]float64, radii []float64) {
	for i, k := range cs {
		c.add(2, 2*(k.r-radii[i]), 2*math.Sqrt(k.cov[2][2]))
		// The ellipse that holds 95 %: of Student's distribution in the plane with
		// covariance C and ν degrees of freedom mᵀC⁻¹m is ν-2 times 0.05^(-2/ν)-1,
		// which goes to 5.991 as ν grows.
		most := 5.991
		if k.dof > 0 {
			most = (k.dof - 2) * (math.Pow(0.05, -2/k.dof) - 1)
		}
		dx, dy := k.x-at[i][0], k.y-at[i][1]
		det := k.cov[0][0]*k.cov[1][1] - k.cov[0][1]*k.cov[0][1]
		m := (k.cov[1][1]*dx*dx - 2*k.cov[0][1]*dx*dy + k.cov[0][0]*dy*dy) / det
		c.all[3]++
		if m <= most {
			c.in[3]++
		}
		c.z2[3] += m / 2
		c.length[3] += math.Sqrt(math.Sqrt(det))
	}
	var holes []Hole
	var angles []s1.Angle
	for i, k := range cs {
		holes = append(holes, k.hole())
		angles = append(angles, s1.Angle(2*math.Pi*float64(i)/float64(len(cs))))
	}
	n := Nominal{Positions: len(cs), Spacing: angles[1], FullRing: true, Angles: angles}
	circle, err := Clock(holes, n)
	require.NoError(t, err)
	for _, k := range circle.Clocking {
		c.add(0, k.Deviation.Radians(), k.U.Radians())
	}
	for _, k := range circle.Spacing {
		c.add(1, k.Deviation.Radians(), k.U.Radians())
	}
	c.add(4, circle.PitchDiameter-2*coverPitch, circle.PitchU)
}

// coverPart is the noise of each hole of a part and what one who knows it can do: at
// best, and by least squares.
type coverPart struct {
	row     coverRow
	walls   []*scansim.Wall
	at      [][2]float64
	face    *face
	oracle  [][3][3]float64
	plain   [][3][3]float64
	heights *mat.Cholesky // of the covariance of the face's points
}

func newCoverPart(t testing.TB, row coverRow) *coverPart {
	p := &coverPart{row: row, face: &face{id: "P1", flat: newFlat(r3.Vector{}, r3.Vector{Z: 1})}}
	for i := range row.holes {
		spec := scansim.WallSpec{Radius: coverRadius, Around: 200, Arc: row.arc, Sigma: coverSigma, Kernel: row.kernel,
			Start: s1.Angle(float64(i)*97+11) * s1.Degree}
		if row.wall {
			spec.Around, spec.Rows, spec.Depth = 96, 9, coverDepth
		}
		w, err := scansim.NewWall(spec)
		require.NoError(t, err)
		p.walls = append(p.walls, w)
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(row.holes))
		p.at = append(p.at, [2]float64{coverPitch * cos, coverPitch * sin})
		best, plain := oracle(t, spec)
		p.oracle, p.plain = append(p.oracle, best), append(p.plain, plain)
	}
	if row.face {
		p.layFace(t)
	}
	return p
}

// knowing adds the intervals of one who knows the covariances.
func (p *coverPart) knowing(t testing.TB, c *coverCount, covs [][3][3]float64) {
	var cs []*candidate
	for i, cov := range covs {
		cs = append(cs, &candidate{face: p.face, x: p.at[i][0], y: p.at[i][1], r: coverRadius, cov: cov,
			follow: [2]float64{cov[0][2] / cov[2][2], cov[1][2] / cov[2][2]}})
	}
	shareRadius(cs, 1)
	c.judge(t, cs, p.at, slices.Repeat([]float64{coverRadius}, len(cs)))
}

// draw draws one part: its holes as the program first finds them, and their radii.
func (p *coverPart) draw(t testing.TB, rng *rand.Rand) (cs []*candidate, radii []float64) {
	cs, radii = make([]*candidate, p.row.holes), make([]float64, p.row.holes)
	for i, w := range p.walls {
		radii[i] = coverRadius + sameDrill*rng.NormFloat64()
		grow := radii[i] - coverRadius
		var xy [][2]float64
		var height []float64
		for _, q := range w.Draw(rng) {
			d := math.Hypot(q.X, q.Y)
			xy = append(xy, [2]float64{q.X*(1+grow/d) + p.at[i][0], q.Y*(1+grow/d) + p.at[i][1]})
			height = append(height, q.Z)
		}
		if !p.row.wall {
			height = nil
		}
		cs[i] = firstFound(t, xy, height)
		cs[i].face = p.face
	}
	return cs, radii
}

// firstFound is a rim, or where heights are given a wall, as the program first finds it.
func firstFound(t testing.TB, xy [][2]float64, height []float64) *candidate {
	d, err := robustDisc(xy, nil, 1e-6)
	require.NoError(t, err)
	c := &candidate{x: d.x, y: d.y, r: d.r, points: d.used, from: Rim, series: newArcSeries(xy, d)}
	if height != nil {
		c.from, c.series = Wall, newWallSeries(xy, height, d)
	}
	return c
}

// learn is the noise that the program sees in holes of one radius, the face's known.
func learn(t testing.TB, cs []*candidate, known waves) arcNoise {
	var series []arcSeries
	var radii []float64
	for _, c := range cs {
		series, radii = append(series, c.series), append(radii, c.series.radius)
	}
	noise, err := learnNoise(t.Context(), median(radii), series, known, 1)
	require.NoError(t, err)
	return noise
}

// measure draws one part, measures it as the program does, and judges it.
func (p *coverPart) measure(t testing.TB, rng *rand.Rand, c *coverCount) {
	cs, radii := p.draw(t, rng)
	require.NoError(t, weighAlike(t.Context(), cs, p.waves(t, rng), 1))
	for _, k := range cs {
		if k.dropped {
			c.bad++
			return
		}
	}
	shareRadius(cs, 1)
	c.judge(t, cs, p.at, radii)
}

// run measures parts of the row, all with random numbers of their own; best and plain
// are of one who knows the noise, at best and by least squares.
func (r coverRow) run(t testing.TB, trials int) (got, best, plain coverCount) {
	p := newCoverPart(t, r)
	p.knowing(t, &best, p.oracle)
	p.knowing(t, &plain, p.plain)
	const chunk = 50
	n := (trials + chunk - 1) / chunk
	counts := make([]coverCount, n)
	var next int
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for {
				mu.Lock()
				i := next
				next++
				mu.Unlock()
				if i >= n {
					return
				}
				rng := rand.New(rand.NewPCG(uint64(i), 99))
				for range min(chunk, trials-i*chunk) {
					p.measure(t, rng, &counts[i])
				}
			}
		})
	}
	wg.Wait()
	for _, c := range counts {
		got.bad += c.bad
		for f := range coverFigures {
			got.in[f] += c.in[f]
			got.all[f] += c.all[f]
			got.length[f] += c.length[f]
			got.z2[f] += c.z2[f]
		}
	}
	return got, best, plain
}

// ratio is the mean length of a figure's 95 % intervals, two standard
// uncertainties each way, over that of one who knows the noise and takes 1.96.
func ratio(got, best coverCount, figure int) float64 {
	return got.length[figure] / got.all[figure] * 2 / 1.96 / (best.length[figure] / best.all[figure])
}

// coverRows are the rows of the study: each kernel at the lengths given, in hole
// radii, on rims and walls, all round and 224 degrees of it.
func coverRows(lengths ...float64) []coverRow {
	var out []coverRow
	for _, wall := range []bool{false, true} {
		for _, arc := range []s1.Angle{360 * s1.Degree, 224 * s1.Degree} {
			row := coverRow{arc: arc, wall: wall, holes: 6}
			row.name = "white"
			out = append(out, row)
			for _, l := range lengths {
				mm := l * coverRadius
				for _, k := range []struct {
					name   string
					kernel scansim.Kernel
				}{
					{"exponential", scansim.Kernel{Length: mm}},
					{"normal", scansim.Kernel{Shape: scansim.Gaussian, Length: mm}},
					// The longer length is the one named; half of the variance has a
					// quarter of it.
					{"two-scale", scansim.Kernel{Length: mm / 4, Second: mm, SecondShare: 0.5}},
					// Nine tenths of the variance differ from point to point.
					{"mostly white", scansim.Kernel{Length: mm, White: 0.9}},
				} {
					// The simulator cannot embed smooth noise of a hole's radius on part
					// of a ring.
					if k.name == "normal" && l >= 1 && arc < 2*math.Pi {
						continue
					}
					row.name, row.kernel = fmt.Sprintf("%s r*%g", k.name, l), k.kernel
					out = append(out, row)
				}
			}
		}
	}
	return out
}

// Nominal 95 % intervals cover the truth, whatever the noise's correlation, of
// which the program is told nothing.
//
// 60 parts a row. Figures of one part hang together (noise is learned once), so
// bounds are for 60 trials of 6 holes taken as 120 independent ones. At a true
// coverage of 94 %, fewer than 99 of 120 hold (82.5 %) with a chance of 6e-6; 30
// rows of 5 figures make less than 1e-3. Mean lengths scatter by some 2 %. A bare
// white-noise formula covers 39 % at a length of r/4.
func TestStatedIntervalsCover(t *testing.T) {
	for i, row := range coverRows(0.25, 0.5, 1) {
		if testing.Short() && (row.wall || i%3 != 0) {
			continue
		}
		if (row.wall || row.kernel.Length == coverRadius) && row.kernel.Shape != scansim.Gaussian {
			continue // the other rims tell as much
		}
		t.Run(row.String(), func(t *testing.T) {
			got, best, _ := row.run(t, 60)
			assert.Zero(t, got.bad)
			for f := range coverFigures {
				least := 0.825
				if coverNames[f] == "pitch" {
					least = 0.76 // 60 trials, not 120: 1e-6
				}
				assert.Greater(t, got.in[f]/got.all[f], least, coverNames[f])
				// Nor far too long; the study has the means. (One who knows that a
				// wall's noise is smooth and nothing else has much from its depth.)
				if most := 1.5; !row.wall {
					if row.arc > 2*math.Pi-0.1 {
						most = 1.2
						if coverNames[f] == "diameter" {
							most = 1.3
						}
					}
					assert.Less(t, ratio(got, best, f), most, coverNames[f])
				}
			}
		})
	}
}

// BenchmarkCoverage is the study: coverage, %, and length over that of one who
// knows the noise, at best and by least squares, of b.N parts a row. For 20,000 parts a row:
//
//	go test -run '^$' -bench Coverage -benchtime 20000x -timeout 0 ./bolt
func BenchmarkCoverage(b *testing.B) {
	study(b, append(coverRows(0.0625, 0.25, 0.5, 1), fewHoleRows()...))
}

// study runs the rows; short runs, which only show that it runs, one of eight.
func study(b *testing.B, rows []coverRow) {
	for i, row := range rows {
		if !testing.Short() || i%8 == 0 {
			row.study(b)
		}
	}
}

// study reports coverage and length of b.N parts.
func (r coverRow) study(b *testing.B) {
	b.Run(r.String(), func(b *testing.B) {
		got, best, plain := r.run(b, b.N)
		for f := range coverFigures {
			b.ReportMetric(100*got.in[f]/got.all[f], coverNames[f]+"-%")
			b.ReportMetric(ratio(got, best, f), coverNames[f]+"-length")
			b.ReportMetric(ratio(got, plain, f), coverNames[f]+"-least-squares")
		}
	})
}
