package scansim

import (
	"math"
	"math/rand/v2"
	"path"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/mesh/geom"
)

// Form is how far the real surface of a face stands off its ideal shape: a bow,
// dents, cast texture. It is part of the part, unlike a scan's noise, and both
// kinds of scan show it. Truth keeps the ideal shape of each face; Part.Form
// says what form does to it.
type Form struct {
	Kind string // "bow", "dents", ...
	// Height returns how far the surface stands out of the material, mm, at a
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
	c.Faces, c.forms = nil, nil
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
	n := s.leaf.face.Normal(q).Mul(s.sign)
	return d - s.leaf.form.Height(q.Sub(n.Mul(d)), n)
}

// fillForm subtracts the form of a leaf from its ideal distances along a row.
func (s *Solid) fillForm(p, step r3.Vector, out []float64) {
	band := s.leaf.form.Max + max(formBand, 5*step.Norm()) // smoothing looks that far
	for i, d := range out {
		if math.Abs(d) <= band {
			out[i] = s.formed(p.Add(step.Mul(float64(i))), d)
		}
	}
}

// lift returns the point of the formed face over the point p of the ideal one.
func (c *chart) lift(p r3.Vector) r3.Vector {
	if c.form == nil {
		return p
	}
	n := c.face.Normal(p)
	return p.Add(n.Mul(c.form.Height(p, n)))
}

// normal returns the normal of the formed face over the point p of the ideal
// one.
func (c *chart) normal(p r3.Vector) r3.Vector {
	n := c.face.Normal(p)
	if c.form == nil {
		return n
	}
	// That of a height field is n - ∇h; by central differences.
	const step = 0.02
	tilted := n
	e1 := n.Ortho()
	for _, e := range [2]r3.Vector{e1, n.Cross(e1)} {
		rise := 0.0
		for _, side := range [2]float64{step, -step} {
			at := p.Add(e.Mul(side))
			at = at.Sub(c.face.Normal(at).Mul(c.face.Signed(at)))
			rise += side * c.form.Height(at, c.face.Normal(at))
		}
		tilted = tilted.Sub(e.Mul(rise / (2 * step * step)))
	}
	return tilted.Normalize()
}

// Bow returns a bend of the part's sheet about a line in z = 0 through the
// origin: along the direction at the given angle from +x the middle stands
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

// FormTruth is what form does to a face: numbers of the noiseless formed
// surface over the whole area of the face, from 20,000 exact points of it.
// They are of the part and not of what a scan shows of it.
type FormTruth struct {
	Kind string // of the form given to it: "bow + dents"
	// Measurand is the least-squares shape of the formed surface, of the kind of
	// the ideal one. The axis of a hole meets the face where that of its
	// measurand meets the face's.
	Measurand Face
	// RMS is about Measurand. Zone is the width of the minimum zone (flatness,
	// cylindricity), to within 0.2 % for these points. Both mm.
	RMS, Zone float64
}

// Form returns what form does to the face with the given id, in the part's
// frame. Of a face that is no plane, cylinder or cone it knows nothing.
func (p *Part) Form(id uint16) FormTruth {
	if id == 0 || int(id) > len(p.Faces) {
		return FormTruth{}
	}
	f := p.Faces[id-1]
	t := FormTruth{Measurand: f}
	r := p.forms[id-1]
	if r == nil || f.Shape != Plane && f.Shape != Cylinder && f.Shape != Cone {
		return t
	}
	t.Kind = r.Kind
	z := zoneFit{face: f}
	tiles := newTiles(p, p.solid, []Face{f}, p.Lo, p.Hi, p.Hi.Sub(p.Lo).Norm()*tileShare, 0)
	rng := rand.New(rand.NewPCG(1, streamForm))
	for range 100 * formSamples {
		if len(z.height) == formSamples || len(tiles.all) == 0 {
			break
		}
		foot, tile := tiles.draw(rng)
		if tile.on(tile.chart.lift(foot)) {
			z.feet = append(z.feet, foot)
			z.height = append(z.height, r.Height(foot, f.Normal(foot)))
		}
	}
	if len(z.height) == 0 {
		return t
	}
	z.prepare()
	all := make([]int, len(z.height))
	weight := make([]float64, len(z.height))
	for i := range all {
		all[i], weight[i] = i, 1
	}
	c := z.solve(all, weight)
	low, high, sum := math.Inf(1), math.Inf(-1), 0.0
	for i := range all {
		d := z.residual(c, i)
		low, high, sum = min(low, d), max(high, d), sum+d*d
	}
	t.Measurand = z.shape(c)
	t.RMS, t.Zone = math.Sqrt(sum/float64(len(all))), min(high-low, z.minimumZone(c))
	return t
}

// Form returns what form does to the face with the given id, in the scan's
// frame.
func (t *Truth) Form(id uint16) FormTruth {
	if t.part == nil {
		return FormTruth{}
	}
	f := t.part.Form(id)
	f.Measurand = f.Measurand.moved(t.Pose)
	return f
}

// zoneFit fits small changes of a face's shape to heights above it: a change c lowers
// the height of the surface by c·row, to first order, which is good to some micrometres
// for form of a tenth of a millimetre.
type zoneFit struct {
	face   Face
	feet   []r3.Vector
	height []float64
	rows   [][6]float64
	n      int // of the row that is used
	middle r3.Vector
	scale  float64 // that makes angles lengths, mm
}

func (z *zoneFit) prepare() {
	for _, p := range z.feet {
		z.middle = z.middle.Add(p.Mul(1 / float64(len(z.feet))))
	}
	for _, p := range z.feet {
		z.scale = max(z.scale, p.Distance(z.middle))
	}
	z.n = map[Shape]int{Plane: 3, Cylinder: 5, Cone: 6}[z.face.Shape]
	z.rows = make([][6]float64, len(z.feet))
	const step = 1e-3 // mm
	for k := range z.n {
		var more, less [6]float64
		more[k], less[k] = step, -step
		high, low := z.shape(more), z.shape(less)
		for i, p := range z.feet {
			z.rows[i][k] = (low.Signed(p) - high.Signed(p)) / (2 * step)
		}
	}
}

func (z *zoneFit) residual(c [6]float64, i int) float64 {
	d := z.height[i]
	for k, v := range z.rows[i] {
		d -= c[k] * v
	}
	return d
}

// solve returns the weighted least-squares change for the points listed.
func (z *zoneFit) solve(points []int, weight []float64) (c [6]float64) {
	var normal [36]float64 // lower half, rows of z.n
	for k, i := range points {
		row := &z.rows[i]
		for a := range z.n {
			v := weight[k] * row[a]
			for b := range a + 1 {
				normal[a*z.n+b] += v * row[b]
			}
			c[a] += v * z.height[i]
		}
	}
	for a := range z.n { // few points may leave a direction free
		normal[a*z.n+a] = normal[a*z.n+a]*(1+1e-12) + 1e-300
	}
	if !geom.Cholesky(normal[:z.n*z.n], z.n, 1e-15) {
		return [6]float64{}
	}
	geom.CholeskySolve(normal[:z.n*z.n], c[:z.n])
	return c
}

// minimumZone returns the least width of a zone of the face's kind that holds
// all points: twice the Chebyshev error, by Lawson's reweighting (as in Rice and
// Usow, The Lawson algorithm and extensions, Mathematics of Computation 22
// (1968) 118-127) on few points, to which the worst of the others are added until
// none is outside.
func (z *zoneFit) minimumZone(c [6]float64) float64 {
	var points []int
	least := math.Inf(1)
	for range 100 {
		low, high := 0, 0
		bottom, top := math.Inf(1), math.Inf(-1)
		for i := range z.height {
			d := z.residual(c, i)
			if d < bottom {
				bottom, low = d, i
			}
			if d > top {
				top, high = d, i
			}
		}
		least = min(least, max(top, -bottom))
		points = append(points, low, high)
		if len(points) < 2*z.n {
			points = append(points, len(points)*len(z.height)/(2*z.n))
		}
		weight := make([]float64, len(points))
		for k := range weight {
			weight[k] = 1 / float64(len(points))
		}
		bound := 0.0
		for range 500 {
			c = z.solve(points, weight)
			sum, worst, square := 0.0, 0.0, 0.0
			for k, i := range points {
				d := math.Abs(z.residual(c, i))
				square += weight[k] * d * d
				worst = max(worst, d)
				weight[k] *= d
				sum += weight[k]
			}
			// The weighted mean square is at most the square of the least error.
			bound = math.Sqrt(square)
			if sum == 0 || worst < 1.0005*bound {
				break
			}
			for k := range weight {
				weight[k] /= sum
			}
		}
		if least <= zoneClose*bound {
			break
		}
	}
	return 2 * least
}

// shape returns the face changed by c: raised, or with a larger radius in its middle;
// turned about its middle, two ways; moved across its axis, two ways; with a larger half
// angle.
func (z *zoneFit) shape(c [6]float64) Face {
	f := z.face
	e1 := f.Axis.Ortho()
	e2 := f.Axis.Cross(e1)
	h := z.middle.Sub(f.Point).Dot(f.Axis) // of the middle
	at, back := f.Point.Add(f.Axis.Mul(h)), h
	wider := c[0]
	if f.Internal {
		wider = -c[0]
	}
	switch f.Shape {
	case Plane:
		at, back = z.middle.Add(f.Axis.Mul(c[0]-h)), 0
	case Cylinder:
		f.Radius += wider
	case Cone:
		radius := h*tan(f.HalfAngle) + wider
		f.HalfAngle += s1.Angle(c[5] / z.scale)
		back = radius / tan(f.HalfAngle)
	}
	f.Axis = f.Axis.Add(e1.Mul(c[1] / z.scale)).Add(e2.Mul(c[2] / z.scale)).Normalize()
	f.Point = at.Add(e1.Mul(c[3])).Add(e2.Mul(c[4])).Sub(f.Axis.Mul(back))
	return f
}
