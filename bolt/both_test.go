package bolt

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
)

// lower is a random lower triangle, the root of a covariance.
func lower(t *rapid.T, n int) *mat.Dense {
	l := mat.NewDense(n, n, nil)
	for i := range n {
		for j := range i {
			l.Set(i, j, float64(rapid.IntRange(-100, 100).Draw(t, "beside"))/100)
		}
		l.Set(i, i, float64(rapid.IntRange(10, 100).Draw(t, "root"))/100)
	}
	return l
}

// Whatever a wall and its rim share of their errors, the covariance stated for both
// together is at least that which the estimate has (Julier and Uhlmann, American
// Control Conference 1997, section 3): stated less true is positive semidefinite.
func TestJoinedIsNeverTooSure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Errors (wall's x, y, r, rim's x, y) = [L₁ 0; 0 L₂] z, Cov z = [I R; Rᵀ I],
		// R of orthonormal directions shared in part.
		l1, l2 := lower(t, 3), lower(t, 2)
		a := rapid.Float64Range(0, 2*math.Pi).Draw(t, "turn")
		r := mat.NewDense(3, 2, []float64{math.Cos(a), -math.Sin(a), math.Sin(a), math.Cos(a), 0, 0})
		r.Scale(rapid.Float64Range(-1, 1).Draw(t, "shared"), r)
		var p1, p2, cross mat.Dense
		p1.Mul(l1, l1.T())
		p2.Mul(l2, l2.T())
		cross.Product(l1, r, l2.T())
		var wall, rim candidate
		all := mat.NewDense(5, 5, nil)
		for i := range 3 {
			for j := range 3 {
				wall.cov[i][j] = p1.At(i, j)
				all.Set(i, j, p1.At(i, j))
				if i < 2 && j < 2 {
					rim.cov[i][j] = p2.At(i, j)
					all.Set(3+i, 3+j, p2.At(i, j))
				}
				if j < 2 {
					all.Set(i, 3+j, cross.At(i, j))
					all.Set(3+j, i, cross.At(i, j))
				}
			}
		}
		// The estimate is linear: its columns by unit errors of the rim.
		take := mat.NewDense(3, 5, nil)
		var stated [3][3]float64
		for k := range 2 {
			rim.x, rim.y = 0, 0
			*[]*float64{&rim.x, &rim.y}[k] = 1
			move, p := wall.joined(&rim)
			stated = p
			for i := range 3 {
				take.Set(i, 3+k, move[i])
				take.Set(i, k, -move[i])
			}
		}
		for i := range 3 {
			take.Set(i, i, take.At(i, i)+1)
		}
		var is mat.Dense
		is.Product(take, all, take.T())
		over := mat.NewSymDense(3, nil)
		for i := range 3 {
			for j := range i + 1 {
				over.SetSym(i, j, stated[i][j]-is.At(i, j))
			}
		}
		var e mat.EigenSym
		require.True(t, e.Factorize(over, false))
		least := e.Values(nil)[0]
		assert.Greater(t, least, -1e-9*(1+stated[0][0]+stated[1][1]+stated[2][2]))
	})
}

// A rim that lies elsewhere, or is wider, is not the wall's: it changes nothing. One
// that agrees and was seen where the wall was not makes the centre and the radius
// surer.
func TestJoinWhereTheyAgree(t *testing.T) {
	var fc face
	// A wall of a third of the circumference toward +y: its centre's y and its radius
	// are correlated.
	wall := candidate{face: &fc, r: 3, from: Wall, dof: 30, extraR: 0.004,
		cov: [3][3]float64{{1e-4, 0, 0}, {0, 16e-4, -11e-4}, {0, -11e-4, 9e-4 + 16e-6}}}
	rim := candidate{face: &fc, r: 3.01, from: Rim, dof: 20, extraR: 0.03,
		cov: [3][3]float64{{1e-4, 0, 0}, {0, 1e-4, 0}, {0, 0, 1e-3}}}
	for _, off := range []candidate{
		{x: 0.06, r: rim.r}, {y: 0.16, r: rim.r}, {r: 3.2}, {r: 2.8},
	} {
		as, other := wall, rim
		other.x, other.y, other.r = off.x, off.y, off.r
		as.join(&other)
		assert.Equal(t, wall, as)
	}
	as, other := wall, rim
	other.y = 0.03
	as.join(&other)
	assert.Equal(t, Both, as.from)
	assert.Less(t, as.cov[0][0]+as.cov[1][1], 3e-4) // 17e-4 and 2e-4 apart
	assert.Less(t, as.cov[2][2], 6e-4)
	assert.Greater(t, as.cov[2][2], 16e-6)
	assert.Greater(t, as.y, 0.02) // toward the rim's centre
	assert.Less(t, as.r, 3-0.01)  // and the radius with it
	assert.Equal(t, 20.0, as.dof)

	// A wall seen all round is not helped by a rim that is less sure.
	round := candidate{face: &fc, r: 3, from: Wall, dof: 30, cov: [3][3]float64{{1e-5, 0, 0}, {0, 1e-5, 0}, {0, 0, 5e-6}}}
	as = round
	as.join(&rim)
	assert.Equal(t, round, as)
}

// Holes whose walls a scanner saw over 110 degrees and whose rims it saw all round. By
// the wall alone the centres are off by 0.032 mm each way, together by 0.013. As four
// holes of a part share some noise, a part counts for five of its eight coordinates.
// False-alarm rate: 1e-3.
func TestWallAndRimTogether(t *testing.T) {
	const pitch, voxel, d = 40.0, 0.36, 7.0
	parts := trials.Of(2, 1)
	var alone, both float64
	holes, single := 0, 0
	for seed := range uint64(parts) {
		rng := rand.New(rand.NewPCG(seed, 82))
		part := scansim.Flange(scansim.FlangeSpec{Diameter: 54, Thickness: 5, Bore: 14, PitchDiameter: pitch, HoleDiameter: d, Holes: 4})
		var gap [4]float64
		for k := range gap {
			gap[k] = 2 * math.Pi * rng.Float64()
		}
		s, seg, truth := simulate(t, part, scansim.FusedOptions{Seed: seed, Voxel: voxel, Noise: 0.02, InPlace: true, ShowHidden: true,
			Drop: func(p r3.Vector) bool {
				for k := range gap {
					sin, cos := math.Sincos(2 * math.Pi * float64(k) / 4)
					x, y := p.X-pitch/2*cos, p.Y-pitch/2*sin
					if r := math.Hypot(x, y); p.Z < -voxel && r < d/2+1 {
						return math.Abs(math.Remainder(math.Atan2(y, x)-gap[k], 2*math.Pi)) < 125*math.Pi/180
					}
				}
				return false
			}})
		off := func(h Hole) (float64, bool) {
			for _, tr := range truth.Holes {
				if e := h.Centre.Sub(tr.Centre).Cross(tr.Axis).Norm(); h.Kind == Round && h.Diameter < 10 && e < 1 {
					return e * e, true
				}
			}
			return 0, false
		}
		m, err := Measure(t.Context(), s, seg, Options{})
		require.NoError(t, err)
		for _, h := range m.Holes {
			if e, ok := off(h); ok && h.From == Both {
				assert.Greater(t, h.Arc.Degrees(), 300.0)
				both += e
				holes++
			}
		}
		// The walls alone.
		f, err := newFinder(t.Context(), s, seg, 0)
		require.NoError(t, err)
		require.NoError(t, f.findRims(t.Context()))
		var walls []*candidate
		for i := range f.cylinders {
			c := &f.cylinders[i]
			for _, fc := range f.faces {
				if w, ok := f.wallOn(fc, c, f.sunk(fc, c)); ok && fc.flat.n.Z > 0 {
					walls = append(walls, &w)
				}
			}
		}
		require.NoError(t, f.weighAll(t.Context(), walls))
		for _, w := range walls {
			if e, ok := off(w.hole()); ok {
				alone += e
				single++
			}
		}
	}
	assert.GreaterOrEqual(t, holes, trials.Least(4*parts, 0.97, 1e-4)) // a few of a hundred do not agree
	ratio := math.Sqrt(both / float64(holes) / (alone / float64(single)))
	_, high := trials.RMSRatio(5*parts, 5*parts, 2e-3)
	assert.Less(t, ratio, 0.013/0.032*high)
}

// A hole whose wall below the edge stands 0.2 mm beside its rim is reported, and its
// wall taken; the others of the part are not. (A wall is sure to 0.005 mm here, a rim
// to 0.01.)
func TestRimBesideItsWall(t *testing.T) {
	const pitch, d = 40.0, 7.0
	part := scansim.Flange(scansim.FlangeSpec{Diameter: 54, Thickness: 5, Bore: 14, PitchDiameter: pitch, HoleDiameter: d, Holes: 4})
	s, seg, _ := simulate(t, part, scansim.FusedOptions{Seed: 3, Voxel: 0.41, Noise: 0.01, InPlace: true,
		Drop: func(p r3.Vector) bool { return p.Z < -4 }})
	for i := range s.Offsets {
		if p := s.Point(i); p.Z < -1 && math.Hypot(p.X-pitch/2, p.Y) < d/2+0.5 {
			s.Offsets[i][0] += 0.2
		}
	}
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	told := 0
	for _, h := range m.Holes {
		if h.Centre.Distance(r3.Vector{X: pitch / 2}) < 1 {
			assert.Equal(t, Wall, h.From)
			assert.InDelta(t, 0.2, h.RimOff, 0.05)
			assert.InDelta(t, pitch/2+0.2, h.Centre.X, 0.03)
			told++
		} else {
			assert.Zero(t, h.RimOff)
		}
	}
	assert.Equal(t, 1, told)
	assert.Contains(t, strings.Join(m.Warnings, "\n"), "the rim's centre lies up to 0.")
}
