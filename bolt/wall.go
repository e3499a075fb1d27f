package bolt

import (
	"math"
	"slices"

	"github.com/golang/geo/s1"

	"spotface/fit/segment"
	"spotface/mesh"
)

// candidate is a hole or stud of a face as one kind of evidence shows it.
type candidate struct {
	face    *face
	x, y, r float64 // on the face's sheet, mm
	from    From
	wall    string // id of the cylinder
	series  arcSeries
	scale   float64 // of the residuals, mm
	lo, hi  float64 // heights of the wall seen, over the face, mm
	points  int
	// extraR is a standard uncertainty of the radius that no residual shows, mm.
	extraR float64

	info    information // set by weigh
	cov     [3][3]float64
	shared  int
	common  [2]float64
	circle  int // index of its bolt circle, or -1
	dropped bool
}

// scale of a scan: what every tolerance here is made of.
type grain struct {
	noise, spacing float64 // mm
}

// wallOn fits the wall of c as a circle on the face's sheet, its axis held to
// the face's normal. ok is false where the wall does not end at the face or is
// not square to it. stud asks for an external cylinder that rises from the
// face instead.
func wallOn(s *mesh.Scan, f *face, c *segment.Cylinder, g grain, bridge float64) (candidate, bool) {
	stud := !c.Internal
	n := len(c.Points)
	if n < 12 || !f.square(c) {
		return candidate{}, false
	}
	xy := make([][2]float64, 0, n)
	height := make([]float64, 0, n)
	for _, i := range c.Points {
		// A wall's normals lie in the face; those of its rounded ends do not.
		if nv := s.Normal(int(i)); math.Abs(nv.Dot(f.flat.n)) > 0.5 {
			continue
		}
		q := s.Point(int(i))
		xy = append(xy, f.flat.xy(q))
		height = append(height, f.flat.height(q))
	}
	if len(xy) < 12 {
		return candidate{}, false
	}
	sorted := slices.Sorted(slices.Values(height))
	lo, hi := sorted[len(sorted)/50], sorted[len(sorted)-1-len(sorted)/50]
	reach := max(6*g.spacing, 10*g.noise, 0.3*c.Radius) + bridge
	near, far := hi, lo
	if stud {
		near, far = -lo, -hi
	}
	// near: end at the face, 0; far: the other end, below (a stud: above) it.
	if near > reach/2 || near < -reach || far > 0 && near-far < 2*near {
		return candidate{}, false
	}
	// Rounded ends bend the wall: leave out what is within two spacings of
	// either end, but keep two thirds of the length.
	margin := min(2*g.spacing, (hi-lo)/6)
	var pts [][2]float64
	for k, h := range height {
		if h >= lo+margin && h <= hi-margin {
			pts = append(pts, xy[k])
		}
	}
	if len(pts) < 12 {
		pts = xy
	}
	d, err := robustDisc(pts, nil, g.noise/4)
	if err != nil || d.used < len(pts)/2 {
		return candidate{}, false
	}
	// A wall that is not square to the face smears when laid on it.
	if d.scale > 4*max(g.noise, c.Residuals.Sigma) || d.r > 2*c.Radius || d.r < c.Radius/2 {
		return candidate{}, false
	}
	// The face must be around the mouth.
	if f.around(d.x, d.y, d.r, d.r+max(6*g.spacing, 0.5*d.r)+bridge) < 0.25 {
		return candidate{}, false
	}
	// Fusing a scan to a mesh smooths it over about a spacing w, which moves a
	// curved wall towards its axis by some w²/2r (second-order expansion of the
	// smoothed distance field); by how much the scan does not say.
	extra := 0.0
	if s.IsMesh() {
		extra = g.spacing * g.spacing / (2 * d.r)
	}
	return candidate{
		face: f, x: d.x, y: d.y, r: d.r, from: Wall, wall: c.ID, extraR: extra,
		series: newArcSeries(pts, d.weight, d.x, d.y, d.r),
		scale:  d.scale, lo: lo, hi: hi, points: d.used, circle: -1,
	}, true
}

// weigh turns the candidate's residuals into a better centre and radius and
// their covariance, by what the noise of its kind is like.
func (c *candidate) weigh(noise arcNoise) bool {
	in, ok := noise.information(c.series)
	if !ok {
		return false
	}
	beta, cov, ok := solveSPD(in.a, in.b)
	if !ok || math.Hypot(beta[0], beta[1])+math.Abs(beta[2]) > c.r/2 {
		return false
	}
	c.info, c.cov = in, cov
	c.cov[2][2] += c.extraR * c.extraR
	c.x, c.y, c.r = c.x+beta[0], c.y+beta[1], c.r+beta[2]
	// The series stays as it was; b now counts from the new circle.
	c.info.b = [3]float64{}
	return true
}

// hole returns the candidate as a Hole without an id.
func (c *candidate) hole() Hole {
	h := Hole{
		Kind: Round, Centre: c.face.flat.at([2]float64{c.x, c.y}), Axis: c.face.flat.n,
		Diameter: 2 * c.r, Face: c.face.id, Wall: c.wall, From: c.from,
		DiameterU: 2 * math.Sqrt(c.cov[2][2]),
		shared:    c.shared, common: c.common,
	}
	h.Arc = s1.Angle(c.series.arc())
	h.CentreCov = [2][2]float64{{c.cov[0][0], c.cov[0][1]}, {c.cov[1][0], c.cov[1][1]}}
	return h
}
