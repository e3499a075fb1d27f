package segment

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"spotface/mesh"
)

// Beside a large face hang a closed speck and, open, the wall of a pin, the wall of a
// hole, and a small face. Only the speck is junk.
func TestClosedSpecksAreJunk(t *testing.T) {
	s := &mesh.Scan{}
	from := map[string][2]int{}
	sheet := func(name string, n, m int, at func(u, v float64) (p, normal mesh.Vec32)) {
		first := int32(s.Len())
		for j := range m {
			for i := range n {
				p, normal := at(float64(i)/float64(n-1), float64(j)/float64(m-1))
				s.Offsets, s.Normals = append(s.Offsets, p), append(s.Normals, normal)
				if i > 0 && j > 0 {
					d := first + int32(j*n+i)
					c, b, a := d-1, d-int32(n), d-int32(n)-1
					s.Triangles = append(s.Triangles, [3]int32{a, b, d}, [3]int32{a, d, c})
				}
			}
		}
		from[name] = [2]int{int(first), s.Len()}
	}
	flat := func(x, size float64) func(u, v float64) (p, n mesh.Vec32) {
		return func(u, v float64) (p, n mesh.Vec32) {
			return mesh.Vec32{float32(x + size*u), float32(size * v), 0}, mesh.Vec32{0, 0, 1}
		}
	}
	wall := func(x, side float64) func(u, v float64) (p, n mesh.Vec32) {
		return func(u, v float64) (p, n mesh.Vec32) {
			sin, cos := math.Sincos(5 * u)
			return mesh.Vec32{float32(x + cos), float32(sin), float32(2 * v)}, mesh.Vec32{float32(side * cos), float32(side * sin), 0}
		}
	}
	sheet("large", 100, 100, flat(0, 30))
	sheet("face", 8, 8, flat(-10, 2))
	sheet("pin", 16, 6, wall(-20, 1))
	sheet("hole", 16, 6, wall(-30, -1))
	first := int32(s.Len()) // a closed speck: a tetrahedron
	s.Offsets = append(s.Offsets, mesh.Vec32{-40}, mesh.Vec32{-39}, mesh.Vec32{-40, 1}, mesh.Vec32{-40, 0, 1})
	s.Normals = append(s.Normals, s.Normals[:4]...)
	for _, c := range [][3]int32{{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {0, 3, 2}} {
		s.Triangles = append(s.Triangles, [3]int32{first + c[0], first + c[1], first + c[2]})
	}
	from["speck"] = [2]int{int(first), s.Len()}
	got, err := junkOf(t.Context(), s, 0)
	assert.NoError(t, err)
	for name, r := range from {
		for i := r[0]; i < r[1]; i++ {
			if !assert.Equal(t, name == "speck", got != nil && got[i], "%s", name) {
				break
			}
		}
	}
}
