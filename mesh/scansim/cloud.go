package scansim

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"sort"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// CloudOptions of Cloud. The zero value gives 100,000 exact points without
// normals, in a random pose.
type CloudOptions struct {
	Seed uint64
	// Points is the number of points, outliers included; zero means 100,000.
	Points int
	// Noise is the standard deviation across the surface, Tangential of each of
	// the two directions along it, mm.
	Noise, Tangential float64
	// NoiseLength is how far along the surface Noise is shared: its correlation
	// at the distance d is exp(-d²/(2 NoiseLength²)). Zero means independent from
	// point to point.
	NoiseLength float64
	// Drop, if set, says which points of the part, in its own frame, the scan
	// lacks. It is called from several goroutines.
	Drop func(p r3.Vector) bool
	// Normals adds normals out of the material, each tilted from the true one
	// by NormalNoise (standard deviation of the tilt about each of two axes).
	Normals     bool
	NormalNoise s1.Angle
	// Outliers is the share of points that are outliers. Half of these lie near
	// the surface, off it by 3 times Noise and on average a 200th of the part's
	// diagonal more, the others anywhere in the part's box, widened by a tenth.
	Outliers float64
	// ByView throws each point from one stop of the scanner instead of evenly
	// by area, so that steep and half hidden surfaces come out sparse.
	ByView bool
	// ShowHidden keeps what the scanner cannot see.
	ShowHidden bool
	// Turntable is the diameter of a flat disc that the part lies on, mm; zero
	// means none.
	Turntable float64
	// EdgeMargin is how far from an edge a label begins, mm. Zero means 3 times
	// the larger of Noise and Tangential.
	EdgeMargin float64
	// InPlace keeps the scan in the part's frame.
	InPlace bool
	// Jobs is the number of goroutines; zero means GOMAXPROCS. It does not
	// change the result.
	Jobs int
}

// Cloud simulates a point cloud of p. See the package for the method.
func Cloud(ctx context.Context, p *Part, opt CloudOptions) (*mesh.Scan, Truth, error) {
	c, err := newCloud(p, opt)
	if err != nil {
		return nil, Truth{}, err
	}
	n := len(c.points)
	err = parallel.Workers(ctx, opt.Jobs, n, chunk, func(_, lo, hi int) error {
		return c.fill(rand.New(rand.NewPCG(opt.Seed+streamCloud, uint64(lo/chunk))), lo, hi)
	})
	if err != nil {
		return nil, Truth{}, err
	}
	s := newScan(c.points, c.pose)
	if opt.Normals {
		s.Normals = make([]mesh.Vec32, n)
		for i, v := range c.normals {
			v = c.pose.Turn(v)
			s.Normals[i] = mesh.Vec32{float32(v.X), float32(v.Y), float32(v.Z)}
		}
	}
	truth := newTruth(p, c.faces, c.pose)
	truth.Noise = opt.Noise
	truth.Labels = c.labels
	return s, truth, nil
}

// cloud is one run of Cloud.
type cloud struct {
	scene
	opt     CloudOptions
	tiles   *tiles
	eyes    *eyes
	margin  float64
	waves   *lattice // of shared noise, nil where it is independent
	points  []r3.Vector
	normals []r3.Vector
	labels  []uint16
}

func newCloud(p *Part, opt CloudOptions) (*cloud, error) {
	sc, err := newScene(p, opt.Seed, opt.InPlace, opt.Turntable)
	if err != nil {
		return nil, err
	}
	switch {
	case opt.Points < 0:
		return nil, p.fault("%d points: the number must not be negative", opt.Points)
	case !(opt.Noise >= 0 && opt.Tangential >= 0) || math.IsInf(opt.Noise+opt.Tangential, 0):
		return nil, p.fault("noise of %v and %v mm: it must not be negative", opt.Noise, opt.Tangential)
	case !(opt.NoiseLength >= 0) || math.IsInf(opt.NoiseLength, 0):
		return nil, p.fault("noise shared over %v mm: the length must not be negative", opt.NoiseLength)
	case !(opt.Outliers >= 0 && opt.Outliers <= 1):
		return nil, p.fault("%v outliers: use a share from 0 to 1", opt.Outliers)
	}
	n, size := cmp.Or(opt.Points, 100_000), sc.size()
	c := &cloud{
		scene: *sc, opt: opt,
		margin: cmp.Or(opt.EdgeMargin, 3*max(opt.Noise, opt.Tangential)),
		points: make([]r3.Vector, n), normals: make([]r3.Vector, n), labels: make([]uint16, n),
	}
	if opt.NoiseLength > 0 {
		l := newLattice(mix(opt.Seed+streamNoise), opt.NoiseLength)
		c.waves = &l
	}
	c.eyes = newEyes(c.shade, c.lo, c.hi, size*rayStart)
	c.tiles = newTiles(p, c.solid, c.faces, c.lo, c.hi, size*tileShare, c.margin)
	if len(c.tiles.all) == 0 {
		return nil, p.fault("the part has no surface")
	}
	return c, nil
}

// fill makes the points from lo to hi.
func (c *cloud) fill(rng *rand.Rand, lo, hi int) error {
	for i := lo; i < hi; i++ {
		outlier := rng.Float64() < c.opt.Outliers
		if outlier && rng.Float64() >= 0.5 {
			// Anywhere in the part's box, widened.
			size := c.part.Hi.Sub(c.part.Lo)
			u := func() float64 { return 1.1*rng.Float64() - 0.05 }
			c.stray(rng, i, c.part.Lo.Add(r3.Vector{X: size.X * u(), Y: size.Y * u(), Z: size.Z * u()}))
			continue
		}
		p, n, t, ok := c.seen(rng)
		if !ok {
			return c.part.fault("hardly anything of it is seen")
		}
		if outlier {
			d := 3*c.opt.Noise + c.size()/200*rng.ExpFloat64()
			if rng.IntN(2) == 0 {
				d = -d
			}
			c.stray(rng, i, p.Add(n.Mul(d)))
			continue
		}
		c.normals[i] = tilt(rng, n, c.opt.NormalNoise.Radians())
		e1 := n.Ortho()
		c.labels[i] = faceAt(t.solid, p, c.margin)
		z := rng.NormFloat64()
		if c.waves != nil {
			z = c.waves.at(p)
		}
		c.points[i] = p.Add(n.Mul(c.opt.Noise * z)).
			Add(e1.Mul(c.opt.Tangential * rng.NormFloat64())).
			Add(n.Cross(e1).Mul(c.opt.Tangential * rng.NormFloat64()))
	}
	return nil
}

// stray makes p an outlier, with any normal.
func (c *cloud) stray(rng *rand.Rand, i int, p r3.Vector) {
	c.points[i], c.labels[i], c.normals[i] = p, LabelOutlier, RandomRotation(rng).Turn(up)
}

// seen draws a point of the surface that the scanner sees, and its normal.
func (c *cloud) seen(rng *rand.Rand) (p, n r3.Vector, t *tile, ok bool) {
	for range 200_000 {
		var foot r3.Vector
		foot, t = c.tiles.draw(rng)
		if share := t.chart.share(foot); share < 1 && rng.Float64() >= share {
			continue
		}
		if p = t.chart.lift(foot); !t.on(p) {
			continue
		}
		if c.opt.Drop != nil && c.opt.Drop(p) {
			continue
		}
		n = t.chart.normal(foot)
		switch {
		case c.opt.ShowHidden:
			ok = true
		case c.opt.ByView:
			ok = c.eyes.catch(rng, p, n)
		default:
			ok = c.eyes.see(p, n)
		}
		if ok {
			return p, n, t, true
		}
	}
	return p, n, t, false
}

// tilt turns n by a normal angle of standard deviation sd about each of two
// axes across it.
func tilt(rng *rand.Rand, n r3.Vector, sd float64) r3.Vector {
	if sd == 0 {
		return n
	}
	e1 := n.Ortho()
	a, b := sd*rng.NormFloat64(), sd*rng.NormFloat64()
	angle := math.Hypot(a, b)
	if angle == 0 {
		return n
	}
	sin, cos := math.Sincos(angle)
	return n.Mul(cos).Add(e1.Mul(sin * a / angle)).Add(n.Cross(e1).Mul(sin * b / angle))
}

// chart maps the unit square onto an ideal face so that equal areas stay equal,
// once points are kept with the chance of their share, over all of the face that a
// ball about centre can hold.
type chart struct {
	face   Face
	form   *Form // nil where the face is ideal
	e1, e2 r3.Vector
	foot   r3.Vector // origin of the map
	half   float64   // of a plane's square, mm
	area   float64   // of a face whose share is 1 everywhere
	// section returns, of a round face at v, how far along the axis and from it.
	section func(v float64) (h, w float64)
	// along returns the length of the way from v = 0 to v at a fixed u, around a
	// bound of that from u = 0 to 1 at v and below.
	along, around func(v float64) float64
}

func newChart(f Face, centre r3.Vector, radius float64) *chart {
	if f.Shape == Sphere {
		f.Axis = up
	}
	c := &chart{face: f, foot: f.Point, e1: f.Axis.Ortho()}
	c.e2 = f.Axis.Cross(c.e1)
	h := centre.Sub(f.Point).Dot(f.Axis)
	turn := 2 * math.Pi * (f.Radius + f.Minor)
	c.around = func(float64) float64 { return turn }
	switch f.Shape {
	case Plane:
		c.foot = centre.Sub(f.Axis.Mul(h))
		c.half, c.area = radius, 4*radius*radius
		c.along = func(v float64) float64 { return 2 * radius * v }
		c.around = func(float64) float64 { return 2 * radius }
	case Torus:
		c.area = turn * 2 * math.Pi * f.Minor
		c.along = func(v float64) float64 { return 2 * math.Pi * f.Minor * v }
		c.section = func(v float64) (h, w float64) {
			h, w = math.Sincos(2 * math.Pi * v)
			return h * f.Minor, f.Radius + w*f.Minor
		}
	case Cylinder:
		low, long := h-radius, (h+radius)-(h-radius)
		c.area = turn * long
		c.along = func(v float64) float64 { return long * v }
		c.section = func(v float64) (h, w float64) { return low + long*v, f.Radius }
	case Sphere: // Archimedes: equal heights hold equal areas
		c.area = 2 * turn * f.Radius
		c.along = func(v float64) float64 { return f.Radius * math.Acos(1-2*v) }
		c.section = func(v float64) (h, w float64) {
			h = -f.Radius + 2*f.Radius*v
			return h, math.Sqrt(max(0, f.Radius*f.Radius-h*h))
		}
	case Cone: // the area within s of the apex goes as s²
		long := centre.Sub(f.Point).Norm() + radius
		sin, cos := f.slant()
		c.area = math.Pi * sin * long * long
		c.along = func(v float64) float64 { return long * math.Sqrt(v) }
		c.around = func(v float64) float64 { return 2 * math.Pi * long * math.Sqrt(v) * sin }
		c.section = func(v float64) (h, w float64) {
			s := long * math.Sqrt(v)
			return s * cos, s * sin
		}
	}
	return c
}

// at returns the point of (u, v).
func (c *chart) at(u, v float64) r3.Vector {
	if c.section == nil {
		return c.foot.Add(c.e1.Mul(c.half * (2*u - 1))).Add(c.e2.Mul(c.half * (2*v - 1)))
	}
	sin, cos := math.Sincos(2 * math.Pi * u)
	h, w := c.section(v)
	return c.foot.Add(c.face.Axis.Mul(h)).Add(c.e1.Mul(w * cos)).Add(c.e2.Mul(w * sin))
}

// share is the true area at the point q over that of the chart, at most 1.
func (c *chart) share(q r3.Vector) float64 {
	if c.face.Shape == Torus {
		return q.Sub(c.face.Point).Cross(c.face.Axis).Norm() / (c.face.Radius + c.face.Minor)
	}
	return 1
}

// tile is a piece of a face that the part's surface may contain.
type tile struct {
	chart          *chart
	u0, u1, v0, v1 float64
	solid          *Solid // pruned to what matters here
}

// tiles is the surface of a solid in small pieces, to draw points from.
type tiles struct {
	all []tile
	sum []float64 // of areas up to and with each tile
}

// newTiles covers the surface of s, which is p and what stands about it, near the faces
// with tiles of about the given size, leaving out those that hold nothing of it. A tile's
// solid is good for points within margin of it.
func newTiles(p *Part, s *Solid, faces []Face, lo, hi r3.Vector, size, margin float64) *tiles {
	t := &tiles{}
	total := 0.0
	for _, f := range faces {
		c := newChart(f, lo.Add(hi).Mul(0.5), hi.Sub(lo).Norm()/2)
		if i := int(f.ID); i <= len(p.forms) { // the turntable is beyond
			c.form = p.forms[i-1]
		}
		var split func(s *Solid, u0, u1, v0, v1 float64)
		split = func(s *Solid, u0, u1, v0, v1 float64) {
			vm := (v0 + v1) / 2
			du := c.around(v1) * (u1 - u0) / 2
			dv := max(c.along(v1)-c.along(vm), c.along(vm)-c.along(v0))
			reach := du + dv
			kept, d := s.prune(c.at((u0+u1)/2, vm), reach+margin)
			if math.Abs(d) > reach+s.slack {
				return
			}
			if reach < size {
				total += c.area * (u1 - u0) * (v1 - v0)
				t.all = append(t.all, tile{c, u0, u1, v0, v1, kept})
				t.sum = append(t.sum, total)
				return
			}
			if um := (u0 + u1) / 2; du > dv {
				split(kept, u0, um, v0, v1)
				split(kept, um, u1, v0, v1)
			} else {
				split(kept, u0, u1, v0, vm)
				split(kept, u0, u1, vm, v1)
			}
		}
		split(s, 0, 1, 0, 1)
	}
	return t
}

// draw returns a random point of the tiles' ideal faces, uniform by area, and its
// tile. It may lie off the part once lifted: see on.
func (t *tiles) draw(rng *rand.Rand) (r3.Vector, *tile) {
	want := rng.Float64() * t.sum[len(t.sum)-1]
	i := min(sort.SearchFloat64s(t.sum, want), len(t.all)-1)
	c := &t.all[i]
	return c.chart.at(c.u0+(c.u1-c.u0)*rng.Float64(), c.v0+(c.v1-c.v0)*rng.Float64()), c
}

// on reports whether the point q of the tile is on the solid's surface.
func (t *tile) on(q r3.Vector) bool {
	d, from := t.solid.active(q)
	return math.Abs(d) < 1e-9 && from.leaf.id == t.chart.face.ID
}
