package fit

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// jointState is a face n·p = h and K circles of one radius about centres
// (u, v) along e1, e2, all square to n. Shared parameters: (h, a, b, r), a and b
// tilts of n toward e1 and e2. With x, y, z the coordinates along e1, e2, n and
// φ the direction from the centre:
//
//	wall  f = |(x - u, y - v)| - r    ∂f/∂u = -cos φ   ∂f/∂a = -z cos φ   ∂f/∂r = -1
//	face  f = z - h                   ∂f/∂h = -1       ∂f/∂a = x
type jointState struct {
	c         *cloud
	ends      []int // of the face's points, then of each hole's
	n, e1, e2 r3.Vector
	h, radius float64
	uv        [][2]float64
	hasFace   bool

	// Sums over the holes' points: own block, coupling to the shared ones,
	// gradient.
	own  [][2][2]float64
	to   [][2][4]float64
	grad [][2]float64
	// Shared block and gradient, cost.
	a      [4][4]float64
	g      [4]float64
	cost   float64
	wallSS float64
	iters  int
}

func newJointState(c *cloud, face Plane, ends []int) *jointState {
	j := &jointState{c: c, ends: ends, n: face.Normal, hasFace: ends[0] > 0}
	j.e1, j.e2 = Frame(j.n)
	j.h = c.in(face.Point).Dot(j.n)
	k := len(ends) - 1
	j.uv = make([][2]float64, k)
	j.own = make([][2][2]float64, k)
	j.to = make([][2][4]float64, k)
	j.grad = make([][2]float64, k)
	return j
}

// alone says whether hole i's own fit serves as a start. One whose radius is
// not told does: the others tell it.
func alone(i int, f CylinderFit, err error) error {
	var flat *FlatError
	if err == nil || errors.As(err, &flat) && f.Radius > 0 || errors.Is(err, ErrNoConvergence) && f.Radius > 0 {
		return nil
	}
	return fmt.Errorf("hole %d: %w", i, err)
}

func medianRadius(fits []CylinderFit) float64 {
	r := make([]float64, len(fits))
	for i, f := range fits {
		r[i] = f.Radius
	}
	slices.Sort(r)
	return r[len(r)/2]
}

func (j *jointState) wallCount() int { return j.ends[len(j.ends)-1] - j.ends[0] }

// sum forms the normal equations at the state.
func (j *jointState) sum() {
	j.a, j.g, j.cost, j.wallSS = [4][4]float64{}, [4]float64{}, 0, 0
	for lo := 0; lo < j.ends[0]; lo += chunk {
		j.sumFace(lo, min(lo+chunk, j.ends[0]))
	}
	for i := range j.uv {
		j.own[i], j.to[i], j.grad[i] = [2][2]float64{}, [2][4]float64{}, [2]float64{}
		for lo := j.ends[i]; lo < j.ends[i+1]; lo += chunk {
			j.sumHole(i, lo, min(lo+chunk, j.ends[i+1]))
		}
	}
	for r := range 4 {
		for s := range r {
			j.a[r][s] = j.a[s][r]
		}
	}
	if !j.hasFace { // held: h, a and b do not move
		for k := range 3 {
			j.a[k] = [4]float64{}
			for s := range 4 {
				j.a[s][k] = 0
			}
			j.a[k][k], j.g[k] = 1, 0
			for i := range j.to {
				j.to[i][0][k], j.to[i][1][k] = 0, 0
			}
		}
	}
}

func (j *jointState) sumFace(lo, hi int) {
	c := j.c
	var ha, hb, aa, ab, bb, gh, ga, gb, ff, ww float64
	for i := lo; i < hi; i++ {
		p := r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]}
		w := 1.0
		if c.sw != nil {
			w = c.sw[i] * c.sw[i]
		}
		f, x, y := p.Dot(j.n)-j.h, p.Dot(j.e1), p.Dot(j.e2)
		ww += w
		ha -= w * x
		hb -= w * y
		aa += w * x * x
		ab += w * x * y
		bb += w * y * y
		gh -= w * f
		ga += w * x * f
		gb += w * y * f
		ff += w * f * f
	}
	j.a[0][0] += ww
	j.a[0][1] += ha
	j.a[0][2] += hb
	j.a[1][1] += aa
	j.a[1][2] += ab
	j.a[2][2] += bb
	j.g[0] += gh
	j.g[1] += ga
	j.g[2] += gb
	j.cost += ff
}

func (j *jointState) sumHole(hole, lo, hi int) {
	c := j.c
	u, v := j.uv[hole][0], j.uv[hole][1]
	var s sums
	for i := lo; i < hi; i++ {
		p := r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]}
		w := 1.0
		if c.sw != nil {
			w = c.sw[i] * c.sw[i]
		}
		x, y, z := p.Dot(j.e1)-u, p.Dot(j.e2)-v, p.Dot(j.n)
		d := math.Sqrt(x*x + y*y + 1e-300)
		cs, sn := x/d, y/d
		f := d - j.radius
		row := [5]float64{-cs, -sn, -z * cs, -z * sn, -1}
		for a := range 5 {
			t := w * row[a]
			for b := a; b < 5; b++ {
				s.a[a][b] += t * row[b]
			}
			s.g[a] += t * f
		}
		s.f += w * f * f
	}
	o, t, g := &j.own[hole], &j.to[hole], &j.grad[hole]
	o[0][0] += s.a[0][0]
	o[0][1] += s.a[0][1]
	o[1][0] += s.a[0][1]
	o[1][1] += s.a[1][1]
	for r := range 2 {
		g[r] += s.g[r]
		for k := range 3 {
			t[r][k+1] += s.a[r][k+2]
		}
	}
	for r := range 3 {
		j.g[r+1] += s.g[r+2]
		for k := r; k < 3; k++ {
			j.a[r+1][k+1] += s.a[r+2][k+2]
		}
	}
	j.cost += s.f
	j.wallSS += s.f
}

// reduced is the Schur complement of the holes' blocks in the shared one, and
// its right side; damp multiplies the diagonals.
func (j *jointState) reduced(damp float64) (s sums, ok bool) {
	for r := range 4 {
		for k := range 4 {
			s.a[r][k] = j.a[r][k]
		}
		s.a[r][r] *= 1 + damp
		s.g[r] = j.g[r]
	}
	for i := range j.uv {
		inv, good := inverse2(j.own[i], damp)
		if !good {
			return s, false
		}
		for r := range 4 {
			var x [2]float64 // row r of B' A⁻¹
			for a := range 2 {
				x[a] = j.to[i][0][r]*inv[0][a] + j.to[i][1][r]*inv[1][a]
			}
			for k := range 4 {
				s.a[r][k] -= x[0]*j.to[i][0][k] + x[1]*j.to[i][1][k]
			}
			s.g[r] -= x[0]*j.grad[i][0] + x[1]*j.grad[i][1]
		}
	}
	return s, true
}

func inverse2(m [2][2]float64, damp float64) (inv [2][2]float64, ok bool) {
	a, b, d := m[0][0]*(1+damp), m[0][1], m[1][1]*(1+damp)
	det := a*d - b*b
	if !(det > 1e-14*a*d) {
		return inv, false
	}
	return [2][2]float64{{d / det, -b / det}, {-b / det, a / det}}, true
}

// solve iterates to rounding level. False where it does not converge.
func (j *jointState) solve(maxIter int) bool {
	if maxIter <= 0 {
		maxIter = 100
	}
	j.sum()
	damp, last := 0.0, math.Inf(1)
	n := float64(len(j.c.x))
	var old jointState
	oldUV := make([][2]float64, len(j.uv))
	for j.iters < maxIter {
		j.iters++
		s, ok := j.reduced(damp)
		var step [maxParams]float64
		if ok {
			ok = normalStep(&s, 4, 0, &step)
		}
		if !ok {
			damp = max(10*damp, 1e-6)
			if damp > 1e6 {
				return false
			}
			continue
		}
		old = *j
		copy(oldUV, j.uv)
		size := 0.0
		for k := range 4 {
			size += j.a[k][k] * step[k] * step[k]
		}
		for i := range j.uv {
			inv, _ := inverse2(j.own[i], damp)
			var rhs, d [2]float64
			for r := range 2 {
				rhs[r] = -j.grad[i][r]
				for k := range 4 {
					rhs[r] -= j.to[i][r][k] * step[k]
				}
			}
			for r := range 2 {
				d[r] = inv[r][0]*rhs[0] + inv[r][1]*rhs[1]
				size += j.own[i][r][r] * d[r] * d[r]
				j.uv[i][r] += d[r]
			}
		}
		size = math.Sqrt(size / n)
		j.h += step[0]
		j.radius += step[3]
		nn := unit(j.n.Add(j.e1.Mul(step[1])).Add(j.e2.Mul(step[2])))
		e1 := j.e1.Sub(j.n.Mul(step[1]))
		j.e1 = unit(e1.Sub(nn.Mul(e1.Dot(nn))))
		j.n = nn
		j.e2 = j.n.Cross(j.e1)
		j.sum()
		if !(j.cost <= old.cost*(1+1e-12)+n*1e-31) {
			if size < 1e-13 {
				return true
			}
			j.n, j.e1, j.e2, j.h, j.radius = old.n, old.e1, old.e2, old.h, old.radius
			copy(j.uv, oldUV)
			j.sum()
			damp, last = max(10*damp, 1e-6), math.Inf(1)
			if damp > 1e9 {
				return false
			}
			continue
		}
		damp /= 10
		if damp < 1e-9 {
			damp = 0
		}
		rate := 1.0
		if last < 1 {
			rate = size / last
		}
		if size < 1e-17 || size < 1e-9 && (rate > 0.9 && size < 1e-14 || size*rate < 1e-18) {
			return true
		}
		last = size
	}
	return false
}
