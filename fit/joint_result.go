package fit

import "math"

// result writes the state and its covariance, in the caller's units. False
// where the normal equations are singular.
func (j *jointState) result(out *HolesFit) bool {
	scale := j.c.scale
	out.Face.Normal = j.n
	if j.hasFace {
		out.Face.Point = j.c.back(j.n.Mul(j.h))
	}
	out.Radius = j.radius * scale
	for i := range j.uv {
		p := j.e1.Mul(j.uv[i][0]).Add(j.e2.Mul(j.uv[i][1])).Add(j.n.Mul(j.h))
		out.Centres = append(out.Centres, j.c.back(p))
	}
	params := 2*len(j.uv) + 1
	if j.hasFace {
		params += 3
	}
	j.summaries(out, params)

	s, ok := j.reduced(0)
	if !ok {
		return false
	}
	inv, _, ok := s.inverse(4)
	if !ok {
		return false
	}
	if !j.hasFace {
		for k := range 3 {
			inv[k][k] = 0
		}
	}
	variance := out.Residuals.Sigma / scale
	variance *= variance
	for k := range 4 {
		for l := range 4 {
			out.shared[k][l] = inv[k][l] * variance
		}
	}
	out.RadiusU = math.Sqrt(out.shared[3][3]) * scale
	// From e1, e2 to Frame(n): a turn by an angle about n.
	f1, _ := Frame(j.n)
	c, sn := j.e1.Dot(f1), j.e2.Dot(f1)
	turn := [2][2]float64{{c, sn}, {-sn, c}}
	for a := range 2 {
		for b := range 2 {
			for k := range 2 {
				for l := range 2 {
					out.TiltCov[a][b] += turn[a][k] * turn[b][l] * out.shared[k+1][l+1]
				}
			}
		}
	}
	for i := range j.uv {
		own, _ := inverse2(j.own[i], 0)
		var o [2][2]float64
		var x, y [2][4]float64
		for a := range 2 {
			for k := range 4 {
				x[a][k] = -(own[a][0]*j.to[i][0][k] + own[a][1]*j.to[i][1][k])
			}
			// The centre on the face is h above the pivot of the tilts.
			x[a][a+1] += j.h
		}
		for a := range 2 {
			for b := range 2 {
				for k := range 2 {
					for l := range 2 {
						o[a][b] += turn[a][k] * turn[b][l] * own[k][l] * variance * scale * scale
					}
				}
			}
			for k := range 4 {
				y[a][k] = (turn[a][0]*x[0][k] + turn[a][1]*x[1][k]) * scale
			}
		}
		out.own = append(out.own, o)
		out.cross = append(out.cross, y)
	}
	return true
}

// summaries fills the residual summaries, whole and by part.
func (j *jointState) summaries(out *HolesFit, params int) {
	c := j.c
	part := func(lo, hi int, f func(x, y, z float64) float64) spread {
		s := spread{min: math.Inf(1), max: math.Inf(-1)}
		for i := lo; i < hi; i++ {
			w := 1.0
			if c.sw != nil {
				w = c.sw[i] * c.sw[i]
			}
			if w == 0 {
				continue
			}
			x := c.x[i]*j.e1.X + c.y[i]*j.e1.Y + c.z[i]*j.e1.Z
			y := c.x[i]*j.e2.X + c.y[i]*j.e2.Y + c.z[i]*j.e2.Z
			z := c.x[i]*j.n.X + c.y[i]*j.n.Y + c.z[i]*j.n.Z
			v := f(x, y, z)
			s.n++
			s.min, s.max = min(s.min, v), max(s.max, v)
			s.ss += v * v
			s.wss += w * v * v
		}
		return s
	}
	total := spread{min: math.Inf(1), max: math.Inf(-1)}
	join := func(s spread) {
		total.n += s.n
		total.min, total.max = min(total.min, s.min), max(total.max, s.max)
		total.ss += s.ss
		total.wss += s.wss
	}
	if j.hasFace {
		s := part(0, j.ends[0], func(_, _, z float64) float64 { return z - j.h })
		out.FaceResiduals = s.summary(3, c.scale)
		join(s)
	}
	for i, uv := range j.uv {
		s := part(j.ends[i], j.ends[i+1], func(x, y, _ float64) float64 {
			return math.Hypot(x-uv[0], y-uv[1]) - j.radius
		})
		out.Holes = append(out.Holes, s.summary(2, c.scale))
		join(s)
	}
	out.Residuals = total.summary(params, c.scale)
}
