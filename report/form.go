package report

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"spotface/fit/form"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/parallel"
)

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

// flatness returns that of a face.
func flatness(s *mesh.Scan, p *segment.Plane, sigma float64, inner []bool) (form.Form, bool) {
	return form.Flatness(sampled(s, p.Points, inner), p.Plane, sigma)
}

// cylindricity returns that of a cylinder.
func cylindricity(s *mesh.Scan, k *segment.Cylinder, inner []bool) (form.Form, bool) {
	if k.Arc.Degrees() < leastArc {
		return form.Form{}, false
	}
	return form.Cylindricity(sampled(s, k.Points, inner), k.Cylinder, k.Extent,
		quietRMS(k.Residuals.RMS, k.Form.RMS))
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
			if 2*len(o.Points) >= len(p.Points) && p.Residuals.RMS > formGain*o.Residuals.RMS {
				if out[k] == 0 || o.Residuals.RMS < out[k] {
					out[k] = o.Residuals.RMS
				}
			}
		}
	}
	return out
}

// sampled returns the points away from the surface's edge, which inner says (nil: all of
// them) and scanners round, where they are enough; of many points evenly some.
func sampled(s *mesh.Scan, points []int32, inner []bool) []r3.Vector {
	step := 1 + len(points)/formPoints
	var all, in []r3.Vector
	for k := 0; k < len(points); k += step {
		q := s.Point(int(points[k]))
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
