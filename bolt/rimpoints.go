package bolt

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit"
)

// RimPoints are points, mm, of which it is known what they are of: taken by a touch
// probe, or picked in a scan by other means than Measure's.
type RimPoints struct {
	Face []r3.Vector   // of the flat face that the holes are in
	Out  r3.Vector     // any direction that points out of the material there
	Rims [][]r3.Vector // of each hole, round it, where the face ends
}

// MeasureRims measures round holes by points of their rims, at least 12 over 60 degrees
// of each (bins of 7.5 degrees must show them, so some 70 degrees are safe). The
// Measurement has Holes, H1 ... in the order of the rims, CorrelationLength and Warnings;
// Clock makes a bolt circle of the holes. Rims are laid on the face along its normal,
// however high their points lie, and taken as they read: no rounding is allowed for.
// The noise is learned from all rims together, and from the face if it has 2,000 points
// or more and noise of a thousandth of their spacing. No rims are no holes. jobs is the
// number of goroutines, zero GOMAXPROCS.
//
// Errors: what Face, Out or a rim lacks, in words; ctx's.
func MeasureRims(ctx context.Context, p RimPoints, jobs int) (*Measurement, error) {
	if len(p.Rims) == 0 {
		return &Measurement{}, nil
	}
	plane, err := fit.PlaneTo(p.Face, fit.Options{})
	if err != nil {
		return nil, fmt.Errorf("face: %w", err)
	}
	n := plane.Normal
	// A direction within a thousandth of the face shows no side.
	switch up := n.Dot(p.Out); {
	case up < -1e-3*p.Out.Norm():
		n = n.Mul(-1)
	case !(up > 1e-3*p.Out.Norm()):
		return nil, fmt.Errorf("out: (%g, %g, %g) does not point out of the face, whose normal is ±(%.3f, %.3f, %.3f)",
			p.Out.X, p.Out.Y, p.Out.Z, n.X, n.Y, n.Z)
	}
	fc := &face{id: "P1", flat: newFlat(plane.Point, n)}
	for _, q := range p.Face {
		fc.pts, fc.height = append(fc.pts, fc.flat.xy(q)), append(fc.height, fc.flat.height(q))
	}
	fc.area = fc.extent()
	size := math.Sqrt(fc.area)
	rounding := 1e-7 * size // what is no more is no noise
	g := grain{noise: max(plane.Residuals.Sigma, rounding), spacing: size / math.Sqrt(float64(len(fc.pts)))}
	var noisiest float64 // rim
	cs := make([]*candidate, len(p.Rims))
	for k, rim := range p.Rims {
		if len(rim) < rimPoints {
			return nil, fmt.Errorf("rim %d has %d points: at least %d are needed", k+1, len(rim), rimPoints)
		}
		var xy [][2]float64
		for _, q := range rim {
			xy = append(xy, fc.flat.xy(q))
		}
		d, err := robustDisc(xy, nil, g.noise/4)
		if err != nil {
			return nil, fmt.Errorf("rim %d: %w", k+1, err)
		}
		noisiest = max(noisiest, d.scale)
		cs[k] = &candidate{face: fc, x: d.x, y: d.y, r: d.r, from: Rim, series: newArcSeries(xy, d), scale: d.scale, points: d.used}
		if arc := cs[k].series.arc(); arc < leastArc {
			return nil, fmt.Errorf("rim %d shows %.1f degrees of a circle: at least 60 are needed", k+1, arc*180/math.Pi)
		}
	}
	if err := weighAlike(ctx, cs, noiseOf(fc, g), jobs); err != nil {
		return nil, err
	}
	m := &Measurement{CorrelationLength: correlationLength(cs)}
	for k, c := range cs {
		if c.dropped {
			return nil, fmt.Errorf("rim %d: its points lie on no circle, or at too few places of one: take more round it, or leave it out", k+1)
		}
		h := c.hole()
		h.ID = fmt.Sprintf("H%d", k+1)
		m.Holes = append(m.Holes, h)
	}
	m.warn()
	if noisiest > rounding && slices.ContainsFunc(cs, func(c *candidate) bool { return c.noise.Hidden }) {
		m.Warnings = append(m.Warnings, unseenWarning)
	}
	return m, nil
}
