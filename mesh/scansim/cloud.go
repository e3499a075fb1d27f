package scansim

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"

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
	sites   *sites
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
	c.sites = newSites(c.solid, c.lo, c.hi, size*siteShare, c.margin,
		func(id uint16) bool { return id != LabelEdge })
	if len(c.sites.all) == 0 {
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
		p, n, at, ok := c.seen(rng)
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
		c.labels[i] = faceAt(at.solid, p, c.margin)
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
func (c *cloud) seen(rng *rand.Rand) (p, n r3.Vector, at *site, ok bool) {
	for range drawsMost {
		if p, at, ok = c.sites.draw(rng); !ok || c.opt.Drop != nil && c.opt.Drop(p) {
			continue
		}
		n = at.leaf.gradient(p)
		switch {
		case c.opt.ShowHidden:
			ok = true
		case c.opt.ByView:
			ok = c.eyes.catch(rng, p, n)
		default:
			ok = c.eyes.see(p, n)
		}
		if ok {
			return p, n, at, true
		}
	}
	return p, n, at, false
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

// site is a cube near a face, and what of the solid matters there.
type site struct {
	lo          r3.Vector
	leaf, solid *Solid
}

// sites are the places from which points of a surface are drawn: each face with the cubes
// of a grid that it may pass.
type sites struct {
	edge, shell float64 // of the cubes; half the thickness of the shell about a face; mm
	all         []site
}

// newSites covers the surface of s within the box, of the faces that are wanted. A site's
// solid is good for points within margin of its cube.
func newSites(s *Solid, lo, hi r3.Vector, edge, margin float64, wanted func(id uint16) bool) *sites {
	t := &sites{edge: edge, shell: edge * shellShare}
	size, end := 1, [3]int{}
	for k, l := range [3]float64{hi.X - lo.X, hi.Y - lo.Y, hi.Z - lo.Z} {
		end[k] = int(l/edge) + 3
		for size < end[k] {
			size *= 2
		}
	}
	lo = lo.Sub(r3.Vector{X: edge, Y: edge, Z: edge})
	middle := func(c r3.Vector) r3.Vector { return lo.Add(c.Mul(edge)) }
	reach := func(half float64) float64 { return math.Sqrt(3)*half*edge + t.shell + margin }
	s.cubes([3]int{}, end, size, false, middle, reach, func(at [3]int, kept *Solid) {
		corner := r3.Vector{X: float64(at[0]), Y: float64(at[1]), Z: float64(at[2])}
		seen := map[*leaf]bool{}
		kept.leaves(func(l *Solid) {
			c := middle(corner.Add(r3.Vector{X: 0.5, Y: 0.5, Z: 0.5}))
			if !seen[l.leaf] && wanted(l.leaf.id) && math.Abs(l.leaf.face.raw(c)) <= math.Sqrt(3)/2*edge+t.shell {
				t.all = append(t.all, site{middle(corner), l, kept})
			}
			seen[l.leaf] = true
		})
	})
	return t
}

// draw returns a random point of the surface, uniform by the area of the ideal faces, and
// its site; false where it found none. A point of a cube is dropped on the face: what is
// thrown into a shell of constant thickness falls evenly on the face in its middle, but for
// the square of the thickness over the radius.
func (t *sites) draw(rng *rand.Rand) (q r3.Vector, at *site, ok bool) {
	at = &t.all[rng.IntN(len(t.all))]
	q = at.lo.Add(r3.Vector{X: rng.Float64(), Y: rng.Float64(), Z: rng.Float64()}.Mul(t.edge))
	d := at.leaf.sign * at.leaf.leaf.face.raw(q)
	if math.Abs(d) > t.shell {
		return q, at, false
	}
	n := at.leaf.normal(q)
	q = q.Sub(n.Mul(d))
	q = q.Sub(n.Mul(at.leaf.value(q))) // onto its form
	v, from := at.solid.active(q)
	return q, at, math.Abs(v) < onSurface && from.leaf == at.leaf.leaf
}
