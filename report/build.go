package report

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/bolt"
	"spotface/fit/form"
	"spotface/fit/segment"
	"spotface/mesh"
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
	rep.Cones, rep.Spheres = b.cones(), b.spheres()
	rep.Holes, rep.Studs = b.holes(m.Holes), b.holes(m.Studs)
	if m.Bore != nil {
		rep.Bore = &b.holes([]bolt.Hole{*m.Bore})[0]
	}
	rep.JointCovariance = newJoint(slices.Concat(m.Holes, m.Studs))
	b.knownWalls(rep.Cylinders, m.Walls)
	rep.BoltCircles = make([]BoltCircle, 0, len(m.Circles))
	for _, c := range m.Circles {
		rep.BoltCircles = append(rep.BoltCircles, b.circle(c))
	}
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
	for _, p := range m.Patterns {
		rep.Patterns = append(rep.Patterns, b.pattern(p))
	}
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

func (b *builder) planes(ctx context.Context) []Plane {
	planes := b.seg.Planes()
	out := make([]Plane, 0, len(planes))
	sigma := quietOfPlanes(planes)
	forms := formsOf(ctx, len(planes), func(k int) (form.Form, bool) {
		return flatness(b.scan, &planes[k], sigma[k], b.seg.Interior)
	})
	for k, p := range planes {
		q := Plane{ID: p.ID, Point: vec(p.Point), Normal: vec(p.Normal), RMS: p.Residuals.RMS,
			Area: p.Area, Support: len(p.Points), Form: p.Form.Kind, FormLength: p.Form.Length}
		q.Uncertainty.Offset = b.expand(Coverage, p.Cov[0][0], "plane "+p.ID)
		q.Uncertainty.NormalDeg = degrees(radius95(block(p.Cov, 1)))
		if f := forms[k]; f != nil {
			q.Flatness, q.Uncertainty.Flatness, q.FormOrNoise = &f.Width, f.Expanded, f.OrNoise
		}
		out = append(out, q)
	}
	return out
}

func (b *builder) cylinders(ctx context.Context) []Cylinder {
	cylinders := b.seg.Cylinders()
	out := make([]Cylinder, 0, len(cylinders))
	forms := formsOf(ctx, len(cylinders), func(k int) (form.Form, bool) {
		return cylindricity(b.scan, &cylinders[k], b.seg.Interior)
	})
	for k, c := range cylinders {
		r, u := b.unsmoothed(c.Radius)
		q := Cylinder{ID: c.ID, Side: side(c.Internal), Point: vec(c.Point), Axis: vec(c.Axis),
			Diameter: 2 * r, Extent: c.Extent, Length: c.Extent[1] - c.Extent[0], ArcDeg: c.Arc.Degrees(),
			RMS: c.Residuals.RMS, Support: len(c.Points), Form: c.Form.Kind, FormLength: c.Form.Length}
		q.Uncertainty = Uncertainty{
			Diameter:       b.expand(2*Coverage, c.Cov[4][4]+u*u, "cylinder "+c.ID),
			DiameterUnseen: 2 * Coverage * u,
			Point:          radius95(block(c.Cov, 0)),
			AxisDeg:        degrees(radius95(block(c.Cov, 2))),
		}
		if f := forms[k]; f != nil {
			q.Cylindricity, q.Uncertainty.Cylindricity, q.FormOrNoise = &f.Width, f.Expanded, f.OrNoise
		}
		out = append(out, q)
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
// nor the mesh of a drawing, which has no noise.
func (b *builder) unsmoothed(r float64) (radius, u float64) {
	if !b.scan.IsMesh() || b.seg.Noise < 1e-3*b.seg.Spacing {
		return r, 0
	}
	return bolt.Unsmoothed(r, b.edge[0], b.edge[1], b.seg.Spacing)
}

func (b *builder) cones() []Cone {
	out := []Cone{}
	for _, c := range b.seg.Cones() {
		middle := (c.Extent[0] + c.Extent[1]) / 2
		q := Cone{ID: c.ID, Side: side(c.Internal), Apex: vec(c.Apex), Axis: vec(c.Axis),
			Point:        vec(c.Apex.Add(c.Axis.Mul(middle))),
			HalfAngleDeg: c.HalfAngle.Degrees(), Length: c.Extent[1] - c.Extent[0], ArcDeg: c.Arc.Degrees(),
			RMS: c.Residuals.RMS, Support: len(c.Points)}
		q.Uncertainty = Uncertainty{
			Point:        radius95(block(c.Cov, 0)),
			Apex:         b.expand(Coverage, c.Cov[2][2], "cone "+c.ID),
			AxisDeg:      degrees(radius95(block(c.Cov, 3))),
			HalfAngleDeg: degrees(b.expand(Coverage, c.Cov[5][5], "cone "+c.ID)),
		}
		out = append(out, q)
	}
	return out
}

func (b *builder) spheres() []Sphere {
	out := []Sphere{}
	for _, s := range b.seg.Spheres() {
		q := Sphere{ID: s.ID, Side: side(s.Internal), Centre: vec(s.Centre), Diameter: 2 * s.Radius,
			RMS: s.Residuals.RMS, Support: len(s.Points)}
		q.Uncertainty.Diameter = b.expand(2*Coverage, s.Cov[3][3], "sphere "+s.ID)
		q.Uncertainty.Centre = ball95(s.Cov)
		out = append(out, q)
	}
	return out
}

func (b *builder) holes(in []bolt.Hole) []Hole {
	out := make([]Hole, 0, len(in))
	for _, h := range in {
		q := Hole{ID: h.ID, Kind: string(h.Kind), Centre: vec(h.Centre), Axis: vec(h.Axis),
			Diameter: h.Diameter, Width: h.Width, Length: h.Length,
			Face: h.Face, Wall: h.Wall, EndWalls: h.EndWalls,
			From: string(h.From), ArcDeg: h.Arc.Degrees(), ByPattern: h.ByPattern, Through: h.Through, Depth: h.Depth,
			Counterbore: h.Counterbore, Thread: h.Thread}
		if c := h.Countersink; c != nil {
			q.Countersink = &Countersink{c.Diameter, c.Angle.Degrees()}
		}
		if h.Direction != (r3.Vector{}) {
			d := vec(h.Direction)
			q.Direction = &d
		}
		q.Uncertainty.Centre = studentRadius95(h.CentreCov, h.CentreDOF)
		if q.Uncertainty.Centre > 0 {
			q.Uncertainty.CentreCovariance, q.Uncertainty.CentreDOF = &h.CentreCov, h.CentreDOF
		}
		if h.Kind != bolt.Round {
			q.Uncertainty.Width = b.expand(Coverage, h.WidthU*h.WidthU, h.ID)
			q.Uncertainty.Length = b.expand(Coverage, h.LengthU*h.LengthU, h.ID)
			q.Uncertainty.DirectionDeg = Coverage * h.DirectionU.Degrees()
			out = append(out, q)
			continue
		}
		q.Uncertainty.Diameter = b.expand(Coverage, h.DiameterU*h.DiameterU, h.ID)
		q.Uncertainty.DiameterUnseen = min(Coverage*h.UnseenU, q.Uncertainty.Diameter)
		out = append(out, q)
	}
	return out
}

func number(v float64) *float64 { return &v }

func degrees(rad float64) float64 { return rad * 180 / math.Pi }

// block returns the 2 by 2 block of a covariance that starts at row and column k.
func block(c [6][6]float64, k int) [2][2]float64 {
	return [2][2]float64{{c[k][k], c[k][k+1]}, {c[k+1][k], c[k+1][k+1]}}
}
