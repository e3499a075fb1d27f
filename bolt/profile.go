package bolt

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"spotface/bolt/hole"
	"spotface/mesh"
	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// A scanner rounds edges: the surface of a hole's rim is that of a sharp edge
// smoothed over some width w. Fusing views to a mesh averages distance fields
// (Curless and Levoy, SIGGRAPH 1996, 303-312); the field of a straight edge
// between a face and a wall perpendicular to it is max(-d, h), d into the material
// from the true wall, h over the true face, and smoothed by a normal kernel of
// standard deviation w it is the mean of the larger of two normal variables
// (Clark, Operations Research 9 (1961) 145-162, eq. 2):
//
//	f(d, h) = -d Φ(-z) + h Φ(z) + θ φ(z) = 0,  z = (d + h)/θ,  θ = √2 w
//
// This surface meets both face and wall within some 3 w, and between them it
// shows where the wall is, even where no scanner could see it: h at a given d
// depends on the wall's place and on w, and the holes of one scan share w. Across
// its curvature the field of a wall of radius r has the mean w²/2r besides (second
// order of its expansion), so that the wall is seen nearer to the axis by that.

// edgePoint is a scan point near a rim: radial place and height.
type edgePoint struct {
	xy [2]float64
	h  float64 // over the face about the hole, mm
}

// edgeOf gathers those of the points about the rim candidate's edge, from 3 reaches inside
// it to 8 outside, that lie within 4 of it; the others say how high the face is.
func edgeOf(s *mesh.Scan, near []int32, c *candidate, g grain, reach float64) []edgePoint {
	var out []edgePoint
	var level float64
	n := 0
	f := c.face
	for _, i := range near {
		q := s.Point(int(i))
		xy, h := f.flat.xy(q), f.flat.height(q)
		r := math.Hypot(xy[0]-c.x, xy[1]-c.y)
		if !c.end.has(xy[0]-c.x, xy[1]-c.y) {
			continue
		}
		if r > c.r+4*reach {
			if math.Abs(h) < 4*g.noise {
				level += h
				n++
			}
			continue
		}
		out = append(out, edgePoint{xy, h})
	}
	if n > 0 {
		level /= float64(n)
		for i := range out {
			out[i].h -= level
		}
	}
	return out
}

// edgeDistance returns the signed distance of a point at (d, h) from the
// smoothed edge to first order, positive inside the material, and how much of
// it a change of the wall's radius makes up: the part of the surface's normal
// along the radius.
func edgeDistance(d, h, w float64) (e, s float64) {
	theta := math.Sqrt2 * w
	z := (d + h) / theta
	up := distuv.UnitNormal.CDF(z) // ∂f/∂h; ∂f/∂d = -(1 - up)
	norm := math.Hypot(up, 1-up)
	f := -d*(1-up) + h*up + theta*distuv.UnitNormal.Prob(z)
	return -f / norm, (1 - up) / norm
}

// smoothed returns the radius at which a wall of radius r is seen.
func smoothed(r, w float64) float64 { return r - w*w/(2*r) }

// edgeFit is a rim refitted with the profile of its edge.
type edgeFit struct {
	x, y, r float64
	sum     float64 // of squared distances, each at most limit²
	n       int
	series  series
	scale   float64
}

// fitEdge refines (x, y, r) by Gauss-Newton on the distances from the edge of
// width w, leaving out what is farther than limit.
func fitEdge(pts []edgePoint, x, y, r, w, limit, tol float64) (edgeFit, bool) {
	out := edgeFit{x: x, y: y, r: r}
	for range 25 {
		var a [9]float64
		var b [3]float64
		out.sum, out.n = 0, 0
		for _, p := range pts {
			qx, qy := p.xy[0]-out.x, p.xy[1]-out.y
			q := math.Hypot(qx, qy)
			e, s := edgeDistance(q-smoothed(out.r, w), p.h, w)
			if math.Abs(e) > limit {
				out.sum += limit * limit
				continue
			}
			out.sum += e * e
			if s < leastSlope {
				continue
			}
			out.n++
			j := [3]float64{s * qx / q, s * qy / q, s} // -∂e/∂(x, y, r)
			for k := range 3 {
				for l := range 3 {
					a[3*k+l] += j[k] * j[l]
				}
				b[k] += j[k] * e
			}
		}
		if out.n < 12 {
			return out, false
		}
		if !geom.Cholesky(a[:], 3, 1e-14) {
			return out, false
		}
		geom.CholeskySolve(a[:], b[:])
		// e grows with q - r: moving the circle after the points lowers it.
		out.x, out.y, out.r = out.x+b[0], out.y+b[1], out.r+b[2]
		if math.Hypot(out.x-x, out.y-y) > r/3 || math.Abs(out.r-r) > r/3 {
			return out, false
		}
		if math.Abs(b[0])+math.Abs(b[1])+math.Abs(b[2]) < tol*r {
			break
		}
	}
	return out, true
}

// edgeSeries bins what the points say of the radius: in each bin the weighted
// mean of e/s with weight s².
func edgeSeries(pts []edgePoint, f edgeFit, w, limit float64) (series, float64) {
	var t, e, n [arcBins]float64
	var sum, sum2 float64
	for _, p := range pts {
		qx, qy := p.xy[0]-f.x, p.xy[1]-f.y
		d, s := edgeDistance(math.Hypot(qx, qy)-smoothed(f.r, w), p.h, w)
		if math.Abs(d) > limit || s < leastSlope {
			continue
		}
		a := geom.Wrap(math.Atan2(qy, qx))
		k := min(int(a/(2*math.Pi)*arcBins), arcBins-1)
		t[k] += s * s * a
		e[k] += s * d
		n[k] += s * s
		sum += s * s * d * d
		sum2 += s * s
	}
	out := series{of: hole.Circle(f.x, f.y, f.r), kind: hole.Round}
	for k := range n {
		if n[k] > 0.3 {
			out.theta = append(out.theta, t[k]/n[k])
			out.y = append(out.y, e[k]/n[k])
			out.n = append(out.n, n[k])
		}
	}
	return out, math.Sqrt(sum / max(sum2, 1e-12))
}

// misfit reports whether the points below the rounding's middle have a bias about the profile
// that noise does not explain. The edges of a sheet that is hardly thicker than they are round
// have one: no part of its wall is clear of both.
func (f edgeFit) misfit(pts []edgePoint, w, limit, noise float64) bool {
	var sum, n [misfitBins]float64
	for _, p := range pts {
		b := int(-2*p.h/w) - 2 // half a width each, from w down
		e, _ := edgeDistance(math.Hypot(p.xy[0]-f.x, p.xy[1]-f.y)-smoothed(f.r, w), p.h, w)
		if p.h < -w && b < misfitBins && math.Abs(e) <= limit {
			sum[b], n[b] = sum[b]+e, n[b]+1
		}
	}
	var excess float64
	for b, m := range n {
		if m >= fullBin*slices.Max(n[:]) && m > 0 {
			excess += sum[b]*sum[b]/m - (sharedNoise+biasShare*m)*noise*noise - m*edgeMisfit*edgeMisfit*w*w
		}
	}
	return excess > 0
}

// fitEdges refits rims of one scan with a shared edge width: it replaces each
// rim's circle and series, and widens its radius by what the width leaves
// open. Rims that the profile does not fit keep theirs, with an uncertainty as large as
// the width, if most of them was seen; else they are the edges of gaps, mostly, and dropped.
func (f *finder) fitEdges(ctx context.Context, rims []*candidate) error {
	if len(rims) == 0 {
		return nil
	}
	reach := f.grain.spacing
	pts := make([][]edgePoint, len(rims))
	for k, c := range rims {
		near := f.near(c.face, c.x, c.y, c.r-3*reach, c.r+8*reach, -3*reach, 3*reach)
		pts[k] = edgeOf(f.scan, near, c, f.grain, reach)
	}
	limit := max(4*f.grain.noise, 0.5*f.grain.spacing)
	few := make([][]edgePoint, len(rims)) // enough of them to find the width by
	for k := range pts {
		for i := 0; i < len(pts[k]); i += 1 + len(pts[k])/edgeSample {
			few[k] = append(few[k], pts[k][i])
		}
	}
	// The logarithm of the likelihood, each rim with a scatter of its own: one that the
	// profile does not fit, as that of a fillet, says nothing of the width.
	misfit := func(w float64) (float64, []edgeFit) {
		fits := make([]edgeFit, len(rims))
		parallel.Chunks(ctx, f.jobs, len(rims), 1, func(k, _ int) { // the caller looks at ctx
			c := rims[k]
			// A rim reads large by more than limit: what lies far off counts at first.
			e, ok := fitEdge(few[k], c.x, c.y, c.r, w, 4*limit, 1e-3)
			if ok {
				e, ok = fitEdge(few[k], e.x, e.y, e.r, w, limit, 1e-5)
			}
			if !ok {
				e = edgeFit{sum: float64(len(few[k])) * limit * limit}
			}
			fits[k] = e
		})
		var sum float64
		for k, e := range fits {
			n := float64(len(few[k]))
			sum += n / 2 * math.Log(e.sum/max(n, 1)+f.grain.noise*f.grain.noise)
		}
		return sum, fits
	}
	// On ln w between a tenth of a spacing and two.
	w := math.Exp(golden(math.Log(0.1*f.grain.spacing), math.Log(2*f.grain.spacing), 12, func(lnw float64) float64 {
		if ctx.Err() != nil {
			return 0 // not looked at any more
		}
		sum, _ := misfit(math.Exp(lnw))
		return sum
	}))
	if err := ctx.Err(); err != nil {
		return err
	}
	sum, fits := misfit(w)
	// Its curvature in ln w gives the standard deviation of that; neighbouring
	// points share their noise, so one in ten counts.
	const step = 0.1
	up, upFits := misfit(w * math.Exp(step))
	down, _ := misfit(w * math.Exp(-step))
	u := 1.0
	if curve := (up - 2*sum + down) / (step * step); curve > 0 {
		u = min(1, math.Sqrt(10/curve))
	}
	sheet := map[*face]int{} // rims with a misfit less rims without
	for k, c := range rims {
		if fits[k].n == 0 {
			continue
		}
		if sheet[c.face]--; fits[k].misfit(pts[k], w, limit, f.grain.noise) {
			sheet[c.face] += 2
		}
	}
	for k, c := range rims {
		e, ok := fits[k], false
		if e.n > 0 {
			e, ok = fitEdge(pts[k], e.x, e.y, e.r, w, limit, 1e-8)
			e.series, e.scale = edgeSeries(pts[k], e, w, limit)
		}
		// The profile is at home on a third of the circle, or three quarters of what was
		// seen, or it is none.
		seen := max(c.series.arc(), 2*c.end.half)
		if !ok || len(e.series.y) < min(12, int(0.75*seen/(2*math.Pi)*arcBins)) ||
			e.series.arc() < min(2*math.Pi/3, 0.75*seen) {
			if !f.grain.drawn() {
				c.extraR, c.rimR, c.asRead = max(w, u*f.grain.spacing), c.r, true // it is rounded all the same
				c.dropped = seen < 5*math.Pi/3
			}
			continue
		}
		slope := 0.0
		if upFits[k].n > 0 {
			slope = math.Abs(upFits[k].r-fits[k].r) / step
		}
		c.rimR = c.r
		// A tenth of the correction for the profile not being quite so; where the residuals say
		// that it is not, anything from none of it to twice as much (JCGM 100:2008, 4.3.7). And
		// the edge may be round of its own accord, see unsmooth.
		unsure := 0.1
		if c.asSheet = sheet[c.face] >= 0; c.asSheet || e.scale > edgeScatter*f.grain.noise {
			unsure = 1 / math.Sqrt(3)
		}
		lift := e.r - smoothed(e.r, w)
		c.extraR = math.Hypot(math.Hypot(slope*u, unsure*(c.r-e.r)), lift/2)
		c.x, c.y, c.r, c.series, c.scale = e.x, e.y, e.r, e.series, e.scale
	}
	f.edgeWidth, f.edgeWidthU = w, u*w
	return ctx.Err()
}

// golden returns the place of f's least value between lo and hi by n steps of golden
// section (Kiefer, Proceedings of the American Mathematical Society 4 (1953) 502-506),
// each of which leaves 0.618 of the interval. f has one minimum there.
func golden(lo, hi float64, n int, f func(float64) float64) float64 {
	const part = 0.6180339887498949
	a, b := hi-part*(hi-lo), lo+part*(hi-lo)
	fa, fb := f(a), f(b)
	for range n {
		if fa < fb {
			hi, b, fb = b, a, fa
			a = hi - part*(hi-lo)
			fa = f(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + part*(hi-lo)
			fb = f(b)
		}
	}
	return (lo + hi) / 2
}
