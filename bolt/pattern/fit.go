package pattern

import (
	"errors"
	"math"
	"slices"

	"github.com/golang/geo/s1"
	"gonum.org/v1/gonum/mat"
)

// ErrUndetermined means that the places do not determine centre, turn and scale.
var ErrUndetermined = errors.New("pattern: the places do not determine where it lies")

// Places are measured places in a plane.
type Places struct {
	XY [][2]float64 // mm
	// Cov is their joint covariance, mm²: x of place i in row 2i, y in row 2i+1.
	Cov *mat.SymDense
	DOF float64 // degrees of freedom of Cov; 0: the places' errors are normal
}

// own returns the covariance of place i alone.
func (p *Places) own(i int) [2][2]float64 {
	c := p.Cov.At(2*i, 2*i+1)
	return [2][2]float64{{p.Cov.At(2*i, 2*i), c}, {c, p.Cov.At(2*i+1, 2*i+1)}}
}

// Options of To. The zero value lays the pattern on all places, each of which counts
// alike, with centre, turn and scale free.
type Options struct {
	Use    []int       // places that the pattern is laid on; nil means all
	Centre *[2]float64 // where the pattern's origin is held, mm; nil: it is free
	Scale  float64     // at which the pattern is held; 0: it is free
	// ByVariance weighs each place by the inverse of its own covariance.
	ByVariance bool
}

// Fit is a pattern laid on measured places.
type Fit struct {
	Centre [2]float64 // of the pattern's origin, mm
	Turn   s1.Angle   // from the nominal to the measured places
	Scale  float64
	// Misfit is the sum of squares of the used places' distances from the pattern, mm²;
	// with ByVariance each in its own standard uncertainties.
	Misfit float64

	nominal [][2]float64
	places  Places
	gain    *mat.Dense // ∂(centre, turn, scale)/∂(coordinates of the places), 4 by 2n
}

// Deviation is how far a place lies from the pattern, mm, and the covariance of that.
type Deviation struct {
	XY  [2]float64
	Cov [2][2]float64
}

// Value is a quantity and its standard uncertainty.
type Value struct{ Off, U float64 }

// Ratio is the absolute value in standard uncertainties: 0 for zero, +Inf for another
// value without uncertainty.
func (v Value) Ratio() float64 {
	if v.Off == 0 {
		return 0
	}
	return math.Abs(v.Off) / v.U
}

// In returns the part of the deviation in the direction of a unit vector, mm.
func (d Deviation) In(way [2]float64) Value {
	v := quadratic(d.Cov, way, way)
	return Value{d.XY[0]*way[0] + d.XY[1]*way[1], math.Sqrt(max(0, v))}
}

// Polar returns how far place i is turned about the pattern's centre, rad,
// counter-clockwise from where the pattern has it, and how far out it lies, mm.
func (f *Fit) Polar(i int) (turn, out Value) {
	d := f.Off(i)
	u, q := f.Out(i), f.nominal[i]
	turn, out = d.In([2]float64{-u[1], u[0]}), d.In(u)
	r := f.Scale * math.Hypot(q[0], q[1])
	along, from := turn.Off, r+out.Off
	far := math.Hypot(along, from)
	return Value{math.Atan2(along, from), turn.U / far}, Value{far - r, out.U}
}

// To lays nominal, one place for each measured one, on the places of m by least
// squares of
//
//	d_i = p_i - T(q_i),  T(q) = c + s R(w) q
//
// weighted by Options. Gauss-Newton from the closed form (Umeyama, IEEE Trans. PAMI
// 13 (1991) 376-380). The gradient by the measured coordinates is exact: with A = ∂T/∂x
// at the minimum, by the implicit function theorem on Σ Aᵀ W d = 0,
//
//	∂x/∂p = (Σ AᵀWA - Σ (Wd)ᵀ ∂²T)⁻¹ AᵀW
//
// The error is ErrUndetermined.
func To(nominal [][2]float64, m Places, opt Options) (*Fit, error) {
	use := opt.Use
	if use == nil {
		for i := range nominal {
			use = append(use, i)
		}
	}
	f := &Fit{nominal: nominal, places: m, Scale: opt.Scale}
	free := []int{2}
	if opt.Centre == nil {
		free = []int{0, 1, 2}
	}
	if opt.Scale == 0 {
		free = append(free, 3)
	}
	weight := make([][2][2]float64, len(use))
	for k, i := range use {
		weight[k] = [2][2]float64{{1, 0}, {0, 1}}
		if opt.ByVariance {
			c := m.own(i)
			det := c[0][0]*c[1][1] - c[0][1]*c[0][1]
			if !(det > 0) {
				return nil, ErrUndetermined
			}
			weight[k] = [2][2]float64{{c[1][1] / det, -c[0][1] / det}, {-c[0][1] / det, c[0][0] / det}}
		}
	}
	f.start(use, opt.Centre)
	n := len(free)
	step, size := mat.NewVecDense(n, nil), math.Inf(1)
	for turn := 0; ; turn++ {
		normal, bent, rhs := mat.NewSymDense(n, nil), mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
		slopes := mat.NewDense(n, 2*len(nominal), nil) // AᵀW
		f.Misfit = 0
		for k, i := range use {
			a, u := f.slope(i)
			d := f.off(i)
			wd := [2]float64{weight[k][0][0]*d[0] + weight[k][0][1]*d[1], weight[k][1][0]*d[0] + weight[k][1][1]*d[1]}
			f.Misfit += d[0]*wd[0] + d[1]*wd[1]
			var second [4][4]float64 // (Wd)ᵀ ∂²T: ∂²T/∂w² = -s R q, ∂²T/∂w∂s = R' q
			second[2][2] = -f.Scale * (wd[0]*u[0] + wd[1]*u[1])
			second[2][3] = -wd[0]*u[1] + wd[1]*u[0]
			for r, p := range free {
				rhs.SetVec(r, rhs.AtVec(r)+a[p][0]*wd[0]+a[p][1]*wd[1])
				for x := range 2 {
					slopes.Set(r, 2*i+x, a[p][0]*weight[k][0][x]+a[p][1]*weight[k][1][x])
				}
				for c := r; c < n; c++ {
					v := quadratic(weight[k], a[p], a[free[c]])
					normal.SetSym(r, c, normal.At(r, c)+v)
					bent.SetSym(r, c, bent.At(r, c)+v-second[p][free[c]])
				}
			}
		}
		var chol mat.Cholesky
		if !chol.Factorize(normal) || chol.Cond() > maxCondition || chol.SolveVecTo(step, rhs) != nil {
			return nil, ErrUndetermined
		}
		last := size
		size = f.move(free, step)
		if size <= 1e-15 || size >= last/2 && size < 1e-9 || turn > 50 {
			var exact mat.LU
			exact.Factorize(bent)
			gain := mat.NewDense(n, 2*len(nominal), nil)
			if exact.SolveTo(gain, false, slopes) != nil {
				return nil, ErrUndetermined
			}
			f.gain = mat.NewDense(4, 2*len(nominal), nil)
			for r, p := range free {
				f.gain.SetRow(p, gain.RawRowView(r))
			}
			return f, nil
		}
	}
}

// start sets centre, turn and scale in closed form, all places alike.
func (f *Fit) start(use []int, held *[2]float64) {
	var p, q [2]float64 // what the turn is about: the origin where the centre is held, else the centroids
	if held == nil {
		for _, i := range use {
			for x := range 2 {
				p[x] += f.places.XY[i][x] / float64(len(use))
				q[x] += f.nominal[i][x] / float64(len(use))
			}
		}
	} else {
		p = *held
	}
	var dot, cross, square float64
	for _, i := range use {
		a, b := f.nominal[i], f.places.XY[i]
		ax, ay, bx, by := a[0]-q[0], a[1]-q[1], b[0]-p[0], b[1]-p[1]
		dot += ax*bx + ay*by
		cross += ax*by - ay*bx
		square += ax*ax + ay*ay
	}
	if f.Scale == 0 {
		f.Scale = math.Hypot(dot, cross) / square
	}
	f.Turn = s1.Angle(math.Atan2(cross, dot))
	at := f.turned(q)
	f.Centre = [2]float64{p[0] - f.Scale*at[0], p[1] - f.Scale*at[1]}
}

// move adds a step of the free parameters and returns its size, relative to the
// pattern's.
func (f *Fit) move(free []int, step *mat.VecDense) (size float64) {
	var far float64
	for _, q := range f.nominal {
		far = max(far, math.Hypot(q[0], q[1]))
	}
	for r, p := range free {
		v := step.AtVec(r)
		switch p {
		case 2:
			f.Turn += s1.Angle(v)
		case 3:
			f.Scale += v
		default:
			f.Centre[p] += v
			v /= far
		}
		size = max(size, math.Abs(v))
	}
	return size
}

// turned returns R(w) q.
func (f *Fit) turned(q [2]float64) [2]float64 {
	sin, cos := math.Sincos(f.Turn.Radians())
	return [2]float64{cos*q[0] - sin*q[1], sin*q[0] + cos*q[1]}
}

// slope returns ∂T(q_i)/∂(cx, cy, w, s), and R q_i.
func (f *Fit) slope(i int) (a [4][2]float64, u [2]float64) {
	u = f.turned(f.nominal[i])
	return [4][2]float64{{1, 0}, {0, 1}, {-f.Scale * u[1], f.Scale * u[0]}, u}, u
}

func (f *Fit) off(i int) [2]float64 {
	at := f.At(i)
	return [2]float64{f.places.XY[i][0] - at[0], f.places.XY[i][1] - at[1]}
}

// At returns where the pattern has place i, mm.
func (f *Fit) At(i int) [2]float64 {
	u := f.turned(f.nominal[i])
	return [2]float64{f.Centre[0] + f.Scale*u[0], f.Centre[1] + f.Scale*u[1]}
}

// Out returns the unit vector from the pattern's centre toward place i.
func (f *Fit) Out(i int) [2]float64 {
	u := f.turned(f.nominal[i])
	l := math.Hypot(u[0], u[1])
	return [2]float64{u[0] / l, u[1] / l}
}

// Off returns how far place i lies from the pattern. Its covariance is the joint one
// of all places carried through the fit (JCGM 102:2011, 6.2.1.3), the place's own part
// in where the pattern lies among it; a place that the pattern was not laid on has
// none.
func (f *Fit) Off(i int) Deviation {
	a, _ := f.slope(i)
	rows := mat.NewDense(2, 2*len(f.nominal), nil)
	slope := mat.NewDense(2, 4, nil)
	for p := range a {
		slope.Set(0, p, -a[p][0])
		slope.Set(1, p, -a[p][1])
	}
	rows.Mul(slope, f.gain)
	for x := range 2 {
		rows.Set(x, 2*i+x, rows.At(x, 2*i+x)+1)
	}
	var half, cov mat.Dense
	half.Mul(rows, f.places.Cov)
	cov.Mul(&half, rows.T())
	c := (cov.At(0, 1) + cov.At(1, 0)) / 2
	return Deviation{XY: f.off(i), Cov: [2][2]float64{{cov.At(0, 0), c}, {c, cov.At(1, 1)}}}
}

// Without returns the numbers from 0 to n-1 that are not in out.
func Without(n int, out ...int) []int {
	var rest []int
	for i := range n {
		if !slices.Contains(out, i) {
			rest = append(rest, i)
		}
	}
	return rest
}

// quadratic returns aᵀ w b.
func quadratic(w [2][2]float64, a, b [2]float64) float64 {
	return a[0]*(w[0][0]*b[0]+w[0][1]*b[1]) + a[1]*(w[1][0]*b[0]+w[1][1]*b[1])
}
