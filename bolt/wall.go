package bolt

import (
	"math"
	"slices"

	"github.com/golang/geo/s1"

	"spotface/bolt/hole"
	"spotface/fit/noise"
	"spotface/fit/segment"
	"spotface/mesh"
)

// candidate is a hole or stud of a face as one kind of evidence shows it.
type candidate struct {
	face    *face
	x, y, r float64 // on the face's sheet, mm
	from    From
	wall    string // id of the cylinder
	series  series
	scale   float64    // of the residuals, mm
	lo, hi  float64    // heights of the wall seen, over the face, mm
	tilt    s1.Angle   // of its axis to the face's normal, where that is significant; else 0
	square  *candidate // the same with its axis perpendicular to the face, where it has a tilt
	rimOff  float64    // of its rim's centre, mm, where that is not the wall's
	arc     float64    // seen by wall and rim together, rad; 0: the series'
	around  int        // thirds of the wall's mouth that have the face about them
	points  int
	end     window // of a slot; the rest of the circle is none of it
	stud    bool
	long    *opening // the slot or rectangle that this weighs
	slot    *Hole    // the measured slot or rectangle: of the other fields only face is set
	// extraR is a standard uncertainty of the radius that no residual shows, mm.
	extraR float64
	// What else its axis shows, see deep.
	through     bool
	depth       float64
	counterbore *Counterbore
	countersink *Countersink
	thread      *hole.Thread
	rimR        float64      // of the rim as it reads, before its rounding was allowed for
	asRead      bool         // the rim's rounding could not be taken off
	asSheet     bool         // the rim's profile is not that of one edge
	noise       *noise.Model // set by weigh

	cov     [3][3]float64 // of (x, y, r), mm²; set by weigh
	follow  [2]float64    // of the centre if the radius is held at another value, mm a mm
	dof     float64       // of cov
	own     wallSure
	shared  int
	common  [2]float64
	dropped bool
	// byPattern: too little was seen to find it by itself, but its pattern lacked it.
	byPattern bool
}

// wallSure is how sure a wall is by itself: without its rim, or a radius that holes share.
type wallSure struct {
	place [2][2]float64 // mm²
	lean  [2][2]float64 // of its axis if that were free, rad²
	dof   float64
}

// wallOf returns what is known of the candidate's wall.
func (c *candidate) wallOf() WallOf {
	h := c.hole()
	return WallOf{ID: c.wall, Axis: h.Axis, Diameter: h.Diameter, DiameterU: h.DiameterU, UnseenU: h.UnseenU,
		PlaceCov: c.own.place, LeanCov: c.own.lean, DOF: c.own.dof}
}

// grain of a scan: what every tolerance here is made of.
type grain struct {
	noise, spacing float64 // mm
	rounded        bool    // its edges are, as a scan's: no modeller made the mesh
}

// drawn reports whether the mesh was made from a drawing, not scanned: its points lie on
// the shapes and its triangles are as large as they can be. Without noise so do the points
// of a smoothed scan, but for those at its rounded edges.
func (g grain) drawn() bool { return !g.rounded && g.noise < 1e-3*g.spacing }

func newGrain(s *mesh.Scan, seg *segment.Segmentation) grain {
	return grain{noise: seg.Noise, spacing: seg.Spacing, rounded: s.IsMesh() && seg.Interior != nil}
}

// end is how far from its face a wall may seem to end: rounded edges are no part of it.
func (g grain) end() float64 { return 1.5*g.spacing + 4*g.noise }

// wallOn fits the wall of c as a circle on the face's sheet, its axis held to
// the face's normal. ok is false where the wall does not end at the face or is
// not perpendicular to it. An external cylinder must rise from the face instead.
// bridge is how much farther from the face a countersink keeps the wall.
func (f *finder) wallOn(fc *face, c *segment.Cylinder, bridge float64) (candidate, bool) {
	g := f.grain
	w, lo, hi, ok := f.heights(fc, c)
	if !ok {
		return candidate{}, false
	}
	reach := max(min(6*g.spacing, 1.5*c.Radius), 10*g.noise, 0.3*c.Radius)
	if g.drawn() {
		reach = 0.02 * c.Radius
	}
	reach += bridge
	near, far := hi, lo
	if !c.Internal {
		near, far = -lo, -hi
	}
	// near: end at the face, 0; far: the other end, below (a stud: above) it. A wall that
	// rises over the face is that of a boss or pad, which has a face of its own.
	if near > min(reach/2, g.end()) || near < -reach || far > 0 && near-far < 2*near {
		return candidate{}, false
	}
	d, ok := f.discOf(c, &w, lo, hi)
	if !ok {
		return candidate{}, false
	}
	// The face must be around the mouth.
	around := fc.around(d.X, d.Y, 0.9*d.B, d.B+max(6*g.spacing, 0.5*d.B)+bridge)
	if fc.area < leastRing*math.Pi*d.B*d.B || around < leastAround {
		return candidate{}, false
	}
	out, ok := f.wholeWall(fc, c, d, lo, hi)
	out.around, out.stud = int(3*around), !c.Internal
	return out, ok
}

// heights lays some of c's points on the face's sheet, and says from where to where over
// the face the wall is seen; ok is false where it is not perpendicular to the face.
func (f *finder) heights(fc *face, c *segment.Cylinder) (w wallPoints, lo, hi float64, ok bool) {
	if len(c.Points) < 12 || !fc.square(c) {
		return w, 0, 0, false
	}
	const sample = 800 // enough to begin with
	for k := 0; k < len(c.Points); k += 1 + len(c.Points)/sample {
		w.add(f.scan, fc, int(c.Points[k]), f.grain)
	}
	if len(w.xy) < 12 {
		return w, 0, 0, false
	}
	sorted := slices.Sorted(slices.Values(w.height))
	return w, sorted[len(sorted)/50], sorted[len(sorted)-1-len(sorted)/50], true
}

// discOf fits a circle to the points of c's wall from lo to hi.
func (f *finder) discOf(c *segment.Cylinder, w *wallPoints, lo, hi float64) (disc, bool) {
	pts, _ := w.between(lo, hi, f.grain)
	d, err := robustDisc(pts, nil, f.grain.noise/4)
	return d, err == nil && d.used >= 6 && f.smooth(d, c) && d.B <= 2*c.Radius && d.B >= c.Radius/2
}

// smooth: a wall that is not perpendicular to the face smears when laid on it.
func (f *finder) smooth(d disc, c *segment.Cylinder) bool {
	return d.scale <= 4*max(f.grain.noise, c.Residuals.Sigma)
}

// wholeWall fits all of the wall that first shows, not only what the segmentation gave c.
func (f *finder) wholeWall(fc *face, c *segment.Cylinder, first disc, lo, hi float64) (candidate, bool) {
	w := f.gather(fc, first, lo, hi, c.Internal)
	pts, height := w.between(lo, hi, f.grain)
	d := first
	d, err := robustDisc(pts, &d, f.grain.noise/4)
	if err != nil || d.used < len(pts)/2 || d.used < 12 || !f.smooth(d, c) ||
		math.Hypot(d.X-first.X, d.Y-first.Y)+math.Abs(d.B-first.B) > 0.25*first.B {
		return candidate{}, false
	}
	var thread *hole.Thread
	if c.Internal && f.rippled(d) {
		thread = f.flatten(&d, pts, height)
	}
	series := newWallSeries(pts, height, hole.Round, d)
	return candidate{
		face: fc, x: d.X, y: d.Y, r: d.B, from: Wall, wall: c.ID, series: series,
		scale: d.scale, lo: lo, hi: hi, points: d.used, thread: thread,
	}, series.arc() >= leastArc
}

// below returns the narrower wall that begins where the wall c ends, of a hole of which c is
// the counterbore, whether or not the segmentation found it.
func (f *finder) below(c *candidate) (*candidate, bool) {
	g := f.grain
	if g.drawn() {
		return nil, false
	}
	var w wallPoints
	for _, i := range f.nearWall(c.face, c.x, c.y, 0, c.r/wider, -f.size, c.lo-g.end()) {
		w.add(f.scan, c.face, int(i), g)
	}
	if len(w.xy) < 4*rimPoints {
		return nil, false
	}
	sorted := slices.Sorted(slices.Values(w.height))
	lo, hi := sorted[len(sorted)/50], sorted[len(sorted)-1-len(sorted)/50]
	pts, _ := w.between(lo, hi, g)
	d, err := robustDisc(pts, nil, g.noise/4)
	if err != nil || math.Hypot(d.X-c.x, d.Y-c.y) > offAxis*d.B || hi-lo < 2*g.spacing {
		return nil, false
	}
	var like segment.Cylinder
	like.Internal, like.Residuals.Sigma = true, g.noise
	if !f.smooth(d, &like) {
		return nil, false
	}
	out, ok := f.wholeWall(c.face, &like, d, lo, hi)
	out.around = c.around
	return &out, ok && out.under(c)
}

// rippled reports whether a wall is rougher than the scan's noise, as a thread makes it.
func (f *finder) rippled(d disc) bool {
	return !f.grain.drawn() && d.scale > 1.3*f.grain.noise
}

// flatten takes the thread, if there is one, off the points of a wall, whose circle it would
// draw to the side where it happens to end, and fits that again.
func (f *finder) flatten(d *disc, pts [][2]float64, height []float64) *hole.Thread {
	var found *hole.Thread
	as := slices.Clone(pts)
	for range 2 {
		t, ok := hole.FindThread(d.Outline, as, height, f.grain.spacing)
		if !ok {
			return found
		}
		for i, p := range as {
			x, y := p[0]-d.X, p[1]-d.Y
			k := 1 - t.Off(math.Atan2(y, x), height[i])/math.Hypot(x, y)
			pts[i] = [2]float64{d.X + k*x, d.Y + k*y}
		}
		next, err := robustDisc(pts, d, f.grain.noise/4)
		if err != nil {
			return found
		}
		*d, found = next, &t
	}
	return found
}

// Smoothed reports whether a scan was fused to a mesh; one of a drawing was not.
func Smoothed(s *mesh.Scan, seg *segment.Segmentation) bool {
	return s.IsMesh() && !newGrain(s, seg).drawn()
}

// Unsmoothed allows for what fusing a scan to a mesh does to a curved wall seen at the
// radius r: it smooths it over some width, which moves it towards its axis, see
// smoothed. It returns the wall's own radius and the standard uncertainty of the
// correction, mm. The width w, of standard uncertainty u, is that of rounded edges; but
// these may be round of their own accord, and then the wall has moved by less: as much
// as the correction is two standard uncertainties. Where w is 0, not known, it may be
// about a spacing, though no more than a quarter of the radius, which would leave no hole
// as round as it is seen; nothing is corrected.
func Unsmoothed(r, w, u, spacing float64) (radius, standard float64) {
	if w == 0 {
		return r, r - smoothed(r, min(spacing, r/4))
	}
	lift := r - smoothed(r, w)
	return r + lift, math.Hypot(lift/2, u*w/r)
}

// smoothed reports whether the scan was fused to a mesh; one of a drawing was not.
func (f *finder) smoothed() bool { return f.scan.IsMesh() && !f.grain.drawn() }

// unsmooth takes off what smoothing did to walls.
func (f *finder) unsmooth(walls []*candidate) {
	if !f.smoothed() {
		return
	}
	for _, c := range walls {
		c.r, c.extraR = Unsmoothed(c.r, f.edgeWidth, f.edgeWidthU, f.grain.spacing)
	}
}

// wallPoints are points of a wall laid on the face's sheet.
type wallPoints struct {
	xy     [][2]float64
	height []float64 // over the face, mm
}

// add takes point i unless its normal says that it is not on a wall: a wall's
// normals lie in the face, those of its rounded ends do not. (A drawing's mesh
// has its points on the edges, where normals are half of either.)
func (w *wallPoints) add(s *mesh.Scan, fc *face, i int, g grain) {
	if !g.drawn() && math.Abs(s.Normal(i).Dot(fc.flat.n)) > 0.5 {
		return
	}
	q := s.Point(i)
	w.xy = append(w.xy, fc.flat.xy(q))
	w.height = append(w.height, fc.flat.height(q))
}

// between returns the points from lo to hi less a margin at either end, and their
// heights: rounded ends bend the wall, so what is within two spacings of them is left
// out, but two thirds of the length are kept.
func (w *wallPoints) between(lo, hi float64, g grain) (xy [][2]float64, height []float64) {
	margin := min(2*g.spacing, (hi-lo)/6)
	for k, h := range w.height {
		if h >= lo+margin && h <= hi-margin {
			xy, height = append(xy, w.xy[k]), append(height, h)
		}
	}
	if len(xy) < 12 {
		return w.xy, w.height
	}
	return xy, height
}

// gather returns the scan's points about the disc's wall from lo to hi: within
// five of its residuals' standard deviations, their normals, where known,
// within 45 degrees of the radius.
func (f *finder) gather(fc *face, d disc, lo, hi float64, internal bool) wallPoints {
	band := 5 * max(d.scale, f.grain.noise)
	side := 1.0
	if internal {
		side = -1
	}
	var w wallPoints
	var on []int32
	for _, i := range f.nearWall(fc, d.X, d.Y, d.B-band, d.B+band, lo, hi) {
		xy := fc.flat.xy(f.scan.Point(int(i)))
		dx, dy := xy[0]-d.X, xy[1]-d.Y
		r := math.Hypot(dx, dy)
		if nv := f.scan.Normal(int(i)); nv.Norm2() > 0 && !f.grain.drawn() {
			out := (nv.Dot(fc.flat.e1)*dx + nv.Dot(fc.flat.e2)*dy) / r
			if side*out < math.Sqrt2/2 {
				continue
			}
		}
		on = append(on, i)
	}
	slices.Sort(on)
	for _, i := range on {
		w.add(f.scan, fc, int(i), f.grain)
	}
	return w
}

// hole returns the candidate as a Hole without an id.
func (c *candidate) hole() Hole {
	if c.slot != nil {
		return *c.slot
	}
	h := Hole{
		Kind: Round, Centre: c.face.flat.at([2]float64{c.x, c.y}), Axis: c.face.flat.n,
		Diameter: 2 * c.r, Face: c.face.id, Wall: c.wall, From: c.from,
		DiameterU: 2 * math.Sqrt(c.cov[2][2]), UnseenU: 2 * c.extraR, RimDiameter: 2 * c.rimR, RimOff: c.rimOff, Tilt: c.tilt,
		CentreDOF: c.dof, shared: c.shared, common: c.common,
	}
	h.ByPattern = c.byPattern
	h.Through, h.Depth, h.Counterbore, h.Countersink = c.through, c.depth, c.counterbore, c.countersink
	if t := c.thread; t != nil {
		// A tapped hole is as wide as the drill left it. What the scan smoothed of its crests
		// is not known.
		h.Thread = &Thread{Pitch: t.Pitch, Minor: t.Minor, Major: t.Major}
		h.Diameter, h.UnseenU = t.Minor, math.Hypot(h.UnseenU, minorU*t.Pitch)
		h.DiameterU = math.Hypot(h.DiameterU, minorU*t.Pitch)
	}
	h.Arc = s1.Angle(max(c.arc, c.series.arc()))
	h.CentreCov = [2][2]float64{{c.cov[0][0], c.cov[0][1]}, {c.cov[1][0], c.cov[1][1]}}
	return h
}

// widest is the gap between neighbouring bins, rad, beyond which something is
// missing.
func (s *series) widest() float64 {
	gaps := make([]float64, len(s.theta))
	for i, a := range s.theta {
		gaps[i] = step(a, s.theta[(i+1)%len(s.theta)])
	}
	slices.Sort(gaps)
	return max(2.5*gaps[(len(gaps)-1)/2], 4*2*math.Pi/arcBins)
}

// arc returns how much of the circumference was seen, rad.
func (s *series) arc() float64 {
	if len(s.theta) < 2 {
		return 0
	}
	arc := 2 * math.Pi
	limit := s.widest()
	for i, a := range s.theta {
		if gap := step(a, s.theta[(i+1)%len(s.theta)]); gap > limit {
			arc -= gap
		}
	}
	return max(arc, 0)
}
