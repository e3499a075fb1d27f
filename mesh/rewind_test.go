package mesh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// volumeOf returns the volume that the windings enclose.
func volumeOf(s *Scan) (v float64) {
	for i, t := range s.Triangles {
		v += s.Offsets[t[0]].R3().Dot(s.areaVector(i)) / 6
	}
	return v
}

// boxMesh returns a box of n³ squares a face, from -h to h, wound outward.
func boxMesh(n int, h float32) *Scan {
	s := &Scan{}
	number := map[Vec32]int32{}
	vertex := func(v Vec32) int32 {
		i, ok := number[v]
		if !ok {
			i = int32(len(s.Offsets))
			number[v] = i
			s.Offsets = append(s.Offsets, v)
		}
		return i
	}
	step := 2 * h / float32(n)
	for axis := range 3 {
		for _, side := range []float32{-h, h} {
			for i := range n {
				for j := range n {
					at := func(a, b int) int32 {
						var v Vec32
						v[axis] = side
						v[(axis+1)%3] = float32(i+a)*step - h
						v[(axis+2)%3] = float32(j+b)*step - h
						return vertex(v)
					}
					a, b, c, d := at(0, 0), at(1, 0), at(1, 1), at(0, 1)
					if side < 0 {
						b, d = d, b
					}
					s.Triangles = append(s.Triangles, [3]int32{a, b, c}, [3]int32{a, c, d})
				}
			}
		}
	}
	return s
}

// add appends a mesh at an offset, turned inside out if asked for.
func (s *Scan) add(o *Scan, by Vec32, inside bool) {
	base := int32(len(s.Offsets))
	for _, v := range o.Offsets {
		s.Offsets = append(s.Offsets, Vec32{v[0] + by[0], v[1] + by[1], v[2] + by[2]})
	}
	if inside {
		o = flipped(o)
	}
	for _, t := range o.Triangles {
		s.Triangles = append(s.Triangles, [3]int32{t[0] + base, t[1] + base, t[2] + base})
	}
}

// A plate with a square hole, its outline and walls: open below, as scanned
// from above. The windings of a share of its triangles are turned at random.
func TestWindingsAreMadeToAgree(t *testing.T) {
	plate := func() *Scan {
		s := gridMesh(40, 40, func(x, y int) bool { return x > 14 && x < 24 && y > 14 && y < 24 })
		loops := loopsOf(t, s)
		for _, l := range loops { // walls, 5 deep, in five rows
			for row := range 5 {
				base := int32(len(s.Offsets))
				for _, p := range l.Points {
					v := s.Offsets[p]
					v[2] -= float32(row + 1)
					s.Offsets = append(s.Offsets, v)
				}
				n := int32(len(l.Points))
				up := func(i int32) int32 {
					if row == 0 {
						return l.Points[i%n]
					}
					return base - n + i%n
				}
				for i := range n {
					a, b, c, d := up(i), up(i+1), base+i, base+(i+1)%n
					s.Triangles = append(s.Triangles, [3]int32{b, a, c}, [3]int32{b, c, d})
				}
			}
		}
		return s
	}
	want := plate()
	require.NoError(t, want.orientMesh(t.Context(), 1))
	assert.Equal(t, plate().Triangles, want.Triangles, "windings that agree stay")
	assert.Zero(t, want.Removed.Rewound)
	for _, share := range []float64{0.001, 0.01, 0.1, 0.3, 0.5, 0.7, 0.9} {
		rng := rand.New(rand.NewPCG(uint64(1000*share), 1))
		s := plate()
		turned := 0
		for i := range s.Triangles {
			if rng.Float64() < share {
				tr := &s.Triangles[i]
				tr[1], tr[2] = tr[2], tr[1]
				turned++
			}
		}
		require.NoError(t, s.orientMesh(t.Context(), 2))
		for i, tr := range s.Triangles {
			w := want.Triangles[i]
			require.True(t, tr == w || tr == [3]int32{w[1], w[2], w[0]} || tr == [3]int32{w[2], w[0], w[1]},
				"%g turned: triangle %d", share, i)
		}
		assert.Equal(t, turned, s.Removed.Rewound, "%g turned", share)
		assert.False(t, s.Unoriented)
	}
}

// Edges of more than two triangles are not crossed, and those of no partner
// (T-junctions) part the surface, but each part is made to agree.
func TestWindingsAgreeBesideDoubledSheetsAndTJunctions(t *testing.T) {
	ball := func() *Scan {
		s := ringMesh(60, 30, func(v float64) float64 { return 5 * math.Sin(math.Pi*(0.02+0.96*v)) },
			func(v float64) float64 { return -5 * math.Cos(math.Pi*(0.02+0.96*v)) })
		return s
	}
	cases := map[string]func(s *Scan){
		"T-junctions": func(s *Scan) { // every eleventh triangle is cut across its first side
			for i := 0; i < len(s.Triangles); i += 11 {
				tr := s.Triangles[i]
				a, b := s.Offsets[tr[0]], s.Offsets[tr[1]]
				m := int32(len(s.Offsets))
				s.Offsets = append(s.Offsets, Vec32{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2})
				s.Triangles[i] = [3]int32{tr[0], m, tr[2]}
				s.Triangles = append(s.Triangles, [3]int32{m, tr[1], tr[2]})
			}
		},
		"a fin on every tenth edge": func(s *Scan) {
			n := len(s.Triangles)
			for i := 0; i < n; i += 10 {
				tr := s.Triangles[i]
				v := s.Offsets[tr[0]]
				m := int32(len(s.Offsets))
				s.Offsets = append(s.Offsets, Vec32{v[0] * 1.02, v[1] * 1.02, v[2] * 1.02})
				s.Triangles = append(s.Triangles, [3]int32{tr[0], tr[1], m})
			}
		},
		"half of it doubled": func(s *Scan) { // a second sheet on its own vertices, but for a seam
			half := len(s.Triangles) / 2
			number := map[int32]int32{}
			for i := range half {
				tr := s.Triangles[i]
				for k, v := range tr {
					if v%5 == 0 {
						continue
					}
					if _, ok := number[v]; !ok {
						number[v] = int32(len(s.Offsets))
						s.Offsets = append(s.Offsets, s.Offsets[v])
					}
					tr[k] = number[v]
				}
				s.Triangles = append(s.Triangles, tr)
			}
		},
	}
	for name, damage := range cases {
		for _, share := range []float64{0.02, 0.5} {
			rng := rand.New(rand.NewPCG(7, 8))
			s := ball()
			n := len(s.Triangles)
			damage(s)
			for i := range s.Triangles {
				if rng.Float64() < share {
					tr := &s.Triangles[i]
					tr[1], tr[2] = tr[2], tr[1]
				}
			}
			require.NoError(t, s.orientMesh(t.Context(), 2), name)
			inward := 0
			for i := range s.Triangles[:n] {
				if s.areaVector(i).Dot(s.Offsets[s.Triangles[i][0]].R3()) < 0 {
					inward++
				}
			}
			assert.LessOrEqual(t, inward, n/100, "%s, %g turned: of %d triangles so many face inward", name, share, n)
		}
	}
}

func TestInsideOutMeshesAreTurned(t *testing.T) {
	const v1, v2 = 8 * 10 * 10 * 10, 8 * 4 * 4 * 4
	shell := func(parts ...bool) *Scan { // outer inside out, cavity as a cavity is not, second part beside them
		s := &Scan{}
		s.add(boxMesh(8, 10), Vec32{}, parts[0])
		s.add(boxMesh(8, 4), Vec32{3, 1, 0}, !parts[1])
		s.add(boxMesh(8, 4), Vec32{30, 0, 0}, parts[2])
		return s
	}
	for name, c := range map[string]struct {
		s      *Scan
		volume float64
		turned int // boxes
	}{
		"a hollow box and a box":      {shell(false, false, false), v1, 0},
		"all inside out":              {shell(true, true, true), v1, 3},
		"the part beside inside out":  {shell(false, false, true), v1, 1},
		"a part within a part":        {shell(false, true, false), v1 + 2*v2, 0},
		"the hollow box inside out":   {shell(true, true, false), v1, 2},
		"a part with one square open": {func() *Scan { s := shell(true, true, true); s.Triangles = s.Triangles[2:]; return s }(), v1, 3},
	} {
		warned := len(c.s.Warnings)
		n := len(c.s.Triangles)
		require.NoError(t, c.s.orientMesh(t.Context(), 2), name)
		tolerance := 1e-3
		if n%2 != 0 || n < 3*768 {
			tolerance = 100 // what the gap leaves out
		}
		assert.InDelta(t, c.volume, volumeOf(c.s), tolerance, name)
		assert.InDelta(t, c.turned*768, c.s.Removed.Rewound, 2, name)
		assert.Equal(t, c.turned > 0, len(c.s.Warnings) > warned, name)
	}
	// A pocket scanned alone holds a negative volume, and rightly so.
	pocket := flipped(boxMesh(8, 10))
	pocket.Triangles = pocket.Triangles[:len(pocket.Triangles)-2*64] // without its lid
	require.NoError(t, pocket.orientMesh(t.Context(), 2))
	assert.Zero(t, pocket.Removed.Rewound)
	assert.Less(t, volumeOf(pocket), 0.0)
}

// A box of twelve triangles, two of them turned: the points are too few to say
// which side is out, the volume does.
func TestFewTrianglesOfAClosedMeshAreTurned(t *testing.T) {
	s := boxMesh(1, 1)
	s.Triangles[3][1], s.Triangles[3][2] = s.Triangles[3][2], s.Triangles[3][1]
	s.Triangles[8][1], s.Triangles[8][2] = s.Triangles[8][2], s.Triangles[8][1]
	require.NoError(t, s.orientMesh(t.Context(), 1))
	assert.InDelta(t, 8, volumeOf(s), 1e-9)
	assert.Equal(t, 2, s.Removed.Rewound)
	assert.False(t, s.Unoriented)
	assert.Empty(t, s.Warnings)
}

// flipped returns a mesh turned inside out; s is not changed.
func flipped(s *Scan) *Scan {
	out := *s
	out.Triangles = slices.Clone(s.Triangles)
	for i, t := range out.Triangles {
		out.Triangles[i] = [3]int32{t[0], t[2], t[1]}
	}
	return &out
}

func BenchmarkOrientMesh(b *testing.B) {
	s := gridMesh(1200, 1250, nil) // 3 million triangles
	for b.Loop() {
		_ = s.orientMesh(b.Context(), 0)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(s.Triangles)), "ns/triangle")
}
