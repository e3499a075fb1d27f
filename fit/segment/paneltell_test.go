package segment

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/scansim"
)

func TestScansAreNotTakenForModels(t *testing.T) {
	part := scansim.Flange(scansim.FlangeSpec{Diameter: 56, PitchDiameter: 40, SinkDiameter: 10})
	for name, opt := range map[string]scansim.FusedOptions{
		"noisy":                {Noise: 0.05},
		"fine":                 {Noise: 0.003, Voxel: 0.9},
		"without noise":        {},
		"on the grid":          {Aligned: true, InPlace: true},
		"on the grid, sharp":   {Aligned: true, InPlace: true, Smooth: -1},
		"heavily smoothed":     {Noise: 0.02, Smooth: 2, NoiseLength: [3]float64{10, 20, 40}},
		"gaps and a turntable": {Noise: 0.02, Missing: 0.3, Turntable: 150},
	} {
		if testing.Short() && opt.Noise > 0 && name != "noisy" {
			continue
		}
		t.Run(name, func(t *testing.T) {
			opt.Seed = 5
			if opt.Voxel == 0 {
				opt.Voxel = 1.5
			}
			s, _, err := scansim.Fused(t.Context(), part, opt)
			require.NoError(t, err)
			assert.False(t, isTessellated(s), "as scanned")
			if opt.Noise > 0 {
				for _, within := range []float64{0.5 * opt.Noise, 2 * opt.Noise} {
					thin := simplified(s, within)
					require.Less(t, len(thin.Triangles), len(s.Triangles)*9/10)
					assert.False(t, isTessellated(thin), "simplified to %d of %d triangles", len(thin.Triangles), len(s.Triangles))
				}
			}
			for _, step := range []float64{1e-2, 1e-3, 1e-4} {
				assert.False(t, isTessellated(rounded(s, step)), "written in steps of %g mm", step)
			}
			assert.False(t, isTessellated(capped(s)), "closed with flat caps")
		})
	}
}

func TestHeightsInStepsAreNotTakenForAModel(t *testing.T) {
	// A range camera's grid: heights of a bumpy plate in whole steps, noise of
	// about one step, so that many cells come out exactly flat.
	for _, noise := range []float64{0.2, 0.5, 1, 3} {
		rng := rand.New(rand.NewPCG(11, 11))
		const n = 120
		s := &mesh.Scan{}
		for i := range n {
			for j := range n {
				h := math.Round(5*math.Sin(float64(i)/20) + noise*rng.NormFloat64())
				s.Offsets = append(s.Offsets, mesh.Vec32{float32(i) * 0.5, float32(j) * 0.5, float32(h) * 0.0371})
			}
		}
		for i := range n - 1 {
			for j := range n - 1 {
				a := int32(i*n + j)
				s.Triangles = append(s.Triangles, [3]int32{a, a + n, a + n + 1}, [3]int32{a, a + n + 1, a + 1})
			}
		}
		assert.False(t, isTessellated(s), "noise of %g steps", noise)
	}
}

func TestModelsAreTold(t *testing.T) {
	cloud := &mesh.Scan{Offsets: []mesh.Vec32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}}
	assert.False(t, isTessellated(cloud), "a cloud has no facets")
	for _, n := range []int{12, 32, 100} {
		sides := make([]int, 60)
		for i := range sides {
			sides[i] = n
		}
		var m model
		m.holePlate(20, 4.5, 10, sides)
		for name, p := range poses() {
			s := m.scan(t, p)
			assert.True(t, isTessellated(s), "60 holes of %d sides, %s", n, name)
			assert.True(t, isTessellated(rounded(s, 1e-4)), "60 holes of %d sides, %s, four decimals", n, name)
		}
	}
}

func TestRoundingIsReadFromTheNumbers(t *testing.T) {
	var m model
	m.holePlate(20, 4.5, 2, []int{32, 48, 100, 64})
	s := m.scan(t, randomPose(1, 30))
	single := coordinateRounding(s)
	assert.Less(t, single, 1e-5)
	for _, step := range []float64{1e-2, 1e-3, 1e-4} {
		assert.InDelta(t, step/2+single, coordinateRounding(rounded(s, step)), 0.1*single)
	}
	for _, digits := range []int{5, 6} {
		short := *s
		short.Offsets = make([]mesh.Vec32, s.Len())
		for i := range s.Len() {
			p := s.Point(i)
			var q r3.Vector
			fmt.Sscan(fmt.Sprintf("%.*g %.*g %.*g", digits, p.X, digits, p.Y, digits, p.Z), &q.X, &q.Y, &q.Z)
			short.Offsets[i] = vec32(q.Sub(s.Origin))
		}
		_, hi := s.Bounds()
		assert.Greater(t, hi.Norm(), 10.0)
		assert.InDelta(t, math.Pow(10, 2-float64(digits))/2, coordinateRounding(&short), 1e-9+0.95*math.Pow(10, 2-float64(digits))/2)
	}
	// A drawing's own round numbers are no rounding.
	var block model
	for i := range 20 {
		x := 12.5 * float64(i)
		block.prism([]r3.Vector{{X: x, Y: 2.5 * float64(i)}, {X: x + 7.5}, {X: x + 7.5, Y: 60}}, 12.5)
	}
	assert.Less(t, coordinateRounding(block.scan(t, upright())), 1e-4)
}

// rounded is the scan with its coordinates written in decimal steps.
func rounded(s *mesh.Scan, step float64) *mesh.Scan {
	out := *s
	out.Offsets = make([]mesh.Vec32, s.Len())
	for i := range s.Len() {
		p := s.Point(i)
		r := func(x float64) float64 { return math.Round(x/step) * step }
		out.Offsets[i] = vec32(r3.Vector{X: r(p.X), Y: r(p.Y), Z: r(p.Z)}.Sub(s.Origin))
	}
	return &out
}

// capped is the scan with a box of large flat triangles put around it, as an
// editor closes a scan for printing.
func capped(s *mesh.Scan) *mesh.Scan {
	out := *s
	lo, hi := s.Bounds()
	first := int32(s.Len())
	out.Offsets = append([]mesh.Vec32{}, s.Offsets...)
	out.Triangles = append([][3]int32{}, s.Triangles...)
	for _, c := range [][3]float64{{lo.X, lo.Y, lo.Z}, {hi.X, lo.Y, lo.Z}, {hi.X, hi.Y, lo.Z}, {lo.X, hi.Y, lo.Z}} {
		for _, z := range []float64{0, hi.Z - lo.Z} {
			out.Offsets = append(out.Offsets, vec32(r3.Vector{X: c[0], Y: c[1], Z: c[2] + z}.Sub(s.Origin)))
		}
	}
	for _, q := range [][4]int32{{0, 2, 4, 6}, {1, 3, 5, 7}, {0, 2, 3, 1}, {2, 4, 5, 3}, {4, 6, 7, 5}, {6, 0, 1, 7}} {
		out.Triangles = append(out.Triangles, [3]int32{first + q[0], first + q[1], first + q[2]}, [3]int32{first + q[0], first + q[2], first + q[3]})
	}
	return &out
}

// simplified takes out vertices that lie within a distance of the plane of
// their neighbours, over and over: large triangles on faces, small ones on
// curves, as any simplifier leaves them.
func simplified(s *mesh.Scan, within float64) *mesh.Scan {
	tris := append([][3]int32{}, s.Triangles...)
	for range 6 {
		at := make([][]int32, s.Len())
		for t, c := range tris {
			for _, v := range c {
				at[v] = append(at[v], int32(t))
			}
		}
		gone := make([]bool, len(tris))
		locked := make([]bool, s.Len())
		for v := range s.Len() {
			loop := fanLoop(tris, at[v], int32(v))
			if len(loop) < 3 || len(loop) > 12 || locked[v] {
				continue
			}
			var normal r3.Vector
			for i, a := range loop {
				b := loop[(i+1)%len(loop)]
				normal = normal.Add(s.Point(int(a)).Sub(s.Point(v)).Cross(s.Point(int(b)).Sub(s.Point(v))))
			}
			normal = normal.Normalize()
			flat := true
			for _, a := range loop {
				flat = flat && !locked[a] && math.Abs(s.Point(int(a)).Sub(s.Point(v)).Dot(normal)) <= within
			}
			// Fan from a corner of the loop, if no triangle of it turns over.
			for k := 1; flat && k < len(loop)-1; k++ {
				a, b, c := s.Point(int(loop[0])), s.Point(int(loop[k])), s.Point(int(loop[k+1]))
				n := b.Sub(a).Cross(c.Sub(a))
				flat = n.Norm() > 1e-3 && n.Normalize().Dot(normal) > 0.9
			}
			if !flat {
				continue
			}
			for _, t := range at[v] {
				gone[t] = true
			}
			for k := 1; k < len(loop)-1; k++ {
				tris = append(tris, [3]int32{loop[0], loop[k], loop[k+1]})
				gone = append(gone, false)
			}
			locked[v] = true
			for _, a := range loop {
				locked[a] = true
			}
		}
		kept := tris[:0]
		for t, c := range tris {
			if !gone[t] {
				kept = append(kept, c)
			}
		}
		tris = kept
	}
	out := &mesh.Scan{Origin: s.Origin}
	number := map[int32]int32{}
	for _, c := range tris {
		var d [3]int32
		for k, v := range c {
			i, ok := number[v]
			if !ok {
				i = int32(len(out.Offsets))
				number[v] = i
				out.Offsets = append(out.Offsets, s.Offsets[v])
			}
			d[k] = i
		}
		out.Triangles = append(out.Triangles, d)
	}
	return out
}

// fanLoop returns the closed loop of vertices round v, or nil.
func fanLoop(tris [][3]int32, at []int32, v int32) []int32 {
	next := map[int32]int32{}
	for _, t := range at {
		c := tris[t]
		for k := range 3 {
			if c[k] == v {
				next[c[(k+1)%3]] = c[(k+2)%3]
			}
		}
	}
	if len(next) != len(at) || len(at) == 0 {
		return nil
	}
	start := tris[at[0]]
	var first int32
	for k := range 3 {
		if start[k] == v {
			first = start[(k+1)%3]
		}
	}
	loop := []int32{first}
	for a, ok := next[first]; ok && a != first; a, ok = next[a] {
		if len(loop) > len(next) {
			return nil
		}
		loop = append(loop, a)
	}
	if len(loop) != len(next) {
		return nil
	}
	return loop
}
