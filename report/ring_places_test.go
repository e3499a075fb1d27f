package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"spotface/bolt"
	"spotface/mesh/geom"
	"spotface/mesh/scansim/trials"
)

// Holes that are open outward and share a fitted radius all move outward with its
// error: a quarter of the variance in that direction, as in simulated scans with half
// of each wall missing. The stated variance of how far out their places are, about
// their own centre or a bore's, is their scatter, that of all holes of a draw taken for
// one, as the safe side. Taken for independent, that of three holes about their own
// centre would be two thirds of it, for which an interval of 95 % covers 89 %.
// False-alarm rate: 1e-4 a row.
func TestPlacesShareARadius(t *testing.T) {
	for _, holes := range []int{3, 4, 6} {
		for _, own := range []bool{true, false} {
			t.Run(fmt.Sprintf("%d holes, own centre %v", holes, own), func(t *testing.T) {
				const u, shared = 0.01, 0.6 // mm; 0.6² / (1 + 0.6²) is 0.26 of the outward variance
				part := kettlePort()
				part.angles = nil
				for i := range holes {
					part.angles = append(part.angles, float64(i)*360/float64(holes))
				}
				rep := part.report(t)
				k := &rep.BoltCircles[0]
				p := ringPlaces{axis: k.Axis.R3(), centre: part.origin, own: own, radius: part.pitch / 2, factor: 1}
				e1, e2 := geom.Basis(p.axis)
				move := map[string][2]float64{} // by the radius, mm
				var out [][2]float64
				for _, c := range k.Clocking {
					h := rep.hole(c.Hole)
					w := h.Centre.R3().Sub(part.origin).Normalize()
					out = append(out, [2]float64{w.Dot(e1), w.Dot(e2)})
					v := [2]float64{w.Dot(e1) * shared * u, w.Dot(e2) * shared * u}
					move[h.ID] = v
					h.measured.CentreCov = [2][2]float64{{u*u + v[0]*v[0], v[0] * v[1]}, {v[0] * v[1], u*u + v[1]*v[1]}}
					p.holes, p.nominal = append(p.holes, h), append(p.nominal, *c.NominalDeg)
				}
				variance := func(common func(a, b bolt.Hole) [2][2]float64) float64 {
					p.common = common
					sum := 0.0
					for i, f := range p.found() {
						sum += f.cov.along(out[i])
					}
					return sum
				}
				alone := variance(bolt.CommonError)
				stated := variance(func(a, b bolt.Hole) (c [2][2]float64) {
					for i := range 2 {
						for j := range 2 {
							c[i][j] = move[a.ID][i] * move[b.ID][j]
						}
					}
					return c
				})

				rng := rand.New(rand.NewPCG(61, uint64(holes)))
				was, _ := p.off(boltsOf(p.holes))
				got := 0.0
				n := trials.Of(1500, 200)
				for range n {
					drawn := boltsOf(p.holes)
					radius := rng.NormFloat64()
					for i := range drawn {
						v := move[drawn[i].ID]
						drawn[i].Centre = drawn[i].Centre.Add(e1.Mul(u*rng.NormFloat64() + v[0]*radius)).
							Add(e2.Mul(u*rng.NormFloat64() + v[1]*radius))
					}
					off, _ := p.off(drawn)
					for i := range off {
						got += sq2((off[i][0]-was[i][0])*out[i][0]+(off[i][1]-was[i][1])*out[i][1]) / float64(n)
					}
				}
				t.Logf("stated %.3f, alone %.3f of the scatter", math.Sqrt(stated/got), math.Sqrt(alone/got))
				low, high := trials.RMS(n, 1e-4)
				ratio := math.Sqrt(got / stated)
				assert.True(t, low < ratio && ratio < high, "%g is not from %g to %g", ratio, low, high)
				if holes == 3 && own {
					assert.Less(t, alone, 0.75*got)
				}
			})
		}
	}
}
