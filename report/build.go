package report

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/bolt"
	"spotface/bolt/pattern"
	"spotface/fit/form"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/parallel"
	"spotface/report/wording"
)

// Build turns what the packages found into a report. Standard uncertainties
// become expanded ones. It measures nothing but flatness and cylindricity,
// which need the points and the surfaces together. It looks at ctx before each
// surface and circle, each of which takes some hundredths of a second at most, and
// returns its error and no report once it is done.
func Build(ctx context.Context, s *mesh.Scan, seg *segment.Segmentation,
	m *bolt.Measurement) (*Report, error) {
	b := builder{scan: s, seg: seg, edge: [2]float64{m.EdgeWidth, m.EdgeWidthU}}
	rep := &Report{Schema: Schema, Scan: b.scanInfo(m.CorrelationLength)}
	rep.Planes, rep.Cylinders = b.planes(ctx), b.cylinders(ctx)
	rep.Cones, rep.Spheres = each(seg.Cones(), b.cone), each(seg.Spheres(), b.sphere)
	rep.Holes, rep.Studs = each(m.Holes, b.hole), each(m.Studs, b.hole)
	if m.Bore != nil {
		rep.Bore = new(b.hole(*m.Bore))
	}
	rep.JointCovariance = newJoint(slices.Concat(m.Holes, m.Studs))
	b.knownWalls(rep, m.Walls)
	rep.BoltCircles = each(m.Circles, b.circle)
	for i := range rep.BoltCircles {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		c := &rep.BoltCircles[i]
		c.Standouts = FindStandouts(rep, c)
		if c.Nominal != nil {
			c.Nominal.Turns = rep.turns(c)
			c.AboutBore = rep.aboutBore(c)
		}
	}
	rep.Patterns = each(m.Patterns, b.pattern)
	if f := m.Frame; f != nil {
		rep.Frame = &Frame{Origin: vec(f.Origin), X: vec(f.X), Y: vec(f.Y), Z: vec(f.Z),
			Face: f.Face, Axis: f.Axis, Clock: f.Clock}
	}
	rep.place()
	if share, ok := unassigned(ctx, s, seg); ok {
		rep.Surface = &Surface{Unassigned: &share}
	}
	rep.Scan.Warnings = append([]string{},
		slices.Concat(s.Warnings, m.Warnings, b.warnings, b.longForm())...)
	rep.nameSizes(s)
	if err := ctx.Err(); err != nil {
		return nil, err // a form or a share may be missing
	}
	return rep, nil
}

type builder struct {
	scan     *mesh.Scan
	seg      *segment.Segmentation
	edge     [2]float64 // width of rounded edges and its standard uncertainty, mm; 0: not known
	warnings []string
}

func (b *builder) scanInfo(correlation float64) Scan {
	s := b.scan
	return Scan{
		File: s.Source.File, Format: s.Source.Format,
		Unit: string(s.Source.Unit), UnitSource: string(s.Source.UnitSource), SHA256: s.Source.SHA256,
		FilePoints: s.Source.Points, FileTriangles: s.Source.Triangles,
		Points: s.Len(), Triangles: len(s.Triangles),
		Spacing: b.seg.Spacing, Noise: b.seg.Noise, CorrelationLength: correlation,
		Removed: Removed{Broken: s.Removed.Broken, ZeroArea: s.Removed.ZeroArea,
			Duplicate: s.Removed.Duplicate, Rewound: s.Removed.Rewound},
	}
}

// expand returns k times the square root of variance, or 0, not known, with a
// warning where variance is not a variance.
func (b *builder) expand(k, variance float64, of string) float64 {
	u := k * math.Sqrt(variance)
	if math.IsNaN(u) || math.IsInf(u, 0) {
		b.warnings = append(b.warnings, fmt.Sprintf("This scan does not show enough of %s to "+
			"say how sure it is.", of))
		return 0
	}
	return u
}

func side(internal bool) Side {
	if internal {
		return Internal
	}
	return External
}

// each is f of every item, never nil: JSON has a list where there is none.
func each[T, U any](list []T, f func(T) U) []U {
	out := make([]U, len(list))
	for i, v := range list {
		out[i] = f(v)
	}
	return out
}

func (b *builder) planes(ctx context.Context) []Plane {
	planes := b.seg.Planes()
	sigma := quietOfPlanes(planes)
	forms := formsOf(ctx, len(planes), func(k int) (form.Form, bool) {
		return form.Flatness(b.sampled(planes[k].Points), planes[k].Plane, sigma[k])
	})
	out := each(planes, func(p segment.Plane) Plane {
		return Plane{ID: p.ID, Point: vec(p.Point), Normal: vec(p.Normal), RMS: p.Residuals.RMS,
			Area: p.Area, Support: len(p.Points), Form: p.Form.Kind, FormLength: p.Form.Length,
			Uncertainty: Uncertainty{Offset: b.expand(Coverage, p.Cov[0][0], "plane "+p.ID),
				NormalDeg: degrees(radius95(block(p.Cov, 1)))}}
	})
	for k, f := range forms {
		if q := &out[k]; f != nil {
			q.Flatness, q.Uncertainty.Flatness, q.FormOrNoise = &f.Width, f.Expanded, f.OrNoise
		}
	}
	return out
}

func (b *builder) cylinders(ctx context.Context) []Cylinder {
	cylinders := b.seg.Cylinders()
	forms := formsOf(ctx, len(cylinders), func(k int) (form.Form, bool) {
		c := &cylinders[k]
		if c.Arc.Degrees() < leastArc {
			return form.Form{}, false
		}
		return form.Cylindricity(b.sampled(c.Points), c.Cylinder, c.Extent,
			quietRMS(c.Residuals.RMS, c.Form.RMS))
	})
	out := each(cylinders, func(c segment.Cylinder) Cylinder {
		r, u := b.unsmoothed(c.Radius)
		return Cylinder{ID: c.ID, Side: side(c.Internal), Point: vec(c.Point), Axis: vec(c.Axis),
			Diameter: 2 * r, Extent: c.Extent, Length: c.Extent[1] - c.Extent[0], ArcDeg: c.Arc.Degrees(),
			RMS: c.Residuals.RMS, Support: len(c.Points), Form: c.Form.Kind, FormLength: c.Form.Length,
			Uncertainty: Uncertainty{
				Diameter:       b.expand(2*Coverage, c.Cov[4][4]+u*u, "cylinder "+c.ID),
				DiameterUnseen: 2 * Coverage * u,
				Point:          radius95(block(c.Cov, 0)),
				AxisDeg:        degrees(radius95(block(c.Cov, 2)))}}
	})
	for k, f := range forms {
		if q := &out[k]; f != nil {
			q.Cylindricity, q.Uncertainty.Cylindricity, q.FormOrNoise = &f.Width, f.Expanded, f.OrNoise
		}
	}
	return out
}

// longForm warns of form as long as its surface.
func (b *builder) longForm() []string {
	var ids []string
	for _, p := range b.seg.Surfaces {
		if p.Form.Long() {
			ids = append(ids, p.ID)
		}
	}
	if len(ids) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("The bow of %s may in part be the scanner's: one scan does not "+
		"distinguish a long bow from the scanner's longest waves. The flatness is the sum of "+
		"both; another scan of the turned part tells them apart.", wording.List(ids))}
}

// unsmoothed returns the radius of a wall that is seen at r, and the standard
// uncertainty of what was corrected, mm: see bolt.Unsmoothed. A cloud is not smoothed,
// nor the mesh of a drawing.
func (b *builder) unsmoothed(r float64) (radius, u float64) {
	if !bolt.Smoothed(b.scan, b.seg) {
		return r, 0
	}
	return bolt.Unsmoothed(r, b.edge[0], b.edge[1], b.seg.Spacing)
}

func (b *builder) cone(c segment.Cone) Cone {
	middle := (c.Extent[0] + c.Extent[1]) / 2
	return Cone{ID: c.ID, Side: side(c.Internal), Apex: vec(c.Apex), Axis: vec(c.Axis),
		Point:        vec(c.Apex.Add(c.Axis.Mul(middle))),
		HalfAngleDeg: c.HalfAngle.Degrees(), Length: c.Extent[1] - c.Extent[0], ArcDeg: c.Arc.Degrees(),
		RMS: c.Residuals.RMS, Support: len(c.Points),
		Uncertainty: Uncertainty{
			Point:        radius95(block(c.Cov, 0)),
			Apex:         b.expand(Coverage, c.Cov[2][2], "cone "+c.ID),
			AxisDeg:      degrees(radius95(block(c.Cov, 3))),
			HalfAngleDeg: degrees(b.expand(Coverage, c.Cov[5][5], "cone "+c.ID))}}
}

func (b *builder) sphere(s segment.Sphere) Sphere {
	return Sphere{ID: s.ID, Side: side(s.Internal), Centre: vec(s.Centre), Diameter: 2 * s.Radius,
		RMS: s.Residuals.RMS, Support: len(s.Points),
		Uncertainty: Uncertainty{Diameter: b.expand(2*Coverage, s.Cov[3][3], "sphere "+s.ID),
			Centre: ball95(s.Cov)}}
}

func (b *builder) hole(h bolt.Hole) Hole {
	q := Hole{ID: h.ID, Kind: string(h.Kind), Centre: vec(h.Centre), Axis: vec(h.Axis),
		Diameter: h.Diameter, Width: h.Width, Length: h.Length,
		Face: h.Face, Wall: h.Wall, EndWalls: h.EndWalls, From: string(h.From),
		ArcDeg: h.Arc.Degrees(), ByPattern: h.ByPattern, Through: h.Through, Depth: h.Depth,
		Counterbore: h.Counterbore, Thread: h.Thread}
	u := &q.Uncertainty
	if c := h.Countersink; c != nil {
		q.Countersink = &Countersink{c.Diameter, c.Angle.Degrees()}
	}
	if h.Direction != (r3.Vector{}) {
		q.Direction = new(vec(h.Direction))
	}
	if u.Centre = studentRadius95(h.CentreCov, h.CentreDOF); u.Centre > 0 {
		u.CentreCovariance, u.CentreDOF = &h.CentreCov, h.CentreDOF
	}
	if h.Kind != bolt.Round {
		u.Width = b.expand(Coverage, h.WidthU*h.WidthU, h.ID)
		u.Length = b.expand(Coverage, h.LengthU*h.LengthU, h.ID)
		u.DirectionDeg = Coverage * h.DirectionU.Degrees()
		return q
	}
	u.Diameter = b.expand(Coverage, h.DiameterU*h.DiameterU, h.ID)
	u.DiameterUnseen = min(Coverage*h.UnseenU, u.Diameter)
	return q
}

func degrees(rad float64) float64 { return rad * 180 / math.Pi }

// block returns the 2 by 2 block of a covariance that starts at row and column k.
func block(c [6][6]float64, k int) [2][2]float64 {
	return [2][2]float64{{c[k][k], c[k][k+1]}, {c[k+1][k], c[k+1][k+1]}}
}

// NewBoltCircle is a bolt circle as a report has it, with warnings of what is not known
// of it.
func NewBoltCircle(c bolt.Circle) (BoltCircle, []string) {
	var b builder
	return b.circle(c), b.warnings
}

func (b *builder) circle(c bolt.Circle) BoltCircle {
	q := BoltCircle{ID: c.ID, Holes: c.Holes, Face: c.Face, Centre: vec(c.Centre),
		Axis: vec(c.Axis), PitchDiameter: c.PitchDiameter, OtherReadingOf: c.Also}
	q.Uncertainty.PitchDiameter = b.expand(Coverage, c.PitchU*c.PitchU, "bolt circle "+c.ID)
	q.Uncertainty.Centre = radius95(c.CentreCov)
	n := c.Nominal
	regular := n.Kind != pattern.Irregular
	if regular {
		q.DatumOffsetDeg = new(c.DatumOffset.Degrees())
	}
	if regular && n.Positions > 0 {
		q.Nominal = &Nominal{Positions: n.Positions, SpacingDeg: nominalDegrees(n.Step),
			FullRing: n.Full, Confidence: n.Probability}
		for _, r := range c.Readings {
			q.Nominal.Readings = append(q.Nominal.Readings, Reading{r.What(), r.Probability})
		}
		for _, i := range n.Offset {
			q.Nominal.Offset = append(q.Nominal.Offset, c.Holes[i])
		}
		for _, a := range n.Missing {
			q.Nominal.Missing = append(q.Nominal.Missing, nominalDegrees(a))
		}
	}
	q.Clocking = each(c.Clocking, func(k bolt.Clocking) Clocking { return b.clocking(k, regular) })
	q.Spacing = each(c.Spacing, func(k bolt.Spacing) Spacing {
		s := Spacing{From: k.From, To: k.To, AngleDeg: k.Angle.Degrees(),
			UncertaintyDeg: b.expandAngle(k.U, "the spacing after "+k.From)}
		if regular {
			s.NominalDeg, s.DeviationDeg = new(nominalDegrees(k.Nominal)), new(k.Deviation.Degrees())
		}
		return s
	})
	return q
}

func (b *builder) clocking(k bolt.Clocking, regular bool) Clocking {
	c := Clocking{Hole: k.Hole, AngleDeg: k.Angle.Degrees(), Radial: k.Radial,
		UncertaintyDeg:    b.expandAngle(k.U, "the clocking of "+k.Hole),
		RadialUncertainty: b.expand(Coverage, k.RadialU*k.RadialU, "the radial place of "+k.Hole)}
	if regular {
		c.NominalDeg, c.DeviationDeg = new(nominalDegrees(k.Nominal)), new(k.Deviation.Degrees())
	}
	if k.HasOthers {
		c.FromOthersDeg = new(k.FromOthers.Degrees())
		c.FromOthersUncertaintyDeg = b.expandAngle(k.FromOthersU, "the clocking of "+k.Hole)
		c.RadialFromOthers = new(k.RadialFromOthers)
	}
	return c
}

func (b *builder) expandAngle(u s1.Angle, of string) float64 {
	return b.expand(Coverage, u.Degrees()*u.Degrees(), of)
}

// nominalDegrees rounds off what turning degrees into radians and back adds to
// a nominal angle: 60, not 59.99999999999999.
func nominalDegrees(a s1.Angle) float64 { return math.Round(a.Degrees()*1e9) / 1e9 }

// turns is the number of clockings at which a ring looks the same: its holes lie at
// nominal places of the ring turned, and are of the same size there.
func (rep *Report) turns(c *BoltCircle) (n int) {
	for _, first := range c.Clocking {
		same := true
		for _, k := range c.Clocking {
			same = same && slices.ContainsFunc(c.Clocking, func(o Clocking) bool {
				d := math.Mod(*o.NominalDeg-*k.NominalDeg-*first.NominalDeg+720, 360)
				a, b := rep.Hole(k.Hole), rep.Hole(o.Hole)
				if a == nil || b == nil || math.Min(d, 360-d) > 1e-6 {
					return false
				}
				p, pu := a.across()
				q, qu := b.across()
				return a.Kind == b.Kind && math.Abs(p-q) <= max(0.04*p, pu, qu)
			})
		}
		if same {
			n++
		}
	}
	return n
}

// pattern is a pattern as a report has it.
func (b *builder) pattern(p bolt.Pattern) HolePattern {
	q := HolePattern{ID: p.ID, Kind: string(p.Kind), Holes: p.Holes, Face: p.Face, Rows: p.Rows,
		Columns: p.Columns,
		Centre:  vec(p.Centre), Direction: vec(p.Direction), OtherReadingOf: p.Also,
		Deviations: []PatternDeviation{}}
	for way := range min(2, p.Rows) {
		q.Pitch = append(q.Pitch, p.Pitch[way])
		q.PitchU = append(q.PitchU, b.expand(Coverage, p.PitchU[way]*p.PitchU[way], "the pitch of "+p.ID))
	}
	for i, d := range p.Deviations {
		q.Deviations = append(q.Deviations,
			PatternDeviation{Hole: p.Holes[i], XY: d.XY, Uncertainty: radius95(d.Cov)})
	}
	return q
}

// knownWalls gives each cylinder that is the wall of a hole, a stud or the bore the
// diameter of that, so that one wall has one diameter. The noise model of holes knows more
// of what neighbouring points share than the residuals of one cylinder do: its place and
// how it leans are no surer than that says.
func (b *builder) knownWalls(rep *Report, walls []bolt.WallOf) {
	for _, w := range walls {
		if c := rep.Cylinder(w.ID); c != nil {
			c.Diameter = w.Diameter
			u := &c.Uncertainty
			u.Diameter = b.expand(Coverage, w.DiameterU*w.DiameterU, "cylinder "+c.ID)
			u.DiameterUnseen = min(Coverage*w.UnseenU, u.Diameter)
			u.Point = max(u.Point, studentRadius95(w.PlaceCov, w.DOF))
			u.AxisDeg = max(u.AxisDeg, degrees(studentRadius95(w.LeanCov, w.DOF)))
		}
	}
}

// formPoints is how many points of a surface are looked at for its form, at most: the mean
// of a cell is then known to a thirtieth of the noise or better. interiorLeast is the
// share of points away from its edge, at least, for these alone to count. leastArc is how
// much of a cylinder must be seen, degrees. Speed; by trial.
const (
	formPoints    = 100_000
	interiorLeast = 1.0 / 3
	leastArc      = 270
	// formGain is the factor by which residuals of a plane exceed those of a quiet one of its size
	// where it has form. By trial: faces of one scan that have none differ by a third.
	formGain = 1.5
)

// formsOf calls f for each of n surfaces, on all cores, until ctx is done; nil where too
// little of a surface was scanned to say what form it has.
func formsOf(ctx context.Context, n int, f func(k int) (form.Form, bool)) []*form.Form {
	out := make([]*form.Form, n)
	_ = parallel.Chunks(ctx, 0, n, 1, func(k, _ int) { // the caller looks at ctx
		if of, ok := f(k); ok {
			out[k] = &of
		}
	})
	return out
}

// quietRMS is the root mean square that residuals would have without form, mm; 0 where
// they show none.
func quietRMS(all, form float64) float64 {
	if form == 0 {
		return 0
	}
	return math.Sqrt(max(0, all*all-form*form))
}

// quietOfPlanes is quietRMS of each plane, or the root mean square of the quietest plane that
// has half as many points, if its own is so much larger that it has form: a large face
// shows more of the scanner's own waves than a small one, but not twice as much.
func quietOfPlanes(planes []segment.Plane) []float64 {
	out := make([]float64, len(planes))
	for k, p := range planes {
		out[k] = quietRMS(p.Residuals.RMS, p.Form.RMS)
		for _, o := range planes {
			if 2*len(o.Points) >= len(p.Points) && p.Residuals.RMS > formGain*o.Residuals.RMS &&
				(out[k] == 0 || o.Residuals.RMS < out[k]) {
				out[k] = o.Residuals.RMS
			}
		}
	}
	return out
}

// sampled returns the points away from the surface's edge, which scanners round, where they
// are known and enough; of many points evenly some.
func (b *builder) sampled(points []int32) []r3.Vector {
	inner := b.seg.Interior
	step := 1 + len(points)/formPoints
	all := make([]r3.Vector, 0, len(points)/step+1)
	in := make([]r3.Vector, 0, len(points)/step+1)
	for k := 0; k < len(points); k += step {
		q := b.scan.Point(int(points[k]))
		all = append(all, q)
		if inner != nil && inner[points[k]] {
			in = append(in, q)
		}
	}
	if float64(len(in)) < interiorLeast*float64(len(all)) {
		return all
	}
	return in
}

// Coverage is the factor k of a scalar's expanded uncertainty, U = k u, which
// holds the value with about 95 % (JCGM 100:2008, 6.3.3).
const Coverage = 2

// CoverageCentre is the factor of a centre that is equally sure in both
// directions, sqrt(-2 ln 0.05) = 2.4477.
const CoverageCentre = 2.45

// OneSide is what lies below k = 2 of a normal distribution, 97.72 %: a guard band
// of it leaves 2.28 % for either mistake (JCGM 106:2012, 8.3.2).
const OneSide = 0.977249868051820792799717362833466562528

// radius95 is ball95 of a centre in its face: of the circle that holds it. It is 2.4477 s for
// equal variances s², 1.9600 s where one of them is zero, and holds 95.13 % at most between.
func radius95(c [2][2]float64) float64 {
	return ball95([6][6]float64{{c[0][0], c[0][1]}, {c[1][0], c[1][1]}})
}

// studentRadius95 is radius95 of a centre that has the distribution of Student with
// covariance c and ν = dof degrees of freedom, 0 for the normal one: wider by the factor that
// is right for equal variances, where
//
//	R² = s² (ν-2) (0.05^(-2/ν) - 1)
//
// by the distribution function of F with 2 and ν degrees of freedom, s²(ν-2)/ν
// being the scale of variance s².
func studentRadius95(c [2][2]float64, dof float64) float64 {
	r := radius95(c)
	if dof <= 0 {
		return r
	}
	return r * math.Sqrt((dof-2)*math.Expm1(-2/dof*math.Log(0.05))/(-2*math.Log(0.05)))
}

// ball95 returns the radius of the ball about a measured centre that holds the
// true one with about 95 %, from the covariance, mm², of its three coordinates,
// the first of c. The squared distance is a sum of three scaled χ² of one degree
// of freedom, treated as one of ν by its mean and variance (Satterthwaite,
// Biometrics Bulletin 2 (1946) 110-114):
//
//	R² = χ²(0.95, ν) tr C/ν,  ν = (tr C)²/tr C²
//
// which is exact for equal variances (2.7955 s). It returns 0 where c is not a
// covariance.
func ball95(c [6][6]float64) float64 {
	trace, square := 0.0, 0.0
	for i := range 3 {
		trace += c[i][i]
		for j := range 3 {
			square += c[i][j] * c[i][j]
		}
	}
	if !(trace > 0) || math.IsInf(trace, 0) {
		return 0
	}
	nu := trace * trace / square
	return math.Sqrt(distuv.ChiSquared{K: nu}.Quantile(0.95) * trace / nu)
}
