package pattern

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/s1"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/mesh/geom"
)

// Part is one of two parts that are to be bolted together, seen from the side of the
// joint that the other is seen from, too: of one of two mating faces x is mirrored.
type Part struct {
	Places
	// Clearance is how far, mm, the fastener may move from the centre of each hole:
	// (hole - fastener)/2, and 0 in a tapped hole or for a stud. Where it is negative
	// the fastener does not enter. ClearanceU is its standard uncertainty, or nil.
	Clearance, ClearanceU []float64
}

// Joint is one way to lay the second part on the first.
type Joint struct {
	// Turn and Shift, mm, lay the second part's places on the first's:
	// p = Shift + R(Turn) q.
	Turn  s1.Angle
	Shift [2]float64
	// Pairs are the places of the first and of the second part that share a fastener.
	Pairs [][2]int
	// Float is the radial clearance that is left at each pair, mm; where it is
	// negative, so much is lacking.
	Float []float64
	// Worst is the pair with the least float, and Spare that float: the parts go
	// together if it is not negative. All clearances may shrink by it, and no other
	// turn and shift leave the worst pair more than Spare + Gap.
	Worst      int
	Spare, Gap float64

	seat    *seat
	program geom.LinearProgram // of the last laying, solved
}

// Assemble finds the ways to lay part b on part a so that each place of the one with
// fewer places shares a fastener with one of the other, the one with most float first:
// for a full ring one a turn. A pair goes together if
//
//	|a_i - T(b_j)| ≤ g_i + g_j,  T(q) = t + R(w) q
//
// with g the clearances: for equal holes H and fasteners F that is H - F, and (H - F)/2
// if one part is tapped, which are the sums of the two parts' position tolerances for
// floating and fixed fasteners (ASME Y14.5, formulas from memory). T makes the least
// float greatest: cutting planes (Kelley, J. SIAM 8 (1960) 703-712) on the convex
// problem that is linear in the turn, laid anew at each.
//
// Places that no turn brings together are no joint: then there is none. It is an error if
// a part has fewer than two places or if the numbers of places, clearances and covariances
// differ.
func Assemble(ctx context.Context, a, b Part) ([]Joint, error) {
	for _, p := range []Part{a, b} {
		n := len(p.XY)
		if n < 2 || len(p.Clearance) != n || p.Cov == nil || p.Cov.SymmetricDim() != 2*n || p.ClearanceU != nil && len(p.ClearanceU) != n {
			return nil, fmt.Errorf("assemble: a part of %d places needs as many clearances, a covariance of %d rows, and at least 2 places", n, 2*n)
		}
	}
	if len(a.XY) < len(b.XY) {
		joints, err := Assemble(ctx, b, a)
		for k := range joints {
			joints[k].swap()
		}
		return joints, err
	}
	var out []Joint
	for _, pairs := range pairings(a.XY, b.XY) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		g, err := newSeat(a, b, pairs)
		if err != nil {
			continue // places that lie at one point
		}
		out = append(out, g.best())
	}
	slices.SortStableFunc(out, func(a, b Joint) int { return cmp.Compare(b.Spare, a.Spare) })
	return out, nil
}

// swap exchanges the two parts.
func (j *Joint) swap() {
	sin, cos := math.Sincos(-j.Turn.Radians())
	x, y := -j.Shift[0], -j.Shift[1]
	j.Turn, j.Shift = -j.Turn, [2]float64{cos*x - sin*y, sin*x + cos*y}
	for k, p := range j.Pairs {
		j.Pairs[k] = [2]int{p[1], p[0]}
	}
}

// pairings returns the ways to give each of the places b one of its own among a: those
// that a turn and shift through two places of each bring within a part of the least
// distance between any two of one part.
func pairings(a, b [][2]float64) (out [][][2]int) {
	least := math.Inf(1)
	for _, part := range [][][2]float64{a, b} {
		for i := range part {
			for j := range i {
				least = min(least, distance(part[i], part[j]))
			}
		}
	}
	var p, q int // of b, farthest apart
	for i := range b {
		for j := range b {
			if distance(b[i], b[j]) > distance(b[p], b[q]) {
				p, q = i, j
			}
		}
	}
	seen := map[string]bool{}
	for i := range a {
		for j := range a {
			if i == j || math.Abs(distance(a[i], a[j])-distance(b[p], b[q])) >= 2*nearby*least {
				continue
			}
			turn := math.Atan2(a[j][1]-a[i][1], a[j][0]-a[i][0]) - math.Atan2(b[q][1]-b[p][1], b[q][0]-b[p][0])
			sin, cos := math.Sincos(turn)
			pairs := make([][2]int, 0, len(b))
			taken := make([]bool, len(a))
			for k, v := range b {
				// About the middle of the two, so that both are off alike.
				x, y := v[0]-(b[p][0]+b[q][0])/2, v[1]-(b[p][1]+b[q][1])/2
				at := [2]float64{(a[i][0]+a[j][0])/2 + cos*x - sin*y, (a[i][1]+a[j][1])/2 + sin*x + cos*y}
				near := 0
				for m := range a {
					if distance(a[m], at) < distance(a[near], at) {
						near = m
					}
				}
				if taken[near] || distance(a[near], at) >= nearby*least {
					break
				}
				taken[near] = true
				pairs = append(pairs, [2]int{near, k})
			}
			if key := fmt.Sprint(pairs); len(pairs) == len(b) && !seen[key] {
				seen[key] = true
				out = append(out, pairs)
			}
		}
	}
	return out
}

func distance(a, b [2]float64) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }

// seat is a pairing near its best turn and shift, linear in both. Pair k lies
//
//	r_k - t - w p_k
//
// from its place, p_k the place turned by a right angle over the pattern's size, so
// that w is in mm, and has the clearance g_k.
type seat struct {
	a, b  Part
	pairs [][2]int
	fit   *Fit
	size  float64
	r, p  [][2]float64
	g     []float64
}

func newSeat(a, b Part, pairs [][2]int) (*seat, error) {
	s := &seat{a: a, b: b, pairs: pairs}
	measured := Places{Cov: mat.NewSymDense(2*len(pairs), nil)}
	nominal := make([][2]float64, len(pairs))
	for k, pair := range pairs {
		measured.XY = append(measured.XY, a.XY[pair[0]])
		nominal[k] = b.XY[pair[1]]
		s.g = append(s.g, a.Clearance[pair[0]]+b.Clearance[pair[1]])
	}
	var err error
	if s.fit, err = To(nominal, measured, Options{Scale: 1}); err != nil {
		return nil, err
	}
	for k := range pairs {
		s.size = max(s.size, distance(s.fit.At(k), s.fit.Centre))
	}
	s.lay()
	return s, nil
}

// lay makes the seat linear about the fit's turn and shift.
func (s *seat) lay() {
	s.r, s.p = make([][2]float64, len(s.pairs)), make([][2]float64, len(s.pairs))
	for k := range s.pairs {
		s.r[k] = s.fit.off(k)
		u := s.fit.turned(s.fit.nominal[k])
		s.p[k] = [2]float64{-u[1] / s.size, u[0] / s.size}
	}
}

// worst is the clearance, mm, that is lacking at the worst pair for y = (t, w), and
// the constraint, linear about here, that it be no more than y's last.
func (s *seat) worst(r [][2]float64, g []float64, y []float64) (lacking float64, c geom.Constraint) {
	lacking = math.Inf(-1)
	var pair int
	var u [2]float64
	for k, p := range s.p {
		dx, dy := r[k][0]-y[0]-y[2]*p[0], r[k][1]-y[1]-y[2]*p[1]
		l := math.Hypot(dx, dy)
		if l-g[k] <= lacking {
			continue
		}
		lacking, pair, u = l-g[k], k, [2]float64{1, 0}
		if l > 0 {
			u = [2]float64{dx / l, dy / l}
		}
	}
	return lacking, s.cut(pair, u, r[pair], g[pair])
}

// cut is the constraint u·(r - t - w p) - g ≤ m.
func (s *seat) cut(k int, u, r [2]float64, g float64) geom.Constraint {
	c := geom.Constraint{B: g - u[0]*r[0] - u[1]*r[1], ID: k}
	c.A[0], c.A[1], c.A[2], c.A[3] = -u[0], -u[1], -u[0]*s.p[k][0]-u[1]*s.p[k][1], -1
	return c
}

// best finds the best turn and shift. A linear program bounds the spare from where it is
// laid, and leads to a better place, or half the way does, until none is better.
func (s *seat) best() Joint {
	best := s.moved([3]float64{})
	for range mostLayings {
		bound, lacking, y := math.Inf(-1), math.Inf(1), [3]float64{}
		best.program = s.program()
		best.program.Solve(func(at []float64) (geom.Constraint, bool) {
			bound = max(bound, at[3])
			worst, cut := s.worst(s.r, s.g, at)
			if worst < lacking {
				lacking = worst
				copy(y[:], at)
			}
			return cut, worst > at[3]+gapTolerance
		})
		best.Gap = max(0, -bound-best.Spare)
		was := *s.fit
		next := s.moved(y)
		for part := 0.5; next.Spare <= best.Spare && part > leastPart; part /= 2 {
			*s.fit = was
			next = s.moved([3]float64{part * y[0], part * y[1], part * y[2]})
		}
		if next.Spare <= best.Spare+gapTolerance {
			*s.fit = was
			s.lay()
			break
		}
		best = next
	}
	best.Turn, best.seat = s1.Angle(math.Remainder(best.Turn.Radians(), 2*math.Pi)), s
	return best
}

// moved moves the fit by y = (t, w) and returns what is then left at each pair.
func (s *seat) moved(y [3]float64) Joint {
	s.fit.Centre[0] += y[0]
	s.fit.Centre[1] += y[1]
	s.fit.Turn += s1.Angle(y[2] / s.size)
	s.lay()
	j := Joint{Pairs: slices.Clone(s.pairs), Turn: s.fit.Turn, Shift: s.fit.Centre}
	for k := range s.pairs {
		j.Float = append(j.Float, s.g[k]-math.Hypot(s.r[k][0], s.r[k][1]))
		if j.Float[k] < j.Float[j.Worst] {
			j.Worst = k
		}
	}
	j.Spare = j.Float[j.Worst]
	return j
}

// program is the linear program over (t, w, m) that starts from a box about here.
func (s *seat) program() geom.LinearProgram {
	box := 0.0
	for k := range s.pairs {
		box = max(box, 10*math.Hypot(s.r[k][0], s.r[k][1])+math.Abs(s.g[k])+s.size)
	}
	l := geom.LinearProgram{Cost: []float64{0, 0, 0, 1}, MaxPivots: mostCuts}
	for i := range 4 {
		c := geom.Constraint{B: box, ID: -1}
		c.A[i] = 1
		if i == 3 {
			c.A[i] = -1
		}
		l.Basis = append(l.Basis, c)
	}
	return l
}

// Probability is that of assembly by the uncertainties of places and clearances: these are
// drawn by their joint covariance, and it counts how often the parts go together. seed
// picks the draws, which are a randomly shifted lattice (Korobov's, with the
// multiplier of L'Ecuyer & Lemieux, Management Science 46 (2000) 1214-1235, from memory)
// along the axes of the covariance, the longest first.
func (j *Joint) Probability(seed uint64) float64 {
	s, program := j.seat, j.program
	root := s.root()
	rows, n := root.Dims()
	rng := rand.New(rand.NewPCG(seed, 0))
	shift := make([]int, n)
	for i := range shift {
		shift[i] = rng.IntN(draws)
	}
	quantile := make([]float64, draws) // in the middle of each cell of the lattice
	for k := range quantile {
		quantile[k] = distuv.UnitNormal.Quantile((float64(k) + 0.5) / draws)
	}
	z, off := mat.NewVecDense(n, nil), mat.NewVecDense(rows, nil)
	start := program.Basis
	program.Basis = slices.Clone(start)
	r, g := make([][2]float64, len(s.pairs)), make([]float64, len(s.pairs))
	fits := 0
	for d := range draws {
		place := d
		for i := range n {
			z.SetVec(i, quantile[(place+shift[i])%draws])
			place = place * lattice % draws
		}
		off.MulVec(root, z)
		for k := range s.pairs {
			r[k] = [2]float64{s.r[k][0] + off.AtVec(3*k), s.r[k][1] + off.AtVec(3*k+1)}
			g[k] = s.g[k] + off.AtVec(3*k+2)
		}
		lacking, _ := s.worst(r, g, []float64{0, 0, 0})
		ok := lacking <= 0 // where they lie
		if !ok {
			for i, c := range start {
				if c.ID >= 0 {
					c = s.cut(c.ID, [2]float64{-c.A[0], -c.A[1]}, r[c.ID], g[c.ID])
				}
				program.Basis[i] = c
			}
			program.Solve(func(y []float64) (geom.Constraint, bool) {
				worst, cut := s.worst(r, g, y)
				ok = worst <= 0
				return cut, !ok && y[3] <= 0 && worst > y[3]+gapTolerance
			})
		}
		if ok {
			fits++
		}
	}
	return float64(fits) / draws
}

// root returns a square root of the covariance of what each pair is off by and of its
// clearance: three rows a pair, the errors of both parts' places and clearances in them.
func (s *seat) root() *mat.Dense {
	n := len(s.pairs)
	cov := mat.NewSymDense(3*n, nil)
	add := func(i, j int, v float64) {
		if i <= j {
			cov.SetSym(i, j, cov.At(i, j)+v)
		}
	}
	sin, cos := math.Sincos(s.fit.Turn.Radians())
	turn := [2][2]float64{{cos, -sin}, {sin, cos}}
	for k, p := range s.pairs {
		for m, q := range s.pairs {
			for x := range 2 {
				for y := range 2 {
					add(3*k+x, 3*m+y, s.a.Cov.At(2*p[0]+x, 2*q[0]+y))
					for v := range 2 {
						for w := range 2 {
							add(3*k+x, 3*m+y, turn[x][v]*s.b.Cov.At(2*p[1]+v, 2*q[1]+w)*turn[y][w])
						}
					}
				}
			}
		}
		if s.a.ClearanceU != nil {
			add(3*k+2, 3*k+2, s.a.ClearanceU[p[0]]*s.a.ClearanceU[p[0]])
		}
		if s.b.ClearanceU != nil {
			add(3*k+2, 3*k+2, s.b.ClearanceU[p[1]]*s.b.ClearanceU[p[1]])
		}
	}
	var e mat.EigenSym
	e.Factorize(cov, true)
	var vectors mat.Dense
	e.VectorsTo(&vectors)
	root := mat.NewDense(3*n, 3*n, nil)
	for j, v := range e.Values(nil) { // the largest first
		for i := range 3 * n {
			root.Set(i, 3*n-1-j, vectors.At(i, j)*math.Sqrt(max(0, v)))
		}
	}
	return root
}
