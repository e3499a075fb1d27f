package pattern

import (
	"math"
	"math/cmplx"
)

// drillError is the density of how far, in the plane, a feature lies from its nominal
// place: a mixture of normal ones, each widened by the feature's own uncertainty.
type drillError struct {
	amp, inv [len(drillMix)]float64
}

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

// laid is a nominal pattern laid on features, z = c + x Re e + y Im e, as drilling errors
// make it likeliest: of one free pitch, y = i x, or of two at a right angle.
type laid struct {
	c, x, y   complex128
	two       bool
	log       float64 // Σ ln p
	w, qx, qy float64 // Σ w, and Σ w Re² and Σ w Im² of e - ē
}

func (l *laid) at(e complex128) complex128 {
	return l.c + complex(real(e), 0)*l.x + complex(imag(e), 0)*l.y
}

// lay lays the nominal places e on z. Iteratively reweighted least squares, the
// closed form at each step.
func lay(z, e []complex128, d []drillError, two bool) laid {
	l := laid{two: two}
	w := make([]float64, len(z))
	for i := range w {
		_, w[i] = d[i].density(0)
	}
	for range layings {
		was := l
		l.step(z, e, w)
		if (square(l.x-was.x)+square(l.y-was.y)+square(l.c-was.c))*l.w < laidEnough {
			break
		}
		for i := range z {
			_, w[i] = d[i].density(square(z[i] - l.at(e[i])))
		}
	}
	for i := range z {
		l.log += d[i].log(square(z[i] - l.at(e[i])))
	}
	return l
}

// step lays it by weighted least squares. With P = Σ w Re(e) z and Q = Σ w Im(e) z about
// the means x = (P - iQ)/Σ w |e|², or with two pitches the direction of x is half that of
// P²/Σ w Re² - Q²/Σ w Im².
func (l *laid) step(z, e []complex128, w []float64) {
	var zm, em, p, q complex128
	l.w, l.qx, l.qy = 0, 0, 0
	for i := range z {
		l.w += w[i]
		zm += complex(w[i], 0) * z[i]
		em += complex(w[i], 0) * e[i]
	}
	zm, em = zm/complex(l.w, 0), em/complex(l.w, 0)
	for i := range z {
		u, v := e[i]-em, z[i]-zm
		x, y := w[i]*real(u), w[i]*imag(u)
		l.qx += x * real(u)
		l.qy += y * imag(u)
		p += complex(x, 0) * v
		q += complex(y, 0) * v
	}
	l.x = (p - 1i*q) / complex(l.qx+l.qy, 0)
	l.y = 1i * l.x
	if l.two {
		t := cmplx.Rect(1, cmplx.Phase(p*p/complex(l.qx, 0)-q*q/complex(l.qy, 0))/2)
		l.x = t * complex(real(p*cmplx.Conj(t))/l.qx, 0)
		l.y = t * complex(0, imag(q*cmplx.Conj(t))/l.qy)
	}
	l.c = 0
	l.c = zm - l.at(em)
}

// evidence is the log probability of the features by the pattern, its place anywhere on
// the area, its turn within turns, rad, and its pitches on a log scale: Laplace's
// approximation, with ∂²/∂(c, x) = diag(w, w, q, q), q = qx + qy, or of the turn and two
// pitches diag(|x|² qx + |y|² qy, qx, qy).
func (l *laid) evidence(area, turns float64) float64 {
	xx, yy := square(l.x), square(l.y)
	if !l.two {
		return l.log + 2*math.Log(2*math.Pi) - math.Log(l.w*(l.qx+l.qy)) - math.Log(area*xx*sizeRange*turns)
	}
	return l.log + 2.5*math.Log(2*math.Pi) - math.Log(l.w) - 0.5*math.Log(l.qx*l.qy*(xx*l.qx+yy*l.qy)) -
		math.Log(area*turns*math.Sqrt(xx*yy)*sizeRange*sizeRange)
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
