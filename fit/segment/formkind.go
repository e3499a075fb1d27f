package segment

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"spotface/mesh/geom"
)

// Form is what a surface's residuals show beyond noise; its zero value says that
// they show none.
type Form struct {
	// Kind is Bow, Saddle, Oval, Lobes or Texture; empty where the residuals show
	// none of these.
	Kind string
	// Length is that over which the form varies, mm: the extent for a bow or a
	// saddle, the circumference over the number of lobes, the correlation length
	// for texture; zero without a kind.
	Length float64
	// RMS is the root mean square of the form about the least-squares shape, mm.
	RMS float64
}

// Kinds of form.
const (
	Bow     = "bow"
	Saddle  = "saddle" // a bow whose two curvatures have opposite signs
	Oval    = "oval"   // second harmonic of the angle about an axis
	Lobes   = "lobes"  // third to sixth harmonic
	Texture = "texture"
)

// Long reports whether the form is as long as its surface, so that one scan cannot
// distinguish it from the scanner's own longest waves.
func (f Form) Long() bool { return f.Kind == Bow || f.Kind == Saddle }

// formOf returns the form of a plane, or of a cylinder of which arc, rad, was seen.
// noise is the root mean square that residuals have without form, mm.
func formOf(f *fitted, noise, arc float64) Form {
	pts, e := f.residuals(formSample)
	if len(pts) < formLeast {
		return Form{}
	}
	rows, waves := f.flatTerms(pts), []wave(nil)
	if f.kind == cylinderKind {
		rows, waves = f.roundTerms(pts, func(w wave) bool {
			// lobes, taper, barrel, and what the cylinder itself takes out
			return w.degree == 0 || w.degree <= 2 && w.harmonic == 0 || w.own()
		})
		if arc < formArc {
			rows = nil
		}
	}
	total, rest := meanSquare(e), e
	var b []float64
	if rows != nil {
		if b, rest = termsOf(rows, e); b == nil {
			return Form{}
		}
	}
	white := min(noise*noise, meanSquare(rest))
	if total <= rmsGain*rmsGain*white {
		return Form{}
	}
	out := Form{RMS: math.Sqrt(total - white)}
	if formMost*(total-meanSquare(rest)) < total-white {
		// A large face shows more of the scanner's own waves than a small quiet one.
		if total <= textureGain*textureGain*white {
			return Form{}
		}
		out.Length = correlationLength(pts, e, total-white, f.spacing, f.extent())
		if out.Length > 0 {
			out.Kind = Texture
		}
		return out
	}
	if f.kind == planeKind {
		out.Kind = bowKind(b[3], b[4], b[5])
		for _, p := range pts {
			out.Length = max(out.Length, 2*p.Distance(f.p))
		}
		return out
	}
	var all float64
	var square [mostLobes + 1]float64
	for k, w := range waves {
		if w.degree == 0 && w.harmonic > 1 {
			square[w.harmonic] += b[k] * b[k]
			all += b[k] * b[k]
		}
	}
	lobes := slices.Index(square[:], slices.Max(square[:]))
	if formMost*all < total-meanSquare(rest) {
		return out // a taper or a barrel
	}
	out.Kind, out.Length = Lobes, 2*math.Pi*f.r/float64(lobes)
	if lobes == 2 {
		out.Kind = Oval
	}
	return out
}

// bowKind says what z = a u² + b uv + c v² is. A saddle has one principal curvature
// that is at least a quarter of the other and has the other sign.
func bowKind(a, b, c float64) string {
	// curvatures/2: m ± d
	m, d := (a+c)/2, math.Hypot((a-c)/2, b/2)
	if low, high := m-d, m+d; low*high < 0 && saddleRatio*min(-low, high) > max(-low, high) {
		return Saddle
	}
	return Bow
}

// flatTerms are at each point those of a plane, and a quadric's.
func (f *fitted) flatTerms(pts []r3.Vector) (rows [][]float64) {
	e1, e2 := geom.Basis(f.a)
	for _, p := range pts {
		d := p.Sub(f.p)
		u, v := d.Dot(e1), d.Dot(e2)
		rows = append(rows, []float64{1, u, v, u * u, u * v, v * v})
	}
	return rows
}

// wave is one over a cylinder: a Legendre polynomial of the height, of the degree given,
// times a harmonic of the angle.
type wave struct{ degree, harmonic int }

// own reports whether a wave is a change of the cylinder itself: radius, place, tilt.
func (w wave) own() bool { return w.degree <= w.harmonic && w.harmonic < 2 }

// roundTerms are at each point the waves over a cylinder that are asked for, of up to
// draftModes half waves, and lobes, with the wave of each term: cosine and sine are two.
// Their mean squares over the cylinder are one. With h the height from -1 to 1,
//
//	(n+1) P_n+1 = (2n+1) h P_n - n P_n-1
func (f *fitted) roundTerms(pts []r3.Vector, asked func(w wave) bool) (rows [][]float64, of []wave) {
	e1, e2 := geom.Basis(f.a)
	lo, hi := along(f.pts, f.p, f.a, astrayCut)
	for _, p := range pts {
		d := p.Sub(f.p)
		angle, h := math.Atan2(d.Dot(e2), d.Dot(e1)), (2*d.Dot(f.a)-lo-hi)/(hi-lo)
		var row []float64
		of = of[:0]
		last, v := 0.0, 1.0
		for n := range draftModes + 2 {
			for k := range mostLobes + 1 {
				w := wave{n, k}
				if n > 0 && k > draftModes || n > 1 && k > 0 && n+k > draftModes || !asked(w) {
					continue
				}
				x := v * math.Sqrt(float64(2*n+1))
				if k == 0 {
					row, of = append(row, x), append(of, w)
					continue
				}
				sin, cos := math.Sincos(float64(k) * angle)
				row, of = append(row, math.Sqrt2*x*cos, math.Sqrt2*x*sin), append(of, w, w)
			}
			last, v = v, (float64(2*n+1)*h*v-float64(n)*last)/float64(n+1)
		}
		rows = append(rows, row)
	}
	return rows, of
}

// taper returns how much the radius of a whole cylinder's points grows along its
// axis, mm, either way, and how many times the mean square of that is what the other
// waves have that are about as long. These are what form and noise bring into one wave,
// whatever their spectrum: an F test. Both are zero where the points are too few.
func (f *fitted) taper() (rise, ratio float64) {
	pts, e := f.residuals(formSample)
	if len(pts) < formLeast {
		return 0, 0
	}
	rows, waves := f.roundTerms(pts, func(wave) bool { return true })
	b, _ := termsOf(rows, e)
	var own, others, n float64
	for k, v := range b {
		switch w := waves[k]; {
		case w == wave{1, 0}:
			own = v * v
		case w.degree > 0 && !w.own():
			others += v * v
			n++
		}
	}
	return math.Sqrt(12 * own), own * n / max(others, math.SmallestNonzeroFloat64)
}

// tapered returns the cylinder s as a slender cone with the same radius in the middle of pts.
func (s *shape) tapered(pts []r3.Vector) shape {
	const sin, cos = taperSin, taperCos
	var h float64
	for _, q := range pts {
		h += q.Sub(s.p).Dot(s.a) / float64(len(pts))
	}
	return shape{kind: coneKind, p: s.p.Add(s.a.Mul(h - s.r*cos/sin)), a: s.a, sin: sin, cos: cos}
}

// termsOf fits e = Σ b_k row_k by least squares and returns b, nil where the points
// do not determine it, and what is left of e.
func termsOf(rows [][]float64, e []float64) (b, rest []float64) {
	x := mat.NewDense(len(rows), len(rows[0]), slices.Concat(rows...))
	var v, left mat.VecDense
	y := mat.NewVecDense(len(e), e)
	if err := v.SolveVec(x, y); err != nil {
		return nil, e
	}
	left.MulVec(x, &v)
	left.SubVec(y, &left)
	return v.RawVector().Data, left.RawVector().Data
}

// correlationLength is the distance, mm, at which the covariance of the errors e falls
// to 1/e of variance; zero where it does so below two spacings or beyond a quarter
// of the extent.
func correlationLength(pts []r3.Vector, e []float64, variance, spacing, extent float64) float64 {
	if extent < textureLeast*spacing {
		return 0
	}
	near, far := spacing, extent/textureReach
	var sum, pairs [textureBins]float64
	for i, p := range pts {
		for j, q := range pts[:i] {
			d := p.Distance(q)
			if d >= far {
				continue
			}
			b := min(max(int(textureBins*math.Log(d/near)/math.Log(far/near)), 0), textureBins-1)
			sum[b] += e[i] * e[j]
			pairs[b]++
		}
	}
	for b, n := range pairs {
		if n < texturePairs || sum[b]/n > variance/math.E {
			continue
		}
		d := near * math.Pow(far/near, (float64(b)+0.5)/textureBins)
		if d < textureNear*spacing || d > extent/texturePart {
			return 0
		}
		return d
	}
	return 0
}

func meanSquare(e []float64) float64 {
	sum := 0.0
	for _, v := range e {
		sum += v * v
	}
	return sum / float64(len(e))
}
