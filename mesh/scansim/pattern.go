package scansim

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// Pattern is a bolt circle as designed.
type Pattern struct {
	Name          string
	Holes         []int // into the part's holes, in the order of Nominal
	Centre, Axis  r3.Vector
	X             r3.Vector // direction that Nominal counts from, square to Axis; both unit vectors
	PitchDiameter float64
	Spacing       s1.Angle
	FullRing      bool
	Nominal       []s1.Angle // of each hole as designed, counter-clockwise about Axis
}

// PatternTruth is a bolt circle as made, in the scan's frame.
type PatternTruth struct {
	Pattern
	// Clocking is each hole's angle about the design centre, counted from the
	// first hole; Deviation is Clocking less the design.
	Clocking, Deviation []s1.Angle
	// FitCentre and FitPitchDiameter are of the least-squares circle through
	// the hole centres (orthogonal distance). BestFit is each hole's deviation
	// about that centre against the design turned to fit best, so that its
	// mean is zero. With fewer than three holes the design circle stands in.
	FitCentre        r3.Vector
	FitPitchDiameter float64
	BestFit          []s1.Angle
}

func (b Pattern) check(holes int) error {
	if len(b.Holes) == 0 || len(b.Holes) != len(b.Nominal) {
		return fmt.Errorf("pattern %s has %d holes and %d nominal angles", b.Name, len(b.Holes), len(b.Nominal))
	}
	if !(math.Abs(b.Axis.Norm()-1) < 1e-9 && math.Abs(b.X.Norm()-1) < 1e-9 && math.Abs(b.X.Dot(b.Axis)) < 1e-9) {
		return fmt.Errorf("pattern %s: Axis %v and X %v must be unit vectors at right angles", b.Name, b.Axis, b.X)
	}
	for _, h := range b.Holes {
		if h < 0 || h >= holes {
			return fmt.Errorf("pattern %s names hole %d of %d", b.Name, h, holes)
		}
	}
	return nil
}

// truth computes what is true of the pattern whose holes are given, all in one
// frame.
func (b Pattern) truth(holes []Hole) PatternTruth {
	t := PatternTruth{Pattern: b, FitCentre: b.Centre, FitPitchDiameter: b.PitchDiameter}
	y := b.Axis.Cross(b.X)
	xy := make([][2]float64, len(b.Holes))
	for i, h := range b.Holes {
		d := holes[h].Centre.Sub(b.Centre)
		xy[i] = [2]float64{d.Dot(b.X), d.Dot(y)}
	}
	angles := func(cx, cy float64) []s1.Angle {
		out := make([]s1.Angle, len(xy))
		for i, p := range xy {
			out[i] = s1.Angle(math.Atan2(p[1]-cy, p[0]-cx))
		}
		return out
	}
	first := angles(0, 0)
	for i, a := range first {
		c := a - first[0]
		t.Deviation = append(t.Deviation, wrap(c-(b.Nominal[i]-b.Nominal[0])))
		t.Clocking = append(t.Clocking, (b.Nominal[i] - b.Nominal[0] + t.Deviation[i]))
	}
	var cx, cy float64
	if len(xy) >= 3 {
		var r float64
		cx, cy, r = circleThrough(xy)
		t.FitCentre = b.Centre.Add(b.X.Mul(cx)).Add(y.Mul(cy))
		t.FitPitchDiameter = 2 * r
	}
	t.BestFit = angles(cx, cy)
	var mean s1.Angle
	lead := t.BestFit[0] - b.Nominal[0]
	for i := range t.BestFit {
		t.BestFit[i] = wrap(t.BestFit[i] - b.Nominal[i] - lead)
		mean += t.BestFit[i] / s1.Angle(len(xy))
	}
	for i := range t.BestFit {
		t.BestFit[i] -= mean
	}
	return t
}

// wrap returns a in (-180, 180] degrees.
func wrap(a s1.Angle) s1.Angle {
	return s1.Angle(math.Remainder(a.Radians(), 2*math.Pi))
}

// circleThrough returns the least-squares circle, by Gauss-Newton on the
// orthogonal distance from the mean: hole centres lie close to a circle, where
// it converges to rounding in a few steps.
func circleThrough(xy [][2]float64) (cx, cy, r float64) {
	n := float64(len(xy))
	for _, p := range xy {
		cx += p[0] / n
		cy += p[1] / n
	}
	for range 200 {
		// d = |p - c| - r, u = (p - c)/|p - c|; r is the mean of |p - c|, so
		// only c remains:  ∂d/∂c = -(u - mean u).
		var mu, mv, md float64
		for _, p := range xy {
			d := math.Hypot(p[0]-cx, p[1]-cy)
			mu += (p[0] - cx) / d / n
			mv += (p[1] - cy) / d / n
			md += d / n
		}
		var a, b, c, e, f float64
		for _, p := range xy {
			d := math.Hypot(p[0]-cx, p[1]-cy)
			u, v := (p[0]-cx)/d-mu, (p[1]-cy)/d-mv
			a += u * u
			b += u * v
			c += v * v
			e += u * (d - md)
			f += v * (d - md)
		}
		det := a*c - b*b
		dx, dy := (c*e-b*f)/det, (a*f-b*e)/det
		cx += dx
		cy += dy
		r = md
		if math.Hypot(dx, dy) < 1e-14*md {
			break
		}
	}
	return cx, cy, r
}
