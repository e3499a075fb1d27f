package bolt

import (
	"math"

	"github.com/golang/geo/s1"

	"spotface/bolt/hole"
	"spotface/mesh/geom"
)

// rectangle measures a rectangular opening. Its sides are straight, so smoothing does not
// move its walls; a rim reads large by what those of round holes and slots do.
func (f *finder) rectangle(o *opening) (Hole, bool) {
	g := f.grain
	floor := g.noise / 4
	at, scale, ok := o.Fit(hole.Rectangle, o.pts, max(1.2*g.spacing, 5*g.noise), floor)
	if !ok {
		return Hole{}, false
	}
	per := at.Perimeter()
	cell := min(max(correlationLength(f.holes), 2*g.spacing, per/rectangleCells), per/fewestCells)
	cov, dof, ok := at.Covariance(hole.Rectangle, o.pts, scale, cell)
	if !ok {
		return Hole{}, false
	}
	// Waves of the noise as long as a side move it as a whole, which no cell shows: of the
	// mean and the half difference of two sides they are half the variance of one.
	for _, i := range [4]int{0, 1, 3, 4} {
		cov[i][i] += longShare * g.noise * g.noise / 2
	}
	fl := o.fc.flat
	h := Hole{Kind: Rectangle, Centre: fl.at([2]float64{at.X, at.Y}), Axis: fl.n, Face: o.fc.id, From: Wall,
		Arc: s1.Angle(2 * math.Pi * min(1, o.Arc*o.B/o.Perimeter())), CentreDOF: float64(dof)}
	large, unseen := 0.0, 0.0
	if o.height == nil {
		h.From = Rim
		large, unseen = f.rimsReadLarge()
	}
	h.UnseenU = 2 * unseen
	h.Length, h.LengthU = 2*(at.A-large), 2*math.Hypot(math.Sqrt(cov[3][3]), unseen)
	h.Width, h.WidthU = 2*(at.B-large), 2*math.Hypot(math.Sqrt(cov[4][4]), unseen)
	sin, cos := math.Sincos(at.Angle)
	h.Direction = fl.e1.Mul(cos).Add(fl.e2.Mul(sin))
	if h.Direction.Dot(laidX(fl.n)) < 0 {
		h.Direction = h.Direction.Mul(-1)
	}
	h.DirectionU = s1.Angle(math.Sqrt(cov[2][2]))
	xx, xy, yy := cov[0][0], cov[0][1], cov[1][1]
	h.CentreCov[0][0] = cos*cos*xx - 2*cos*sin*xy + sin*sin*yy
	h.CentreCov[1][1] = sin*sin*xx + 2*cos*sin*xy + cos*cos*yy
	h.CentreCov[0][1] = cos*sin*(xx-yy) + (cos*cos-sin*sin)*xy
	h.CentreCov[1][0] = h.CentreCov[0][1]
	return h, true
}

// rectangleCells and fewestCells are into how many cells a rectangle's outline is divided
// at most and at least: enough for its six numbers, few enough to be independent.
// TestSlots would notice.
const rectangleCells, fewestCells = 32, 16

// longShare is the part of the noise's variance in waves as long as a side: 0.4 in
// simulated fused scans, assumed a little more. TestSlots would notice.
const longShare = 0.5

// rimsReadLarge is by how much, mm, rims of this scan lie outside their walls, and its
// standard uncertainty: as those of the scan's round holes and slots do, or not known.
func (f *finder) rimsReadLarge() (by, u float64) {
	if f.grain.drawn() || !f.scan.IsMesh() {
		return 0, 0
	}
	all := f.rims
	for _, s := range f.slots {
		all = append(all[:len(all):len(all)], s.ends[:]...)
	}
	var large []float64
	for _, c := range all {
		if c.rimR > 0 && !c.asRead {
			large = append(large, c.rimR-c.r)
			u = max(u, c.extraR)
		}
	}
	if len(large) == 0 {
		return 0, f.grain.spacing
	}
	by = geom.Median(large)
	return by, math.Hypot(u, 0.2*by) // of edges that are round of their own accord
}
