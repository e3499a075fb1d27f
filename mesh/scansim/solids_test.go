package scansim

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// workshop is a plate with one of everything.
func workshop() *Part {
	return Plate(PlateSpec{
		Corner: 6, StepLength: 20, StepDepth: 3.5,
		Extras: Extras{
			Holes: []HoleSpec{
				{X: -45, Y: 25, Diameter: 9}, {X: -45, Y: -25, Diameter: 6, SinkDiameter: 12},
				{X: 20, Y: 28, Diameter: 8, Depth: 5},
			},
			Slots:   []SlotSpec{{X: -10, Y: -20, Width: 8, Length: 24, Angle: 30 * s1.Degree}},
			Pockets: []PocketSpec{{X: 15, Length: 20, Width: 14, Corner: 4, Angle: 10 * s1.Degree}},
			Bosses:  []BossSpec{{X: -20, Y: 20, Diameter: 14, Height: 6}},
		},
	})
}

func randomIn(rng *rand.Rand, p *Part) r3.Vector {
	size := p.Hi.Sub(p.Lo)
	return p.Lo.Add(r3.Vector{X: size.X * rng.Float64(), Y: size.Y * rng.Float64(), Z: size.Z * rng.Float64()})
}

func TestFieldIsADistance(t *testing.T) {
	for _, p := range []*Part{KettlePort(), workshop()} {
		require.NoError(t, p.err)
		rng := rand.New(rand.NewPCG(1, 1))
		a := newAtlas(p.solid, p.Lo, p.Hi, 0.7)
		for range 3000 {
			q, step := randomIn(rng, p), RandomRotation(rng).Turn(r3.Vector{X: 0.7})
			v := p.solid.at(q)
			va, _ := p.solid.active(q)
			assert.Equal(t, v, va)
			// Never changes faster than the way walked.
			assert.LessOrEqual(t, math.Abs(p.solid.at(q.Add(step))-v), step.Norm()+1e-12)
			assert.Equal(t, v, a.near(q).at(q))
			assert.Equal(t, p.solid.at(q.Add(step)), a.near(q).at(q.Add(step)))
			// Pruning and rows change nothing within reach.
			kept, vp := p.solid.prune(q, (fillSize+1)*0.7)
			assert.Equal(t, v, vp)
			row := make([]float64, fillSize)
			kept.fill(q, step, 2, row)
			for i, got := range row {
				assert.InDelta(t, p.solid.at(q.Add(step.Mul(float64(2+i)))), got, 1e-11)
			}
		}
	}
}

func TestNormalIsTheGradient(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	for _, p := range []*Part{KettlePort(), workshop()} {
		for _, f := range p.Faces {
			for range 20 {
				q := randomIn(rng, p)
				n := f.Normal(q)
				const h = 1e-5
				d := (f.Signed(q.Add(n.Mul(h))) - f.Signed(q.Sub(n.Mul(h)))) / (2 * h)
				assert.InDelta(t, 1, d, 1e-6, f.Role)
			}
		}
	}
}

func TestPartKnowsItsFaces(t *testing.T) {
	p := workshop()
	require.NoError(t, p.err)
	for i, f := range p.Faces {
		assert.Equal(t, i+1, int(f.ID))
		assert.NotEmpty(t, f.Role)
	}
	top := p.FaceNamed("mounting")
	assert.Equal(t, r3.Vector{Z: 1}, top.Axis)
	assert.False(t, p.FaceNamed("boss1").Internal)
	assert.True(t, p.FaceNamed("hole:X1").Internal)
	assert.True(t, p.FaceNamed("sink:X2").Internal)
	assert.Equal(t, r3.Vector{Z: 1}, p.FaceNamed("hole:X3:floor").Axis, "the floor of a blind hole looks out of the material")
	assert.Equal(t, r3.Vector{Z: 1}, p.FaceNamed("step").Axis)
	require.Len(t, p.Holes, 4)
	assert.Equal(t, top.ID, p.Holes[0].Face)
	assert.Equal(t, p.FaceNamed("hole:X1").ID, p.Holes[0].Wall)
	// A sink of 12 mm in a hole of 6 mm at 90 degrees is 3 mm deep.
	sink := p.FaceNamed("sink:X2")
	assert.InDelta(t, 0, sink.Signed(r3.Vector{X: -45 + 6, Y: -25}), 1e-12)
	assert.InDelta(t, 0, sink.Signed(r3.Vector{X: -45 + 3, Y: -25, Z: -3}), 1e-12)
}

func TestImpossiblePartsSaySo(t *testing.T) {
	for name, p := range map[string]*Part{
		"hole in the bore":    Flange(FlangeSpec{Bore: 80}),
		"hole beyond the rim": Flange(FlangeSpec{Diameter: 85}),
		"hole off the plate":  Plate(PlateSpec{Extras: Extras{Holes: []HoleSpec{{X: 70, Diameter: 5}}}}),
		"empty box":           NewPart("x", Ball("b", r3.Vector{}, 1), r3.Vector{}, r3.Vector{}, nil),
		"hole in no face": NewPart("x", Ball("b", r3.Vector{}, 1), r3.Vector{X: -1, Y: -1, Z: -1}, r3.Vector{X: 1, Y: 1, Z: 1},
			[]Hole{{Name: "A"}}),
	} {
		_, _, err := Fused(t.Context(), p, FusedOptions{})
		assert.Error(t, err, name)
		_, _, err = Cloud(t.Context(), p, CloudOptions{})
		assert.Error(t, err, name)
	}
}

func TestBlendsAreDistances(t *testing.T) {
	disc := Disc("mounting", "bottom", "side", r3.Vector{}, 30, 12)
	p := NewPart("grooved", Minus(disc, Ring("groove", r3.Vector{}, r3.Vector{Z: 1}, 20, 4)),
		r3.Vector{X: -30, Y: -30, Z: -12}, r3.Vector{X: 30, Y: 30}, nil)
	require.NoError(t, p.err)
	rng := rand.New(rand.NewPCG(3, 1))
	row := make([]float64, 5)
	for range 1000 {
		q, step := randomIn(rng, p), RandomRotation(rng).Turn(r3.Vector{X: 0.5})
		v := p.solid.at(q)
		assert.LessOrEqual(t, math.Abs(p.solid.at(q.Add(step))-v), step.Norm()+1e-12)
		p.solid.fill(q, step, 0, row)
		for i, got := range row {
			assert.InDelta(t, p.solid.at(q.Add(step.Mul(float64(i)))), got, 1e-11)
		}
		groove := p.FaceNamed("groove")
		n := groove.Normal(q)
		assert.InDelta(t, 1e-6, groove.Signed(q.Add(n.Mul(1e-6)))-groove.Signed(q), 1e-11)
	}
}

// Worked by hand: a plate of 20 mm radius with a boss of 6 mm, a hole through both.
func TestHoleThroughABoss(t *testing.T) {
	p := Flange(FlangeSpec{Diameter: 40, Holes: -1, Extras: Extras{
		Holes:  []HoleSpec{{Diameter: 8}},
		Bosses: []BossSpec{{Diameter: 16, Height: 6}},
	}})
	require.NoError(t, p.err)
	for q, inside := range map[r3.Vector]bool{
		{X: 6, Z: 5}: true, {X: 3, Z: 5}: false, {X: 3, Z: -5}: false, {X: 10, Z: 1}: false,
		{X: 14, Z: -2}: true, {X: -16, Z: -2}: true,
	} {
		assert.Equal(t, inside, p.solid.at(q) < 0, "%v", q)
	}
}
