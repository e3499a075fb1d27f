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
	basis := f.flatTerms
	var modes []roundMode
	if f.kind == cylinderKind {
		modes = slices.DeleteFunc(roundModes(), roundMode.short)
		if basis = f.roundTerms(modes); arc < formArc {
			basis = nil
		}
	}
	total, rest := meanSquare(e), e
	var b []float64
	if basis != nil {
		if b, rest = termsOf(pts, e, basis); b == nil {
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
		out.Kind, out.Length = bowKind(b[3], b[4], b[5]), f.across(pts)
		return out
	}
	var all float64
	var square [mostLobes + 1]float64
	for k, m := range modes {
		if m.degree == 0 && m.harmonic > 1 {
			square[m.harmonic] += b[k] * b[k]
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

// across is the width of a plane, mm: twice the largest distance from its centroid.
func (f *fitted) across(pts []r3.Vector) float64 {
	far := 0.0
	for _, p := range pts {
		far = max(far, p.Distance(f.p))
	}
	return 2 * far
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

// flatTerms are those of a plane, and a quadric's.
func (f *fitted) flatTerms(p r3.Vector) []float64 {
	e1, e2 := geom.Basis(f.a)
	d := p.Sub(f.p)
	u, v := d.Dot(e1), d.Dot(e2)
	return []float64{1, u, v, u * u, u * v, v * v}
}

// roundMode is a wave over a cylinder: a polynomial of the height, times a harmonic of
// the angle, its cosine or its sine.
type roundMode struct {
	degree, harmonic int
	sine             bool
}

// roundModes are those of up to draftModes half waves, and lobes.
func roundModes() (out []roundMode) {
	for p := range draftModes + 2 {
		for k := range mostLobes + 1 {
			if p > 0 && k > draftModes || p > 1 && k > 0 && p+k > draftModes {
				continue
			}
			out = append(out, roundMode{p, k, false})
			if k > 0 {
				out = append(out, roundMode{p, k, true})
			}
		}
	}
	return out
}

// own reports whether the mode is a change of the cylinder itself: radius, place, tilt.
func (m roundMode) own() bool { return m.degree <= m.harmonic && m.harmonic < 2 }

// short reports whether the mode is none of lobes, taper or barrel.
func (m roundMode) short() bool {
	return m.degree > 2 || m.degree > 0 && m.harmonic > 0 && !m.own()
}

// at is the mode's height at an angle and a height from -1 to 1; its mean square over
// the cylinder is one. The Legendre polynomials P follow from
//
//	(n+1) P_n+1 = (2n+1) h P_n - n P_n-1
func (m roundMode) at(angle, h float64) float64 {
	last, v := 0.0, 1.0
	for n := range m.degree {
		last, v = v, (float64(2*n+1)*h*v-float64(n)*last)/float64(n+1)
	}
	v *= math.Sqrt(float64(2*m.degree + 1))
	switch s, c := math.Sincos(float64(m.harmonic) * angle); {
	case m.harmonic == 0:
		return v
	case m.sine:
		return v * math.Sqrt2 * s
	default:
		return v * math.Sqrt2 * c
	}
}

// roundTerms returns the modes of a cylinder as functions of its points.
func (f *fitted) roundTerms(modes []roundMode) func(p r3.Vector) []float64 {
	e1, e2 := geom.Basis(f.a)
	lo, hi := along(f.pts, f.p, f.a)
	return func(p r3.Vector) []float64 {
		d := p.Sub(f.p)
		angle, h := math.Atan2(d.Dot(e2), d.Dot(e1)), (2*d.Dot(f.a)-lo-hi)/(hi-lo)
		row := make([]float64, len(modes))
		for i, m := range modes {
			row[i] = m.at(angle, h)
		}
		return row
	}
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
	modes := roundModes()
	b, _ := termsOf(pts, e, f.roundTerms(modes))
	var own, others, n float64
	for k, v := range b {
		switch m := modes[k]; {
		case m.degree == 1 && m.harmonic == 0:
			own = v * v
		case m.degree > 0 && !m.own():
			others += v * v
			n++
		}
	}
	if n == 0 {
		return 0, 0
	}
	return math.Sqrt(12 * own), own * n / max(others, math.SmallestNonzeroFloat64)
}

// termsOf fits e = Σ b_k basis_k by least squares and returns b, nil where the points
// do not determine it, and what is left of e.
func termsOf(pts []r3.Vector, e []float64, basis func(r3.Vector) []float64) (b, rest []float64) {
	x := mat.NewDense(len(pts), len(basis(pts[0])), nil)
	for i, p := range pts {
		x.SetRow(i, basis(p))
	}
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
