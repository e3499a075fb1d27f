package segment

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/scanio"
)

// model is a tessellated solid under construction, as a modeller would write
// it: exact vertices, only on edges.
type model struct {
	tris [][3]r3.Vector
}

func (m *model) tri(a, b, c r3.Vector) { m.tris = append(m.tris, [3]r3.Vector{a, b, c}) }

// quad adds a, b, c, d, counter-clockwise from outside, as two triangles.
func (m *model) quad(a, b, c, d r3.Vector) { m.tri(a, b, c); m.tri(a, c, d) }

// ring returns n points of a circle about (x, y) at height z, counter-clockwise
// from the angle phase, degrees.
func ring(n int, radius, x, y, z, phase float64) []r3.Vector {
	return arcPoints(n, radius, x, y, z, phase, phase+360*float64(n-1)/float64(n))
}

// arcPoints returns n points of a circle from one angle to another, degrees.
func arcPoints(n int, radius, x, y, z, from, to float64) []r3.Vector {
	out := make([]r3.Vector, n)
	for i := range n {
		a := (from + (to-from)*float64(i)/float64(n-1)) * math.Pi / 180
		out[i] = r3.Vector{X: x + radius*math.Cos(a), Y: y + radius*math.Sin(a), Z: z}
	}
	return out
}

// lifted returns the points moved by dz.
func lifted(pts []r3.Vector, dz float64) []r3.Vector {
	out := make([]r3.Vector, len(pts))
	for i, p := range pts {
		out[i] = r3.Vector{X: p.X, Y: p.Y, Z: p.Z + dz}
	}
	return out
}

// wall closes the strip between two loops of equally many points that run
// counter-clockwise, low and high; outside tells whether it is seen from
// without.
func (m *model) wall(low, high []r3.Vector, outside bool) {
	n := len(low)
	for i := range n {
		j := (i + 1) % n
		if outside {
			m.quad(low[i], low[j], high[j], high[i])
		} else {
			m.quad(low[j], low[i], high[i], high[j])
		}
	}
}

// disc fills a convex loop with a fan, seen from above or below.
func (m *model) disc(loop []r3.Vector, up bool) {
	for i := 1; i < len(loop)-1; i++ {
		if up {
			m.tri(loop[0], loop[i], loop[i+1])
		} else {
			m.tri(loop[0], loop[i+1], loop[i])
		}
	}
}

// between fills the flat ring between an inner and an outer loop, both
// counter-clockwise and of any numbers of points, by the shorter diagonal each
// time.
func (m *model) between(inner, outer []r3.Vector, up bool) {
	add := func(a, b, c r3.Vector) {
		if up {
			m.tri(a, b, c)
		} else {
			m.tri(a, c, b)
		}
	}
	start := 0
	for k := range outer {
		if outer[k].Distance(inner[0]) < outer[start].Distance(inner[0]) {
			start = k
		}
	}
	ni, no := len(inner), len(outer)
	for i, k := 0, 0; i < ni || k < no; {
		p, q := inner[i%ni], outer[(start+k)%no]
		nextIn, nextOut := inner[(i+1)%ni], outer[(start+k+1)%no]
		if k >= no || i < ni && nextIn.Distance(q) < nextOut.Distance(p) {
			add(p, q, nextIn)
			i++
		} else {
			add(p, q, nextOut)
			k++
		}
	}
}

// prism adds a closed upright prism over a convex loop.
func (m *model) prism(loop []r3.Vector, height float64) {
	top := lifted(loop, height)
	m.wall(loop, top, true)
	m.disc(top, true)
	m.disc(loop, false)
}

// latitudes adds a surface of revolution about the line x = y = 0 through the
// profile's points (radius, height), bottom to top.
func (m *model) latitudes(n int, profile [][2]float64, outside bool) {
	for i := range len(profile) - 1 {
		p, q := profile[i], profile[i+1]
		low, high := ring(n, p[0], 0, 0, p[1], 0), ring(n, q[0], 0, 0, q[1], 0)
		switch {
		case p[0] == 0:
			for k := range n {
				m.tri(high[(k+1)%n], high[k], r3.Vector{Z: p[1]})
			}
		case q[0] == 0:
			for k := range n {
				m.tri(low[k], low[(k+1)%n], r3.Vector{Z: q[1]})
			}
		default:
			m.wall(low, high, outside)
		}
	}
}

func arcProfile(n int, radius, x, z, from, to float64) [][2]float64 {
	var out [][2]float64
	for _, p := range arcPoints(n, radius, x, z, 0, from, to) {
		r := p.X
		if math.Abs(r) < 1e-9 {
			r = 0
		}
		out = append(out, [2]float64{r, p.Y})
	}
	return out
}

// square returns the corners of a square about (x, y).
func square(half, x, y, z float64) []r3.Vector {
	return []r3.Vector{
		{X: x - half, Y: y - half, Z: z}, {X: x + half, Y: y - half, Z: z},
		{X: x + half, Y: y + half, Z: z}, {X: x - half, Y: y + half, Z: z},
	}
}

// holePlate adds a plate of square cells, 8 thick, in rows of the given length,
// with a hole of the given number of sides in the middle of each.
func (m *model) holePlate(cell, radius float64, row int, sides []int) {
	const thick = 8
	for i, n := range sides {
		x, y := cell*float64(i%row), cell*float64(i/row)
		hole := ring(n, radius, x, y, 0, 7)
		edge := square(cell/2, x, y, 0)
		m.between(lifted(hole, thick), lifted(edge, thick), true)
		m.between(hole, edge, false)
		m.wall(hole, lifted(hole, thick), false)
		for k, next := range []int{i - row, i + 1, i + row, i - 1} {
			sameRow := next/row == i/row && next >= 0
			if next >= 0 && next < len(sides) && (k%2 == 0 || sameRow) {
				continue // cells meet
			}
			a, b := edge[k], edge[(k+1)%4]
			m.quad(a, b, lifted([]r3.Vector{b}, thick)[0], lifted([]r3.Vector{a}, thick)[0])
		}
	}
}

// pose is a rotation and a shift.
type pose struct {
	x, y, z, shift r3.Vector
}

func randomPose(seed uint64, far float64) pose {
	rng := rand.New(rand.NewPCG(seed, 77))
	normal := func() r3.Vector {
		return r3.Vector{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}
	}
	x := normal().Normalize()
	z := x.Cross(normal()).Normalize()
	return pose{x, z.Cross(x), z, normal().Normalize().Mul(far)}
}

func upright() pose {
	return pose{r3.Vector{X: 1}, r3.Vector{Y: 1}, r3.Vector{Z: 1}, r3.Vector{}}
}

func (p pose) turn(v r3.Vector) r3.Vector {
	return p.x.Mul(v.X).Add(p.y.Mul(v.Y)).Add(p.z.Mul(v.Z))
}

func (p pose) of(v r3.Vector) r3.Vector { return p.turn(v).Add(p.shift) }

// scan writes the model as a binary STL in the pose, so with single precision
// coordinates, and reads it back.
func (m *model) scan(t testing.TB, p pose) *mesh.Scan {
	t.Helper()
	var b bytes.Buffer
	b.Write(make([]byte, 80))
	put := func(v any) { require.NoError(t, binary.Write(&b, binary.LittleEndian, v)) }
	put(uint32(len(m.tris)))
	for _, c := range m.tris {
		put([3]float32{})
		for _, v := range c {
			q := p.of(v)
			put([3]float32{float32(q.X), float32(q.Y), float32(q.Z)})
		}
		put(uint16(0))
	}
	s, err := scanio.ReadFrom(t.Context(), bytes.NewReader(b.Bytes()), int64(b.Len()), "model.stl", scanio.Options{})
	require.NoError(t, err)
	return s
}

// segmented is what segmentPanels makes of the model in a pose.
func (m *model) segmented(t testing.TB, p pose) (*mesh.Scan, *Segmentation) {
	t.Helper()
	s := m.scan(t, p)
	seg, err := segmentPanels(t.Context(), s, Options{})
	require.NoError(t, err)
	require.Len(t, seg.TriangleSurface, len(s.Triangles))
	require.Len(t, seg.PointSurface, s.Len())
	require.Len(t, seg.Surfaces, len(seg.Planes())+len(seg.Cylinders())+len(seg.Cones())+len(seg.Spheres()))
	return s, seg
}
