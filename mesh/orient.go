package mesh

import "context"

// orient turns normals to one side and reports whether it is the outer one.
func orient(ctx context.Context, pts, normals []Vec32, ix *Index, jobs int) (bool, error) {
	var sx, sy, sz float64
	for _, p := range pts {
		sx, sy, sz = sx+float64(p[0]), sy+float64(p[1]), sz+float64(p[2])
	}
	n := float32(len(pts))
	c := Vec32{float32(sx) / n, float32(sy) / n, float32(sz) / n}
	for i, v := range normals {
		p := pts[i]
		if v[0]*(p[0]-c[0])+v[1]*(p[1]-c[1])+v[2]*(p[2]-c[2]) < 0 {
			normals[i] = Vec32{-v[0], -v[1], -v[2]}
		}
	}
	return false, ctx.Err()
}
