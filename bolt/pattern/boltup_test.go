package pattern

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"spotface/mesh/scansim/trials"
)

// plate is a part with holes that leave a fastener so much clearance.
func plate(xy [][2]float64, clearance, u float64) Part {
	p := Part{Places: known(xy, [2][2]float64{{u * u, 0}, {0, u * u}})}
	for range xy {
		p.Clearance = append(p.Clearance, clearance)
	}
	return p
}

// moved turns and shifts places, and moves each by some normal error.
func moved(xy [][2]float64, turn, x, y, sd float64, rng *rand.Rand) [][2]float64 {
	sin, cos := math.Sincos(turn)
	out := make([][2]float64, len(xy))
	for i, q := range xy {
		out[i] = [2]float64{x + cos*q[0] - sin*q[1] + sd*rng.NormFloat64(), y + sin*q[0] + cos*q[1] + sd*rng.NormFloat64()}
	}
	return out
}

// Holes of 6.44 for fasteners of 6 allow each part a position tolerance of 0.44 where the
// fastener floats, and of 0.22 where one part is tapped: ASME Y14.5M-1994, appendix B
// (formulas B3 and B4 with their example; from memory). Of two plates at those limits,
// off toward and away from each other, the fasteners just enter.
func TestFastenerFormulas(t *testing.T) {
	square := [][2]float64{{-20, -20}, {20, -20}, {20, 20}, {-20, 20}}
	for name, c := range map[string]struct{ a, b, tolerance float64 }{
		"floating": {0.22, 0.22, 0.44},
		"fixed":    {0.22, 0, 0.22},
	} {
		t.Run(name, func(t *testing.T) {
			off := func(by float64) [][2]float64 {
				out := append([][2]float64{}, square...)
				out[0][0] -= by
				out[1][0] += by
				return out
			}
			for _, more := range []float64{0, 0.01, -0.01} {
				joints, err := Assemble(t.Context(), plate(off(c.tolerance/2+more/2), c.a, 0), plate(off(-c.tolerance/2-more/2), c.b, 0))
				require.NoError(t, err)
				require.Len(t, joints, 4)
				for _, j := range joints {
					if j.Pairs[0] == [2]int{0, 0} { // the others turn what is off elsewhere
						assert.InDelta(t, -more, j.Spare, 1e-6)
						assert.InDelta(t, 0, j.Gap, 2e-9)
					}
				}
			}
		})
	}
}

// The best turn and shift are those that a a search by random steps finds nothing better than.
func TestAssembleAgainstASearch(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 0))
	for _, n := range []int{2, 3, 4, 6, 9} {
		for range 3 {
			a := plate(moved(regular(n, 42), 0, 0, 0, 0.1, rng), 0.2, 0.01)
			b := plate(moved(regular(n, 42), rng.Float64(), 100, -30, 0.1, rng), 0.1, 0.01)
			for k := range n {
				a.Clearance[k] += 0.05 * rng.Float64()
			}
			joints, err := Assemble(t.Context(), a, b)
			require.NoError(t, err)
			require.Len(t, joints, n, "one a turn")
			best := joints[0]
			spare := func(y []float64) float64 {
				sin, cos := math.Sincos(best.Turn.Radians() + y[2]/42)
				least := math.Inf(1)
				for _, p := range best.Pairs {
					q := b.XY[p[1]]
					at := [2]float64{best.Shift[0] + y[0] + cos*q[0] - sin*q[1], best.Shift[1] + y[1] + sin*q[0] + cos*q[1]}
					least = min(least, a.Clearance[p[0]]+b.Clearance[p[1]]-distance(a.XY[p[0]], at))
				}
				return least
			}
			assert.InDelta(t, best.Spare, spare([]float64{0, 0, 0}), 1e-12)
			// Steps of all sizes in random directions, kept where they are better.
			top, at := best.Spare, []float64{0, 0, 0}
			for step := 0.1; step > 1e-9; step *= 0.9 {
				for range 30 {
					y := []float64{at[0] + step*rng.NormFloat64(), at[1] + step*rng.NormFloat64(), at[2] + step*rng.NormFloat64()}
					if v := spare(y); v > top {
						top, at = v, y
					}
				}
			}
			assert.LessOrEqual(t, top, best.Spare+best.Gap+1e-9, "%d places", n)
			assert.Less(t, best.Gap, 1e-6, "a nanometre")
		}
	}
}

// The stated probability is how often drawn parts go together, each draw with its own
// best turn and shift: within a percentage point and what chance adds at a false-alarm
// rate of 1e-4 a row.
func TestProbabilityOfAssembly(t *testing.T) {
	for k, c := range []struct {
		n              int
		clearance, sdB float64
	}{{6, 0.10, 0.05}, {6, 0.16, 0.05}, {3, 0.07, 0.05}, {12, 0.20, 0.07}, {4, 0.05, 0.03}} {
		rng := rand.New(rand.NewPCG(uint64(k), 7))
		a := plate(moved(regular(c.n, 42), 0, 0, 0, 0.02, rng), c.clearance/2, 0.02)
		b := plate(moved(regular(c.n, 42), 0.3, 5, 6, 0.03, rng), c.clearance/2, c.sdB)
		for i := range c.n {
			a.ClearanceU = append(a.ClearanceU, 0.01)
			for j := range i { // holes that share a fitted radius err together
				out := regular(c.n, 1)
				for x := range 2 {
					for y := range 2 {
						a.Cov.SetSym(2*i+x, 2*j+y, 0.015*0.015*out[i][x]*out[j][y])
					}
				}
			}
		}
		joints, err := Assemble(t.Context(), a, b)
		require.NoError(t, err)
		stated := joints[0].Probability(9)
		draws := trials.Of(300, 60)
		root := new(mat.Cholesky)
		require.True(t, root.Factorize(a.Cov))
		lower := new(mat.TriDense)
		root.LTo(lower)
		fits := 0
		for range draws {
			z, off := mat.NewVecDense(2*c.n, nil), mat.NewVecDense(2*c.n, nil)
			for i := range 2 * c.n {
				z.SetVec(i, rng.NormFloat64())
			}
			off.MulVec(lower, z)
			da := Part{Places: Places{XY: make([][2]float64, c.n), Cov: a.Cov}}
			for i, q := range a.XY {
				da.XY[i] = [2]float64{q[0] + off.AtVec(2*i), q[1] + off.AtVec(2*i+1)}
				da.Clearance = append(da.Clearance, a.Clearance[i]+a.ClearanceU[i]*rng.NormFloat64())
			}
			db := b
			db.XY = moved(b.XY, 0, 0, 0, c.sdB, rng)
			s, err := newSeat(da, db, joints[0].Pairs)
			require.NoError(t, err)
			if s.best().Spare >= 0 {
				fits++
			}
		}
		got := float64(fits) / float64(draws)
		room := 0.01 + 3.9*math.Sqrt(max(got*(1-got), 0.001)/float64(draws))
		t.Logf("%d places: stated %.4f, drawn %.4f of %d", c.n, stated, got, draws)
		assert.InDelta(t, got, stated, room)
	}
}

// A ring with one place offset on purpose goes on one way; the mirror image of an odd
// pattern goes on none.
func TestOneWayOnly(t *testing.T) {
	ring := regular(6, 42)
	sin, cos := math.Sincos(65 * math.Pi / 180)
	ring[1] = [2]float64{42 * cos, 42 * sin}
	rng := rand.New(rand.NewPCG(3, 0))
	joints, err := Assemble(t.Context(), plate(ring, 0.2, 0.01), plate(moved(ring, 1, 3, 4, 0, rng), 0.2, 0.01))
	require.NoError(t, err)
	assert.InDelta(t, 0.4, joints[0].Spare, 1e-6)
	assert.InDelta(t, -1, joints[0].Turn.Radians(), 1e-7)
	assert.Equal(t, 1.0, joints[0].Probability(1))
	for _, j := range joints[1:] {
		assert.Less(t, j.Spare, -0.5)
		assert.Zero(t, j.Probability(1))
	}
	odd := [][2]float64{{0, 0}, {40, 0}, {0, 25}, {13, 31}}
	mirrored := make([][2]float64, len(odd))
	for i, q := range odd {
		mirrored[i] = [2]float64{-q[0], q[1]}
	}
	joints, err = Assemble(t.Context(), plate(odd, 0.2, 0.01), plate(mirrored, 0.2, 0.01))
	require.NoError(t, err)
	assert.Empty(t, joints)
}

// Of two parts the one with fewer places may stand first; then turn and shift are the
// inverse.
func TestFewerPlacesFirst(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 0))
	few := regular(6, 42)[:4]
	all := moved(regular(6, 42), 0.5, 7, -2, 0, rng)
	ab, err := Assemble(t.Context(), plate(all, 0.1, 0.01), plate(few, 0.1, 0.01))
	require.NoError(t, err)
	ba, err := Assemble(t.Context(), plate(few, 0.1, 0.01), plate(all, 0.1, 0.01))
	require.NoError(t, err)
	require.Len(t, ab, 6)
	require.Len(t, ba, 6)
	for k := range ab {
		assert.Equal(t, ab[k].Probability(1), ba[k].Probability(1), "the draws are of the same pairs")
	}
	f := ba[0]
	sin, cos := math.Sincos(f.Turn.Radians())
	for _, p := range f.Pairs {
		q := all[p[1]]
		assert.InDelta(t, few[p[0]][0], f.Shift[0]+cos*q[0]-sin*q[1], 1e-6)
		assert.InDelta(t, few[p[0]][1], f.Shift[1]+sin*q[0]+cos*q[1], 1e-6)
	}
	// What is near is the same from either part.
	for _, p := range [][2][][2]float64{{regular(6, 42), regular(6, 33)}, {regular(6, 33), regular(6, 42)}} {
		apart, err := Assemble(t.Context(), plate(p[0], 0.1, 0.01), plate(p[1], 0.1, 0.01))
		require.NoError(t, err)
		assert.Empty(t, apart)
	}
	_, err = Assemble(t.Context(), plate(few[:1], 0.1, 0.01), plate(all, 0.1, 0.01))
	assert.ErrorContains(t, err, "at least 2 places")
}

// BenchmarkAssemble is all turns of two rings of six, with their probabilities.
func BenchmarkAssemble(b *testing.B) {
	rng := rand.New(rand.NewPCG(5, 0))
	p := plate(moved(regular(6, 42), 0, 0, 0, 0.05, rng), 0.1, 0.02)
	q := plate(moved(regular(6, 42), 0.2, 1, 2, 0.05, rng), 0.1, 0.02)
	var joints []Joint
	for b.Loop() {
		joints, _ = Assemble(b.Context(), p, q)
		for k := range joints {
			joints[k].Probability(1)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N)/float64(len(joints)), "ms/joint")
}
