package fit

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"
)

// EqualCylinders fits K cylinders of one radius, each with an axis of its own,
// from starts: bores of one drill in different faces. Each result's covariance
// is of the joint fit, its residuals are of its own points. For holes square to
// one face JointHoles and JointFace know more. opt.Weights, if any, run through
// the walls in order. Errors name the wall: those of CylinderFrom, and
// ErrNoConvergence.
//
// Method: Gauss–Newton with the single cylinders' blocks eliminated (Björck
// 1996, section 6.3).
func EqualCylinders(starts []Cylinder, walls [][]r3.Vector, opt Options) ([]CylinderFit, error) {
	if len(starts) != len(walls) || len(walls) == 0 {
		return nil, &InputError{"cylinders", -1, r3.Vector{}, "as many starts as walls are needed, and one at least"}
	}
	e := &equalState{}
	var free []CylinderFit
	at := 0
	for i, w := range walls {
		o := Options{MaxIter: opt.MaxIter}
		if opt.Weights != nil {
			if len(opt.Weights) < at+len(w) {
				return nil, &InputError{"cylinders", -1, r3.Vector{}, "as many weights as points are needed"}
			}
			o.Weights = opt.Weights[at : at+len(w)]
			at += len(w)
		}
		f, err := CylinderFrom(starts[i], w, o)
		if err := alone(i, f, err); err != nil {
			return nil, err
		}
		free = append(free, f)
		c, err := columns("cylinder", w, o, 5)
		if err != nil {
			return nil, fmt.Errorf("wall %d: %w", i, err)
		}
		m := &cylinderModel{cur: arcAt(c.in(f.Point), f.Axis, f.Radius/c.scale).level()}
		e.c, e.m = append(e.c, c), append(e.m, m)
		e.n += len(w)
		e.points += c.n
	}
	e.radius = medianRadius(free)
	e.s = make([]sums, len(e.m))
	defer e.close()
	for _, m := range e.m {
		e.crew = append(e.crew, newCrew(m, e.c[len(e.crew)]))
	}
	ok := e.solve(opt.MaxIter)
	out := e.results()
	if !ok {
		return out, noConvergence("cylinders", e.iters)
	}
	return out, nil
}

type equalState struct {
	c         []*cloud
	m         []*cylinderModel
	crew      []*crew
	s         []sums // in mm: rows (δ, ω, r, α, β), lengths of the first in scaled units
	n, points int
	radius    float64
	iters     int
	cost      float64
}

func (e *equalState) close() {
	for _, w := range e.crew {
		w.close()
	}
}

// sum forms each cylinder's normal equations at the accepted states with the
// curvature's column turned into the radius': dk = -k² dr/scale.
func (e *equalState) sum() {
	e.cost = 0
	var zero [maxParams]float64
	for i, m := range e.m {
		scale := e.c[i].scale
		m.cur.k = scale / e.radius
		m.try(&zero)
		s := &e.s[i]
		e.crew[i].sum(s)
		t := -m.cur.k * m.cur.k / scale
		f := [5]float64{1, 1, t, 1, 1}
		for a := range 5 {
			for b := a; b < 5; b++ {
				s.a[a][b] *= f[a] * f[b] * scale * scale
			}
			s.g[a] *= f[a] * scale * scale
		}
		s.f *= scale * scale
		e.cost += s.f
	}
}

// own splits off cylinder i's own block, and returns A⁻¹g, A⁻¹b of it, with b
// the coupling to the radius.
func (e *equalState) own(i int, damp float64) (block sums, ag, ab [maxParams]float64, b [4]float64, ok bool) {
	at := [4]int{0, 1, 3, 4}
	s := &e.s[i]
	for r := range 4 {
		for c := r; c < 4; c++ {
			block.a[r][c] = s.a[at[r]][at[c]]
		}
		b[r] = s.a[min(at[r], 2)][max(at[r], 2)]
	}
	for r := range 4 {
		block.g[r] = -s.g[at[r]]
	}
	ok = normalStep(&block, 4, damp, &ag)
	for r := range 4 {
		block.g[r] = -b[r]
	}
	ok = ok && normalStep(&block, 4, damp, &ab)
	return block, ag, ab, b, ok
}

func (e *equalState) solve(maxIter int) bool {
	if maxIter <= 0 {
		maxIter = 200
	}
	e.sum()
	last, damp := math.Inf(1), 0.0
	old := make([]arc, len(e.m))
	for e.iters < maxIter {
		e.iters++
		var num, den float64
		steps := make([][2][maxParams]float64, len(e.m))
		good := true
		for i := range e.m {
			_, ag, ab, b, ok := e.own(i, damp)
			good = good && ok
			num -= e.s[i].g[2]
			den += e.s[i].a[2][2] * (1 + damp)
			for r := range 4 {
				num += b[r] * ag[r]
				den -= b[r] * ab[r]
			}
			steps[i] = [2][maxParams]float64{ag, ab}
		}
		if !good || !(den > 0) {
			damp = max(10*damp, 1e-6)
			if damp > 1e6 {
				return false
			}
			continue
		}
		dr := num / den
		cost, radius := e.cost, e.radius
		size := 0.0
		e.radius += dr
		for i, m := range e.m {
			old[i] = m.cur
			var d [maxParams]float64
			at := [4]int{0, 1, 3, 4}
			for r := range 4 {
				d[at[r]] = -steps[i][0][r] - steps[i][1][r]*dr
				size += e.s[i].a[at[r]][at[r]] * d[at[r]] * d[at[r]]
			}
			size += e.s[i].a[2][2] * dr * dr
			m.try(&d)
			m.accept()
		}
		size = math.Sqrt(size/float64(e.n)) / e.radius
		e.sum()
		if !(e.radius > 0) || !(e.cost <= cost*(1+1e-12)+float64(e.n)*1e-31*radius*radius) {
			if size < 1e-13 {
				return true
			}
			e.radius = radius
			for i, m := range e.m {
				m.cur = old[i]
			}
			e.sum()
			damp, last = max(10*damp, 1e-6), math.Inf(1)
			if damp > 1e9 {
				return false
			}
			continue
		}
		if damp /= 10; damp < 1e-9 {
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

func (e *equalState) results() []CylinderFit {
	var variance float64
	free := e.points - 4*len(e.m) - 1
	if free > 0 {
		variance = e.cost / float64(free)
	}
	var den float64
	for i := range e.m {
		_, _, ab, b, _ := e.own(i, 0)
		den += e.s[i].a[2][2]
		for r := range 4 {
			den -= b[r] * ab[r]
		}
	}
	var out []CylinderFit
	for i, m := range e.m {
		c, scale := e.c[i], e.c[i].scale
		block, _, ab, _, _ := e.own(i, 0)
		inv, _, _ := block.inverse(4)
		// In the order (δ, ω, k, α, β), dk = -k² dr/scale.
		t := -m.cur.k * m.cur.k / scale
		at := [4]int{0, 1, 3, 4}
		var cov matrix
		cov[2][2] = variance / den * t * t
		for r := range 4 {
			v := -ab[r] / den * variance * t
			cov[at[r]][2], cov[2][at[r]] = v, v
			for q := range 4 {
				cov[at[r]][at[q]] = variance * (inv[r][q] + ab[r]*ab[q]/den)
			}
		}
		a := m.cur
		to := a.cylinderMap()
		full := propagate(&to, &cov, 5, 5)
		ctr := a.centre()
		f := CylinderFit{Cylinder: Cylinder{c.back(ctr.Sub(a.w.Mul(ctr.Dot(a.w)))), a.w, e.radius}, Iters: e.iters}
		unit := [5]float64{scale, scale, 1, 1, scale}
		for r := range 5 {
			for q := range 5 {
				f.Cov[r][q] = full[r][q] * unit[r] * unit[q]
			}
		}
		r := summarise(m, c)
		f.Residuals = r.summary(0, scale)
		f.Residuals.Sigma = math.Sqrt(variance)
		out = append(out, f)
	}
	return out
}
