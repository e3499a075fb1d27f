package bolt

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/bolt/hole"
	"spotface/fit/noise"
	"spotface/mesh/parallel"
)

// The residuals of circles of one size show their noise, see package noise; what each
// circle's centre and radius vary by follows from it. A face with the same noise shows
// more of it: it has many times as many points over many times a hole's size. True
// waviness of the face counts as noise, on the safe side; that it is bowed does not.

// faceNoise is what is known of the noise on the largest face; its zero value is nothing.
type faceNoise struct {
	pts    []r3.Vector // on its sheet
	height []float64   // over it, mm
	area   float64     // mm²
}

// noiseOf returns the points of the face that may show noise.
func noiseOf(f *face, g grain) (n faceNoise) {
	if g.drawn() {
		return n
	}
	n.area = f.area
	for k := 0; k < len(f.pts); k += 1 + len(f.pts)/faceSample {
		if math.Abs(f.height[k]) < faceBand*g.noise {
			n.pts = append(n.pts, r3.Vector{X: f.pts[k][0], Y: f.pts[k][1]})
			n.height = append(n.height, f.height[k])
		}
	}
	return n
}

// unseenWarning says what the figures do not hold where noise is hidden. (Of parts of
// six holes seen all round, a tenth of the noise shared over a radius, centres scatter
// by 1.2 times what is stated if its kernel is exponential, by 1.4 if it is normal.)
const unseenWarning = "Round the holes each point seems to err by itself, and no face shows enough of the noise to be sure. " +
	"If a tenth of it were shared over the width of a hole, the scan's part of the uncertainties would be up to 1.4 times as large."

// correlationLength is that of the candidates' noise, mm.
func correlationLength(cs []*candidate) float64 {
	var of []float64
	for _, c := range cs {
		if c.noise != nil {
			of = append(of, c.noise.CorrelationLength())
		}
	}
	return median(of)
}

// patch returns the series in noiseBins. The terms are the outline's numbers.
func (s *series) patch() noise.Patch {
	var t, y, n [noiseBins]float64
	for i, w := range s.n {
		b := min(int(s.theta[i]/(2*math.Pi)*noiseBins), noiseBins-1)
		t[b] += w * s.theta[i]
		y[b] += w * s.y[i]
		n[b] += w
	}
	p := s.emptyPatch(s.depth)
	for b := range n {
		if n[b] > 0 {
			s.cell(&p, t[b]/n[b], 0, y[b]/n[b], n[b])
		}
	}
	return p
}

// emptyPatch is a patch without cells, whose height is given.
func (s *series) emptyPatch(height float64) noise.Patch {
	return noise.Patch{Axis: r3.Vector{Z: 1}, Width: s.of.Perimeter() / noiseBins, Height: height, Y: make([][]float64, 1)}
}

// cell adds a cell at a turn and a height to p.
func (s *series) cell(p *noise.Patch, turn, height, y, n float64) {
	at, terms := s.of.Terms(s.kind, turn)
	p.At = append(p.At, r3.Vector{X: at[0], Y: at[1], Z: height})
	p.Terms = append(p.Terms, terms)
	p.Y[0], p.N = append(p.Y[0], y), append(p.N, n)
}

// tilted returns the cells of a wall, row by row, and the terms of a cylinder: those of the
// circle and how its axis leans toward x and y.
func (s *series) tilted() (p noise.Patch, terms [][]float64) {
	row := s.depth / float64(s.rows)
	p = s.emptyPatch(row)
	for _, c := range s.cells {
		up := (float64(c.row)+0.5)*row - s.depth/2
		s.cell(&p, c.theta, up, c.y, c.n)
		t := p.Terms[len(p.Terms)-1]
		terms = append(terms, append(slices.Clone(t), up*t[0], up*t[1]))
	}
	return p, terms
}

// learnNoise learns the noise of features of one kind, for circles of radius r.
//
// Holes whose radii differ by less than 2 % are of one drill. Their radii differ by
// sameDrill: what they differ by is the only sign of the noise's longest waves. (Holes
// that differ more make it look larger, which is the safe side.)
func learnNoise(ctx context.Context, r float64, all []series, known faceNoise, jobs int) (*noise.Model, error) {
	order := slices.SortedStableFunc(slices.Values(all), func(a, b series) int { return cmp.Compare(a.radius(), b.radius()) })
	patches := make([]noise.Patch, len(order))
	group, first := 0, math.Inf(-1)
	for k, s := range order {
		patches[k] = s.patch()
		if s.kind != hole.Round {
			continue
		}
		if s.radius() >= alikeRadii*first {
			group, first = group+1, s.radius()
		}
		patches[k].Group, patches[k].Spread, patches[k].Offset = group, sameDrill, s.radius()-first
	}
	return noise.Learn(ctx, patches, noise.Face(known.pts, known.height, known.area, r), r, jobs)
}

// weighAlike learns the noise of candidates of one kind, beside what the face shows of
// it, and weighs them by it. What waves move a circle has to do with its radius, and the
// kernels tried are of its size: those of bolt holes leave out the waves that move a bore
// most, and it was stated 25 % too sure. All that scatter alike show the noise, of whatever
// radius. What scatters more has form of its own, a lobed bore or a worn hole: it says
// nothing of the others' noise, nor they of its form, which counts as its noise.
func weighAlike(ctx context.Context, cs []*candidate, known faceNoise, jobs int) error {
	for _, size := range divide(cs, likeRadius, clearGap, (*candidate).seriesRadius) {
		for _, class := range divide(size, unlikeScatter, scatterGap, (*candidate).scatter) {
			var radii []float64
			for _, c := range class {
				radii = append(radii, c.series.radius())
			}
			m, err := learnNoise(ctx, median(radii), alike(class, cs), known, jobs)
			if err != nil {
				return err
			}
			if err := weigh(ctx, m, class, jobs); err != nil {
				return err
			}
		}
	}
	return nil
}

// alike returns the series of the class, and of all others that scatter as it does.
func alike(class, all []*candidate) (out []series) {
	var of []float64
	for _, c := range class {
		of = append(of, c.scatter())
	}
	mid := median(of)
	for _, c := range all {
		s := c.scatter()
		if slices.Contains(class, c) || s <= likeScatter*mid && mid <= likeScatter*s {
			out = append(out, c.series)
		}
	}
	return out
}

func (c *candidate) seriesRadius() float64 { return c.series.radius() }

// scatter is the root mean square of the residuals of the bins, mm, but no less than
// rounding makes of it.
func (c *candidate) scatter() float64 {
	var sum, n float64
	for i, y := range c.series.y {
		sum += c.series.n[i] * y * y
		n += c.series.n[i]
	}
	return max(math.Sqrt(sum/max(n, 1e-12)), c.scale/10)
}

// divide divides the candidates into those of like size, in ascending order: at the widest
// gap, while the largest size is like times the smallest and there is a gap of that ratio.
func divide(cs []*candidate, like, gap float64, size func(*candidate) float64) [][]*candidate {
	if len(cs) == 0 {
		return nil
	}
	order := slices.SortedStableFunc(slices.Values(cs), func(a, b *candidate) int { return cmp.Compare(size(a), size(b)) })
	at, widest := 0, gap
	for k := 1; k < len(order); k++ {
		if g := size(order[k]) / size(order[k-1]); g >= widest {
			at, widest = k, g
		}
	}
	if at == 0 || size(order[len(order)-1]) < like*size(order[0]) {
		return [][]*candidate{order}
	}
	return append(divide(order[:at], like, gap, size), divide(order[at:], like, gap, size)...)
}

// weigh turns the candidates' residuals into better centres and radii and their
// covariances, by what the noise of their kind is like; it drops those that it
// makes no sense of.
func weigh(ctx context.Context, m *noise.Model, cs []*candidate, jobs int) error {
	return parallel.Chunks(ctx, jobs, len(cs), 1, func(k, _ int) {
		c := cs[k]
		p := c.series.patch()
		f, ok := m.Fit(&p, p.Terms)
		if c.long != nil {
			if c.long.known = ok; ok {
				c.long.Outline, c.long.cov, c.long.dof = c.series.of.Moved(c.series.kind, f.Beta), f.Cov, f.DOF
			}
			return
		}
		if !ok || math.Hypot(f.Beta[0], f.Beta[1])+math.Abs(f.Beta[2]) > c.r/2 {
			c.dropped = true
			return
		}
		for i := range c.cov {
			for j := range c.cov {
				c.cov[i][j] = f.Cov.At(i, j)
			}
		}
		for i := range c.follow {
			c.follow[i] = f.Inverse.At(i, 2) / f.Inverse.At(2, 2)
		}
		c.dof, c.noise = f.DOF, m
		c.own = wallSure{place: [2][2]float64{{c.cov[0][0], c.cov[0][1]}, {c.cov[1][0], c.cov[1][1]}}, dof: f.DOF}
		c.cov[2][2] += c.extraR * c.extraR
		x, y := c.x, c.y
		c.x, c.y, c.r = x+f.Beta[0], y+f.Beta[1], c.r+f.Beta[2]
		if c.series.rows >= fewestRows {
			c.meetFace(m, x, y)
		}
	})
}

// meetFace measures the tilt of a wall whose residuals are about the circle at (x, y). Where
// the tilt is significant, the centre is where the axis meets the face.
func (c *candidate) meetFace(m *noise.Model, x, y float64) {
	p, terms := c.series.tilted()
	f, ok := m.Fit(&p, terms)
	if !ok {
		return
	}
	h, perpendicular := c.series.height, *c
	cov := c.cov
	for i := range 2 {
		for j := range 2 {
			c.own.lean[i][j] = f.Cov.At(3+i, 3+j)
			cov[i][j] = f.Cov.At(i, j) - h*(f.Cov.At(i, 3+j)+f.Cov.At(3+i, j)) + h*h*f.Cov.At(3+i, 3+j)
		}
	}
	tx, ty := f.Beta[3], f.Beta[4]
	if significant(c.own.lean, tx, ty) {
		perpendicular.own = c.own
		c.square, c.tilt, c.cov = &perpendicular, s1.Angle(math.Hypot(tx, ty)), cov
		c.x, c.y = x+f.Beta[0]-h*tx, y+f.Beta[1]-h*ty
	}
}

// significant reports whether the tilt (x, y) of an axis is more than its covariance explains.
func significant(cov [2][2]float64, x, y float64) bool {
	det := cov[0][0]*cov[1][1] - cov[0][1]*cov[1][0]
	return x*x*cov[1][1]-2*x*y*cov[0][1]+y*y*cov[0][0] > leastTilt*det
}
