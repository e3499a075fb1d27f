package hole

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"spotface/mesh/scansim/trials"
)

// sheet is a face of 60 by 60 with an opening, its boundary seen where shown says so (by
// the share of the way round), and noise.
func sheet(o Outline, seed uint64, noise float64, shown func(share float64) bool) Evidence {
	rng := rand.New(rand.NewPCG(seed, 1))
	var face [][2]float64
	for i := range 300 {
		for j := range 300 {
			if p := [2]float64{0.2 * (float64(i) - 149.5), 0.2 * (float64(j) - 149.5)}; o.Off(p) > 0 {
				face = append(face, p)
			}
		}
	}
	c := NewCover(face, 0.2)
	ev := Evidence{Rim: true, Cover: &c, Spacing: 0.2, Noise: math.Hypot(noise, 0.03)}
	per := o.Perimeter()
	for s := 0.0; s < per; s += 0.1 {
		if shown(s / per) {
			u, v, nu, nv := o.at(s)
			e := noise * rng.NormFloat64()
			ev.Pts = append(ev.Pts, o.Global(u+e*nu, v+e*nv))
		}
	}
	return ev
}

func all(float64) bool { return true }

// The foot of a point that lies off an outline's point along its normal is that point.
func TestOutlineIsItsOwnFoot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(1, 20).Draw(t, "a")
		b := rapid.Float64Range(0.2, 1).Draw(t, "b") * a
		c := rapid.Float64Range(0, 1).Draw(t, "c") * b
		o := Outline{X: 3, Y: -2, Angle: rapid.Float64Range(-4, 4).Draw(t, "angle"), A: a, B: b, C: c}
		s := rapid.Float64Range(0, 0.999).Draw(t, "s") * o.Perimeter()
		e := rapid.Float64Range(-0.5, 2).Draw(t, "e") * c
		u, v, nu, nv := o.at(s)
		got, mu, mv := o.off(u+e*nu, v+e*nv)
		if math.Abs(got-e) > 1e-9*a || math.Hypot(mu-nu, mv-nv) > 1e-6 && e > -0.9*c && c > 1e-3 {
			t.Fatalf("%v at %v: off %v of %v, normal %v %v of %v %v", o, s, got, e, mu, mv, nu, nv)
		}
		if foot := o.along(u+e*nu, v+e*nv); math.Abs(foot-s) > 1e-6*a && c > 1e-3 && e > -0.9*c {
			t.Fatalf("%v at %v: foot %v", o, s, foot)
		}
	})
}

// Rows agree with central differences of the distance.
func TestRowsAgainstDifferences(t *testing.T) {
	const d = 1e-6
	for k, o := range map[Kind]Outline{Round: Circle(1, 2, 3), Slot: {1, 2, 0.4, 6, 3, 3}, Rectangle: {1, 2, 0.4, 6, 4, 1}} {
		for s := 0.05; s < 1; s += 0.0937 {
			u, v, nu, nv := o.at(s * o.Perimeter())
			p := o.Global(u+0.1*nu, v+0.1*nv)
			_, nu, nv = o.off(o.local(p))
			u, v = o.local(p)
			row := k.row(u, v, nu, nv)
			for i := range numbers[k] {
				var up, down [6]float64
				up[i], down[i] = d, -d
				hi, lo := o.Moved(k, up[:]), o.Moved(k, down[:])
				assert.InDelta(t, (hi.Off(p)-lo.Off(p))/(2*d), row[i], 1e-5, "%s, number %d at %.2f", k, i, s)
			}
		}
	}
}

// coarseRim is the rim of an opening in a sheet at a spacing of 0.48. Its points lie a third
// farther off it than is known, and those within some 0.8 of each other do so together.
func coarseRim(o Outline, rng *rand.Rand) Evidence {
	const spacing, noise, length, waves = 0.48, 0.08, 0.8, 40
	var face [][2]float64
	for i := range 48 {
		for j := range 48 {
			if p := [2]float64{0.24 * (float64(i) - 23.5), 0.24 * (float64(j) - 23.5)}; o.Off(p) > spacing {
				face = append(face, p)
			}
		}
	}
	c := NewCover(face, spacing/2)
	ev := Evidence{Rim: true, Cover: &c, Spacing: spacing, Noise: 0.75 * noise}
	var wave [waves][3]float64
	for i := range wave {
		wave[i] = [3]float64{rng.NormFloat64() / length, rng.NormFloat64() / length, 2 * math.Pi * rng.Float64()}
	}
	for s := 0.0; s < o.Perimeter(); s += spacing / 2 {
		u, v, nu, nv := o.at(s)
		e := 0.0
		for _, w := range wave {
			e += noise * math.Sqrt(2.0/waves) * math.Cos(w[0]*u+w[1]*v+w[2])
		}
		ev.Pts = append(ev.Pts, o.Global(u+e*nu, v+e*nv))
	}
	return ev
}

// Small rims that share their noise are no slots and squares: of 2,000 holes 2 were, and 248
// with an uncertainty as if all pieces were independent. A slot half as long again as wide is
// one all the same: of 2,000 1,872 were. False-alarm rate: 1e-4 each.
func TestRimsThatShareTheirNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	of := func(o Outline, kind Kind, n int) (is int) {
		start := Outline{X: o.X, Y: o.Y, A: o.A - 0.4, B: o.B - 0.4, C: o.C - 0.4}
		for range n {
			if got, _ := coarseRim(o, rng).Explain(start); got.Kind == kind {
				is++
			}
		}
		return is
	}
	n := trials.Of(100, 50)
	assert.GreaterOrEqual(t, of(Circle(0.1, 0.2, 2.45), Round, n), trials.Least(n, 1998.0/2000, 1e-4))
	n = trials.Of(40, 20)
	assert.GreaterOrEqual(t, of(Outline{X: 0.1, Y: 0.2, A: 3.6, B: 2.4, C: 2.4}, Slot, n), trials.Least(n, 1872.0/2000, 1e-4))
}

// A hole of known size is one though its wall reads wide or narrow as a whole, and though a
// gap of the scan leaves but 200 degrees of it. A straight edge where it should be is none.
func TestPlacedAtAGap(t *testing.T) {
	const r = 2.34
	arc := func(radius, a float64) [2]float64 { return [2]float64{radius * math.Cos(a), radius * math.Sin(a)} }
	for name, c := range map[string]struct {
		rim    bool
		noise  float64
		seen   float64 // degrees
		at     func(a float64) [2]float64
		placed bool
	}{
		"wall":          {false, 0.018, 200, func(a float64) [2]float64 { return arc(r-0.06, a) }, true},
		"rim":           {true, 0.08, 200, func(a float64) [2]float64 { return arc(r, a) }, true},
		"straight wall": {false, 0.018, 110, func(a float64) [2]float64 { return [2]float64{r, r * math.Tan(a)} }, false},
		"straight rim":  {true, 0.08, 110, func(a float64) [2]float64 { return [2]float64{r, r * math.Tan(a)} }, false},
	} {
		shown := func(p [2]float64) bool { return math.Abs(math.Atan2(p[1], p[0])) < c.seen/2*math.Pi/180 }
		ev := Evidence{Rim: c.rim, Spacing: 0.65, Noise: c.noise}
		for a := -math.Pi; a < math.Pi; a += 0.1 {
			if shown(arc(r, a)) {
				ev.Pts = append(ev.Pts, c.at(a))
			}
		}
		var face [][2]float64
		for i := range 60 {
			for j := range 60 {
				p := [2]float64{0.2 * (float64(i) - 29.5), 0.2 * (float64(j) - 29.5)}
				edge := c.at(math.Atan2(p[1], p[0]))
				if d := math.Hypot(p[0], p[1]); d > 4.8 || shown(p) && d > math.Hypot(edge[0], edge[1])+0.2 {
					face = append(face, p)
				}
			}
		}
		cover := NewCover(face, 0.3)
		ev.Cover = &cover
		_, _, ok := ev.Placed(Circle(0, 0, r), 1.7, 0.005)
		assert.Equal(t, c.placed, ok, name)
	}
}

// Openings are what they are, whole or with a third of the boundary missing in one piece.
func TestExplain(t *testing.T) {
	for name, c := range map[string]struct {
		o    Outline
		kind Kind
	}{
		"hole":                      {Circle(1, -1, 4), Round},
		"large opening":             {Circle(0, 0, 20), Round},
		"slot":                      {Outline{2, 1, 0.6, 9, 3, 3}, Slot},
		"slot, a quarter longer":    {Outline{2, 1, 2, 5, 4, 4}, Slot},
		"square, rounded corners":   {Outline{-1, 0, 0.2, 4, 4, 2.5}, Rectangle},
		"rectangle, sharp corners":  {Outline{0, 0, 1, 10, 5, 0.2}, Rectangle},
		"rectangle, almost a slot":  {Outline{0, 0, 1, 9, 5, 3.5}, Rectangle},
		"rectangle, almost a round": {Outline{0, 0, 1, 5, 5, 3.5}, Rectangle},
	} {
		t.Run(name, func(t *testing.T) {
			for missing, shown := range map[string]func(float64) bool{
				"nothing":   all,
				"an eighth": func(s float64) bool { return s < 0.4 || s > 0.525 },
			} {
				ev := sheet(c.o, 7, 0.03, shown)
				places := ev.Cover.Places(t.Context(), 1, func(x, y, r float64) float64 { return 1 })
				require.NotEmpty(t, places)
				start := places[0].Long
				got, ok := ev.Explain(start, Circle(places[0].X, places[0].Y, places[0].R))
				require.True(t, ok, "%s missing: %+v", missing, got)
				assert.Equal(t, c.kind, got.Kind, missing)
				assert.InDelta(t, c.o.A, got.A, 0.05, missing)
				assert.InDelta(t, c.o.B, got.B, 0.05, missing)
				assert.InDelta(t, 0, math.Hypot(got.X-c.o.X, got.Y-c.o.Y), 0.05, missing)
			}
		})
	}
}

// A third of a hole's rim is enough where the face comes up to the rest of it. A slot's
// end alone, and a bay of the face's edge, are no holes.
func TestPartsOfOpenings(t *testing.T) {
	third := func(s float64) bool { return s < 0.33 }
	circle := Circle(0, 0, 5)
	got, ok := sheet(circle, 1, 0.03, third).Explain(circle)
	assert.True(t, ok)
	assert.Equal(t, Round, got.Kind)
	slot := Outline{0, 0, 0, 12, 5, 5}
	end := sheet(slot, 1, 0.03, func(s float64) bool { return s < 0.13 || s > 0.87 })
	got, ok = end.Explain(Circle(7, 0, 5))
	assert.False(t, ok && got.Kind == Round, "%+v", got)
	// A half disc cut out of the edge of the sheet, x = 0.
	ev := sheet(circle, 1, 0.03, all)
	var face, edge [][2]float64
	for i := range 150 {
		for j := range 300 {
			if p := [2]float64{-0.2 * (float64(i) + 0.5), 0.2 * (float64(j) - 149.5)}; circle.Off(p) > 0 {
				face = append(face, p)
			}
		}
	}
	for _, p := range ev.Pts {
		if p[0] < 0 {
			edge = append(edge, p)
		}
	}
	for y := 5.0; y < 20; y += 0.1 {
		edge = append(edge, [2]float64{0, y}, [2]float64{0, -y})
	}
	c := NewCover(face, 0.2)
	ev.Cover, ev.Pts = &c, edge
	got, ok = ev.Explain(circle)
	assert.False(t, ok, "%+v", got)
}

// A groove about an island of the face has the outline of a hole and is none.
func TestIslandIsNoOpening(t *testing.T) {
	o := Circle(0, 0, 8)
	ev := sheet(o, 1, 0.03, all)
	for x := -4.0; x <= 4; x += 0.1 {
		for y := -4.0; y <= 4; y += 0.1 {
			ev.Cover.Mark([2]float64{x, y})
		}
	}
	_, ok := ev.Explain(o)
	assert.False(t, ok)
}

func TestDistanceTransform(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	const nx, ny = 23, 17
	d := make([]float64, nx*ny)
	for i := range d {
		if rng.Float64() > 0.03 {
			d[i] = math.Inf(1)
		}
	}
	want := make([]float64, len(d))
	for i := range d {
		want[i] = math.Inf(1)
		for j := range d {
			if d[j] == 0 {
				dx, dy := i%nx-j%nx, i/nx-j/nx
				want[i] = min(want[i], float64(dx*dx+dy*dy))
			}
		}
	}
	require.NoError(t, distanceTransform(t.Context(), d, nx, ny, 2))
	assert.Equal(t, want, d)
}

// A slot in a face, its boundary seen at 400 points.
func ExampleEvidence_Explain() {
	slot := Outline{X: 10, Y: 5, Angle: 0.5, A: 7, B: 3, C: 3}
	ev := sheet(slot, 1, 0, func(float64) bool { return true })
	found, ok := ev.Explain(Circle(10, 5, 3))
	fmt.Printf("%s, %.2f by %.2f mm, %v\n", found.Kind, 2*found.A, 2*found.B, ok)
	// Output: slot, 14.00 by 6.00 mm, true
}
