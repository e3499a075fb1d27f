package pattern

import (
	"math"
	"math/cmplx"
)

// drillError is the density of how far, in the plane, a feature lies from its nominal
// place: a mixture of normal ones, each widened by the feature's own uncertainty.
type drillError struct{ amp, inv [len(drillMix)]float64 }

// newDrillError is that of a feature of variance v, mm², each way, in a pattern as wide
// as size, mm, with the usual care or care times less.
func newDrillError(size, care, v float64) (d drillError) {
	sd := care * drillSD(size)
	for k, m := range drillMix {
		s2 := sd*sd*m.scale*m.scale + v
		d.amp[k], d.inv[k] = m.share/(2*math.Pi*s2), 1/s2
	}
	return d
}

// density returns p at a squared distance, 0 where it is too small for that, and the weight
// -2 ∂ ln p/∂(x²) of least squares that lead to the greatest p.
func (d *drillError) density(x2 float64) (p, weight float64) {
	for k, inv := range d.inv {
		if x2*inv > 200 {
			continue // adds nothing that counts
		}
		q := d.amp[k] * math.Exp(-x2*inv/2)
		p += q
		weight += q * inv
	}
	if p == 0 {
		return 0, d.inv[len(d.inv)-1]
	}
	return p, weight / p
}

// log is ln p at a squared distance.
func (d *drillError) log(x2 float64) float64 {
	p, _ := d.density(x2)
	if last := len(d.amp) - 1; p == 0 {
		return math.Log(d.amp[last]) - x2*d.inv[last]/2
	}
	return math.Log(p)
}

// laid is a nominal pattern of free place, turn and size laid on features,
// z = c + a e, as drilling errors make it likeliest.
type laid struct {
	c, a complex128
	log  float64 // Σ ln p
	w, q float64 // Σ w and Σ w |e - ē|²
	off  float64 // the sum of squares off it that no layout is below, mm²
}

// bound is the most that Σ ln p may be with other densities: ln p is convex in x², so
// that nothing is likelier than all that is off at one place.
func (l laid) bound(d []drillError) (log float64) {
	worst := math.Inf(-1)
	for i := range d {
		at := d[i].log(0)
		log, worst = log+at, max(worst, d[i].log(l.off)-at)
	}
	return log + worst
}

// lay lays the nominal places e on z. Iteratively reweighted least squares, the
// closed form at each step.
func lay(z, e []complex128, d []drillError) laid {
	l := laid{}
	w := make([]float64, len(z))
	for i := range w {
		_, w[i] = d[i].density(0)
	}
	for range layings {
		var sum float64
		var zm, em complex128
		for i := range z {
			sum += w[i]
			zm += complex(w[i], 0) * z[i]
			em += complex(w[i], 0) * e[i]
		}
		zm, em = zm/complex(sum, 0), em/complex(sum, 0)
		var cross complex128
		l.w, l.q = sum, 0
		for i := range z {
			u := e[i] - em
			cross += complex(w[i], 0) * (z[i] - zm) * cmplx.Conj(u)
			l.q += w[i] * square(u)
		}
		a := cross / complex(l.q, 0)
		c := zm - a*em
		moved := square(a-l.a) + square(c-l.c)
		l.a, l.c = a, c
		if moved*sum < laidEnough {
			break
		}
		var off, most float64
		for i := range z {
			x2 := square(z[i] - l.c - l.a*e[i])
			off, most = off+w[i]*x2, max(most, w[i])
			_, w[i] = d[i].density(x2)
		}
		l.off = max(l.off, off/most)
	}
	for i := range z {
		l.log += d[i].log(square(z[i] - l.c - l.a*e[i]))
	}
	return l
}

// evidence is the log probability of the features by the pattern, its place anywhere on
// the area, its turn within turns, rad, and its size on a log scale: Laplace's
// approximation, with ∂²/∂(c, a) = diag(w, w, q, q).
func (l laid) evidence(area, turns float64) float64 {
	return l.log + 2*math.Log(2*math.Pi) - math.Log(l.w*l.q) - math.Log(area*square(l.a)*sizeRange*turns)
}

// laidGrid is a rectangular grid laid on features: z = c + t (a x + i b y), |t| = 1.
type laidGrid struct {
	c, t      complex128
	a, b      float64
	log       float64
	w, qx, qy float64
}

// layGrid lays columns x and rows y on z. With P = Σ w x z, Q = Σ w y z about the means
// the turn is 2 arg t = arg(P²/Σwx² - Q²/Σwy²).
func layGrid(z []complex128, at [][2]int, d []drillError) laidGrid {
	l := laidGrid{}
	w := make([]float64, len(z))
	for i := range w {
		_, w[i] = d[i].density(0)
	}
	for range layings {
		l.step(z, at, w)
		for i := range z {
			_, w[i] = d[i].density(square(z[i] - l.at(at[i])))
		}
	}
	for i := range z {
		l.log += d[i].log(square(z[i] - l.at(at[i])))
	}
	return l
}

// step lays the grid by weighted least squares.
func (l *laidGrid) step(z []complex128, at [][2]int, w []float64) {
	var sum, xm, ym float64
	var zm complex128
	for i := range z {
		sum += w[i]
		xm += w[i] * float64(at[i][0])
		ym += w[i] * float64(at[i][1])
		zm += complex(w[i], 0) * z[i]
	}
	xm, ym, zm = xm/sum, ym/sum, zm/complex(sum, 0)
	var p, q complex128
	l.w, l.qx, l.qy = sum, 0, 0
	for i := range z {
		x, y := float64(at[i][0])-xm, float64(at[i][1])-ym
		l.qx += w[i] * x * x
		l.qy += w[i] * y * y
		p += complex(w[i]*x, 0) * (z[i] - zm)
		q += complex(w[i]*y, 0) * (z[i] - zm)
	}
	half := cmplx.Phase(p*p/complex(l.qx, 0)-q*q/complex(l.qy, 0)) / 2
	l.t = cmplx.Rect(1, half)
	l.a, l.b = real(p*cmplx.Conj(l.t))/l.qx, imag(q*cmplx.Conj(l.t))/l.qy
	l.c = zm - l.t*complex(l.a*xm, l.b*ym)
}

func (l laidGrid) at(k [2]int) complex128 {
	return l.c + l.t*complex(l.a*float64(k[0]), l.b*float64(k[1]))
}

// evidence is as that of laid, with both pitches free.
func (l laidGrid) evidence(area float64) float64 {
	a, b := math.Abs(l.a), math.Abs(l.b)
	return l.log + 2.5*math.Log(2*math.Pi) - math.Log(l.w) -
		0.5*math.Log(l.qx*l.qy*(a*a*l.qx+b*b*l.qy)) -
		math.Log(area*(math.Pi/2)*a*sizeRange*b*sizeRange)
}

func square(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

func logFactorial(n int) float64 {
	g, _ := math.Lgamma(float64(n + 1))
	return g
}

// logChoose is the log of the number of ways to take k of n.
func logChoose(n, k int) float64 {
	if k < 0 || k > n {
		return 0
	}
	return logFactorial(n) - logFactorial(k) - logFactorial(n-k)
}
