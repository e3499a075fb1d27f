package scansim

import (
	"math"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// Damage is what careless software does to a mesh: shares of its triangles.
type Damage struct {
	Doubled float64 // come a second time, at the end
	// Rewound have the wrong side out. All of them, 1, is a file that is inside
	// out.
	Rewound float64
	// TJunctions are cut in two at the middle of an edge, which their neighbour
	// keeps whole. The second half comes at the end.
	TJunctions float64
}

// Apply returns the scan s with the damage done to it, and the labels of its
// triangles; labels may be nil. s is not changed.
func (d Damage) Apply(s *mesh.Scan, labels []uint16, seed uint64) (*mesh.Scan, []uint16) {
	rng := rand.New(rand.NewPCG(seed, streamSpoil))
	c := *s
	c.Triangles = slices.Clone(s.Triangles)
	c.Offsets = slices.Clone(s.Offsets)
	again := func(i int, t [3]int32) {
		c.Triangles = append(c.Triangles, t)
		if labels != nil {
			labels = append(labels[:len(labels):len(labels)], labels[i])
		}
	}
	for i := range s.Triangles {
		if rng.Float64() < d.Doubled {
			again(i, c.Triangles[i])
		}
		if t := &c.Triangles[i]; rng.Float64() < d.Rewound {
			t[1], t[2] = t[2], t[1]
		}
	}
	for i := range s.Triangles {
		if d.TJunctions == 0 || rng.Float64() >= d.TJunctions {
			continue
		}
		t := c.Triangles[i]
		a, b := c.Offsets[t[0]], c.Offsets[t[1]]
		m := int32(len(c.Offsets))
		c.Offsets = append(c.Offsets, mesh.Vec32{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2})
		c.Triangles[i][1] = m
		again(i, [3]int32{m, t[1], t[2]})
	}
	c.Source.Points, c.Source.Triangles = len(c.Offsets), len(c.Triangles)
	return &c, labels
}

// Jitter returns the scan s with every point moved by up to size, mm, along
// each axis, evenly distributed. s is not changed.
func Jitter(s *mesh.Scan, size float64, seed uint64) *mesh.Scan {
	rng := rand.New(rand.NewPCG(seed, streamSpoil))
	c := *s
	c.Offsets = make([]mesh.Vec32, len(s.Offsets))
	for i, v := range s.Offsets {
		for k := range v {
			c.Offsets[i][k] = float32(float64(v[k]) + size*(2*rng.Float64()-1))
		}
	}
	return &c
}

// Dust returns n points that lie on nothing, in a cube of the given edge about
// the origin, mm: uniform, or where clusters is not zero in that many clouds of
// normal distribution, of all sizes from a hundredth to a fifth of the edge, each
// drawn out along a direction of its own.
func Dust(seed uint64, n, clusters int, edge float64) []r3.Vector {
	rng := rand.New(rand.NewPCG(seed, streamDust))
	uniform := func() r3.Vector {
		return r3.Vector{X: rng.Float64() - 0.5, Y: rng.Float64() - 0.5, Z: rng.Float64() - 0.5}.Mul(edge)
	}
	pts := make([]r3.Vector, 0, n)
	if clusters <= 0 {
		for range n {
			pts = append(pts, uniform())
		}
		return pts
	}
	at := make([]Pose, clusters)
	size := make([]r3.Vector, clusters)
	for i := range at {
		at[i] = randomRotation(rng)
		at[i].T = uniform()
		s := edge / 100 * math.Pow(20, rng.Float64())
		size[i] = r3.Vector{X: s * (1 + 2*rng.Float64()), Y: s, Z: s}
	}
	for range n {
		i := rng.IntN(clusters)
		p := r3.Vector{X: size[i].X * rng.NormFloat64(), Y: size[i].Y * rng.NormFloat64(), Z: size[i].Z * rng.NormFloat64()}
		pts = append(pts, at[i].Apply(p))
	}
	return pts
}
