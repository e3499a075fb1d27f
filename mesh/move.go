package mesh

import "github.com/golang/geo/r3"

// In returns a copy of the scan in the frame with the given origin and unit axes, which are
// perpendicular to each other.
func (s *Scan) In(origin, x, y, z r3.Vector) *Scan {
	turn := func(v r3.Vector) r3.Vector { return r3.Vector{X: v.Dot(x), Y: v.Dot(y), Z: v.Dot(z)} }
	turned := func(in []Vec32) []Vec32 {
		if in == nil {
			return nil
		}
		out := make([]Vec32, len(in))
		for i, v := range in {
			out[i] = vec32(turn(v.R3()))
		}
		return out
	}
	out := *s
	out.Origin = turn(s.Origin.Sub(origin))
	out.Offsets, out.Normals = turned(s.Offsets), turned(s.Normals)
	return &out
}
