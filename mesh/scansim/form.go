package scansim

import (
	"math"
	"math/rand/v2"
	"path"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// Form is how far the real surface of a face is off its ideal shape: a bow,
// dents, cast texture. It is part of the part, unlike a scan's noise, and both
// kinds of scan show it. Truth keeps the ideal shape of each face; Part.Points are of
// the formed one.
type Form struct {
	Kind string // "bow", "dents", ...
	// Height returns how far the surface is outside its ideal, mm, at a
	// point of the ideal face with the given outward normal, in the part's frame.
	// It is called from several goroutines.
	Height func(foot, normal r3.Vector) float64
	// Max bounds the size of Height, mm; Slope bounds its slope along the face.
	Max, Slope float64
}

// plus returns the form of a face that has g too; f is nil where it had none.
func (f *Form) plus(g Form) *Form {
	if f == nil {
		return &g
	}
	return &Form{Kind: f.Kind + " + " + g.Kind, Max: f.Max + g.Max, Slope: f.Slope + g.Slope,
		Height: func(p, n r3.Vector) float64 { return f.Height(p, n) + g.Height(p, n) }}
}

// WithForm returns p with form on the faces whose roles match one of the
// patterns, as path.Match has them: "mounting", "hole:*", "*". Forms add up.
// Heights and slopes are small against the part: faces stay in their box to
// within Max.
func WithForm(p *Part, form Form, roles ...string) *Part {
	c := *p
	c.Faces = nil
	some := false
	c.solid = c.adopt(p.solid, map[*leaf]*leaf{}, func(l *leaf) {
		if slices.ContainsFunc(roles, func(pattern string) bool {
			ok, err := path.Match(pattern, l.face.Role)
			return ok && err == nil
		}) {
			l.form, some = l.form.plus(form), true
		}
	})
	if !some {
		c.err = p.fault("no face is called %q, which is to have a %s", roles, form.Kind)
	}
	return &c
}

// value returns the signed distance of q from a leaf's ideal face, less the
// height of its form at q's foot: exactly zero on the formed face.
func (s *Solid) value(q r3.Vector) float64 {
	d := s.sign * s.leaf.face.raw(q)
	if f := s.leaf.form; f == nil || math.Abs(d) > f.Max+formBand {
		return d
	}
	return s.formed(q, d)
}

// formed is the distance of q from a leaf's formed face, that from the ideal one d.
func (s *Solid) formed(q r3.Vector, d float64) float64 {
	n := s.normal(q)
	return d - s.leaf.form.Height(q.Sub(n.Mul(d)), n)
}

// fillForm subtracts the form of a leaf from its ideal distances along a row.
func (s *Solid) fillForm(p, step r3.Vector, first int, out []float64) {
	band := s.leaf.form.Max + max(formBand, 5*step.Norm()) // smoothing looks that far
	for i, d := range out {
		if math.Abs(d) <= band {
			out[i] = s.formed(p.Add(step.Mul(float64(first+i))), d)
		}
	}
}

// normal returns the outward normal of a leaf's ideal face next to q.
func (s *Solid) normal(q r3.Vector) r3.Vector { return s.leaf.face.Normal(q).Mul(s.sign) }

// gradient returns the normal of a leaf's formed face at q, by central differences.
func (s *Solid) gradient(q r3.Vector) r3.Vector {
	if s.leaf.form == nil {
		return s.normal(q)
	}
	rise := func(e r3.Vector) float64 { return s.value(q.Add(e)) - s.value(q.Sub(e)) }
	return r3.Vector{X: rise(r3.Vector{X: gradientStep}), Y: rise(r3.Vector{Y: gradientStep}),
		Z: rise(r3.Vector{Z: gradientStep})}.Normalize()
}

// Bow returns a bend of the part's sheet about a line in z = 0 through the
// origin: along the direction at the given angle from +x the middle is
// height above the places that are radius away.
func Bow(height, radius float64, angle s1.Angle) Form {
	u := along(angle)
	return Form{Kind: "bow", Max: math.Abs(height), Slope: 2 * math.Abs(height) / radius,
		Height: func(p, n r3.Vector) float64 {
			t := (p.X*u.X + p.Y*u.Y) / radius
			return n.Z * height * (1 - t*t)
		}}
}

// Dent is a smooth round hollow: Depth at its centre, nothing beyond Radius but
// a raised rim, mm, as where material was pushed aside.
type Dent struct {
	Centre             r3.Vector
	Radius, Depth, Rim float64
}

// dentReach is how far from its centre a dent is felt, in its radii.
const dentReach = 1.7

// Dents returns the hollows given.
func Dents(dents ...Dent) Form {
	f := Form{Kind: "dents", Height: func(p, _ r3.Vector) float64 {
		h := 0.0
		for _, d := range dents {
			t2 := p.Sub(d.Centre).Norm2() / (d.Radius * d.Radius)
			if t2 < 1 {
				h -= d.Depth * (1 - t2) * (1 - t2)
			}
			if d.Rim != 0 && t2 < dentReach*dentReach {
				if w := (math.Sqrt(t2) - 1.1) / 0.6; w > -1 { // from half a radius on
					h += d.Rim * (1 - w*w) * (1 - w*w)
				}
			}
		}
		return h
	}}
	for _, d := range dents { // those that overlap add up
		high, slope := 0.0, 0.0
		for _, o := range dents {
			if o.Centre.Distance(d.Centre) < dentReach*(o.Radius+d.Radius) {
				high += max(o.Depth, o.Rim)
				slope += (1.6*o.Depth + 2.6*o.Rim) / o.Radius
			}
		}
		f.Max, f.Slope = max(f.Max, high), max(f.Slope, slope)
	}
	return f
}

// Texture returns a rough surface, as of a casting: heights within ±peak,
// correlated over two lengths, mm, with equal shares of the variance.
func Texture(seed uint64, peak, short, long float64) Form {
	fine, coarse := newLattice(mix(seed+streamForm), short), newLattice(mix(seed-streamForm), long)
	return Form{Kind: "texture", Max: peak, Slope: 2 * peak / short,
		Height: func(p, _ r3.Vector) float64 {
			// Of unit variance, then bent so that it stays within the peak.
			return peak * math.Tanh((fine.at(p)+coarse.at(p))/math.Sqrt2/2)
		}}
}

// Lobes returns a wall about an upright axis that is not round: its radius is
// larger by amplitude cos(n (θ - high)). Two lobes are an oval. The
// least-squares circle of a full turn is the ideal one.
func Lobes(n int, amplitude float64, centre r3.Vector, high s1.Angle) Form {
	return Form{Kind: "lobes", Max: math.Abs(amplitude), Slope: math.Abs(amplitude) * float64(n),
		Height: func(p, normal r3.Vector) float64 {
			x, y := p.X-centre.X, p.Y-centre.Y
			out := normal.X*x + normal.Y*y // n·r̂, times r
			if r := math.Hypot(x, y); r > 0 {
				return out / r * amplitude * math.Cos(float64(n)*(math.Atan2(y, x)-high.Radians()))
			}
			return 0
		}}
}

// Points returns n exact points of the noiseless surface of the face with the given id,
// form and all, evenly over its area, in the part's frame: what its true flatness or
// cylindricity is computed from. The same part gives the same points; nil where it has no
// such face.
func (p *Part) Points(id uint16, n int) (out []r3.Vector) {
	all := newSites(p.solid, p.Lo, p.Hi, p.Hi.Sub(p.Lo).Norm()*siteShare, 0,
		func(of uint16) bool { return of == id && id != LabelEdge })
	rng := rand.New(rand.NewPCG(1, streamForm))
	for range drawsMost + 100*n {
		if len(out) == n || len(all.all) == 0 {
			break
		}
		if q, _, ok := all.draw(rng); ok {
			out = append(out, q)
		}
	}
	return out
}
