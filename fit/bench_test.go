package fit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"
	"time"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// Recorded on two shared cores of a server (AMD EPYC), Go 1.26, the least of all
// passes, while other work ran:
//
//	one pass, one core, ns/pt (over the plain loop's in the same run)
//	points     circle       sphere       cylinder     cone         plain loop
//	1e2        9.4 (0.50)  12.7 (0.67)  14.7 (0.78)  18.2 (0.97)  18.8
//	1e4        8.7 (0.48)  11.8 (0.67)  14.2 (0.77)  17.6 (0.97)  18.2
//	1e6        9.0 (0.48)  12.3 (0.65)  14.5 (0.78)  18.2 (0.96)  18.8
//
//	CylinderTo with a start, whole fit: 1e2 points 195 ns/pt, 1e3 110, 1e4 89, 1e5 83,
//	2e5 75 (15 ms), 1e6 105, 1e7 74; without one 2e5 points 23 ms.

// tube draws n points of a bore of radius 10, 20 long, noise 0.02.
func tube(n int) []r3.Vector {
	rng := rand.New(rand.NewPCG(50, 0))
	w := r3.Vector{X: 2, Y: 3, Z: 6}.Mul(1.0 / 7)
	u, v := geom.Basis(w)
	pts := make([]r3.Vector, n)
	for i := range pts {
		s, c := math.Sincos(2 * math.Pi * rng.Float64())
		r := 10 + 0.02*rng.NormFloat64()
		pts[i] = u.Mul(r * c).Add(v.Mul(r * s)).Add(w.Mul(20*rng.Float64() - 10))
	}
	return pts
}

// BenchmarkCylinderStart is a fit from a near start: ns/pt of the whole fit.
func BenchmarkCylinderStart(b *testing.B) {
	for _, n := range []int{1e2, 1e3, 1e4, 1e5, 2e5, 1e6, 1e7} {
		b.Run(fmt.Sprintf("%d", n), func(b *testing.B) {
			pts := tube(n)
			start := Cylinder{Point: r3.Vector{X: 0.3, Y: -0.2}, Axis: r3.Vector{X: 2.1, Y: 2.9, Z: 6}, Radius: 9.5}
			iters := 0
			least := time.Hour
			for b.Loop() {
				t := b.Elapsed()
				f, err := CylinderTo(pts, Options{Start: start})
				if err != nil {
					b.Fatal(err)
				}
				iters = f.Iters
				least = min(least, b.Elapsed()-t)
			}
			b.ReportMetric(float64(least)/float64(n), "ns/pt")
			b.ReportMetric(float64(iters), "steps")
		})
	}
}

// BenchmarkCylinderTo searches its start too.
func BenchmarkCylinderTo(b *testing.B) {
	for _, n := range []int{1e2, 1e4, 2e5} {
		b.Run(fmt.Sprintf("%d", n), func(b *testing.B) {
			pts := tube(n)
			for b.Loop() {
				if _, err := CylinderTo(pts, Options{}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/pt")
		})
	}
}

// plainLoop forms residuals and normal equations of a cylinder the plainest
// way: one pass over the points, centre form, sums in local variables. It is
// what an iteration is measured against.
func plainLoop(pts []r3.Vector, p, e1, e2, w r3.Vector, r float64) (s sums) {
	var a00, a01, a02, a03, a04, a11, a12, a13, a14, a22, a23, a24, a33, a34, a44, g0, g1, g2, g3, g4, ff float64
	for _, q := range pts {
		d := q.Sub(p)
		x, y, z := d.Dot(e1), d.Dot(e2), d.Dot(w)
		rho := math.Sqrt(x*x + y*y)
		c, sn := x/rho, y/rho
		f := rho - r
		j0, j1, j2, j3, j4 := -c, -sn, -z*c, -z*sn, -1.0
		a00 += j0 * j0
		a01 += j0 * j1
		a02 += j0 * j2
		a03 += j0 * j3
		a04 += j0 * j4
		a11 += j1 * j1
		a12 += j1 * j2
		a13 += j1 * j3
		a14 += j1 * j4
		a22 += j2 * j2
		a23 += j2 * j3
		a24 += j2 * j4
		a33 += j3 * j3
		a34 += j3 * j4
		a44 += j4 * j4
		g0 += j0 * f
		g1 += j1 * f
		g2 += j2 * f
		g3 += j3 * f
		g4 += j4 * f
		ff += f * f
	}
	s.a[0] = [maxParams]float64{a00, a01, a02, a03, a04}
	s.a[1] = [maxParams]float64{0, a11, a12, a13, a14}
	s.a[2] = [maxParams]float64{0, 0, a22, a23, a24}
	s.a[3] = [maxParams]float64{0, 0, 0, a33, a34}
	s.a[4][4] = a44
	s.g = [maxParams]float64{g0, g1, g2, g3, g4}
	s.f = ff
	return s
}

// BenchmarkIteration compares one pass of each model, on one core, with the
// plain loop in the same run: the "ratio" metric.
func BenchmarkIteration(b *testing.B) {
	for _, n := range []int{1e2, 1e4, 1e6} {
		pts := tube(n)
		c, err := columns("cylinder", pts, Options{}, 5)
		if err != nil {
			b.Fatal(err)
		}
		w := r3.Vector{X: 2, Y: 3, Z: 6}.Mul(1.0 / 7)
		e1, e2 := geom.Basis(w)
		state := arcAt(r3.Vector{X: 0.001}, w, 10/c.scale)
		for _, row := range []struct {
			name string
			m    model
		}{
			{"plane", &planeModel{n: w, u: e1, v: e2}},
			{"circle", &round{form: circle2DForm, next: state}},
			{"sphere", &round{form: sphereForm, next: state}},
			{"cylinder", &round{form: cylinderForm, next: state}},
			{"cone", &round{form: coneForm, next: state}},
		} {
			b.Run(fmt.Sprintf("%s/%d", row.name, n), func(b *testing.B) {
				defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
				crew := newAccumulator(row.m, c)
				var s sums
				// The least of all passes: other work on the machine only adds.
				mine, plain := time.Hour, time.Hour
				b.ReportAllocs()
				for b.Loop() {
					t := b.Elapsed()
					crew.sum(&s)
					u := b.Elapsed()
					s = plainLoop(pts, r3.Vector{X: 0.001}, e1, e2, w, 10)
					mine, plain = min(mine, u-t), min(plain, b.Elapsed()-u)
				}
				b.ReportMetric(float64(mine)/float64(n), "ns/pt")
				b.ReportMetric(float64(plain)/float64(n), "plain-ns/pt")
				b.ReportMetric(float64(mine)/float64(plain), "ratio")
			})
		}
	}
}
