package report

import "math"

// place gives each hole and stud whose axis is along the frame's Z its place in the datum
// frame, with an uncertainty that has the frame's own in it. With hole h, origin o and clocking
// hole c at the distance R, all independent, small errors e move the coordinates by
//
//	e_x = h_x - o_x + (y/R) (c_y - o_y)      e_y = h_y - o_y - (x/R) (c_y - o_y)
func (rep *Report) place() {
	f := rep.Frame
	var origin, clock, radius float64 // standard uncertainties of one coordinate, mm; R
	if f != nil {
		if b := rep.Bore; b != nil && b.ID == f.Axis {
			origin = b.Uncertainty.Centre / CoverageCentre
		} else if c := rep.BoltCircle(f.Axis); c != nil {
			origin = c.Uncertainty.Centre / CoverageCentre
		}
		if c := rep.Hole(f.Clock); c != nil {
			p := f.Point(rep.inScan(c.Centre))
			clock, radius = c.Uncertainty.Centre/CoverageCentre, math.Hypot(p[0], p[1])
		}
	}
	for _, list := range [][]Hole{rep.Holes, rep.Studs} {
		for i := range list {
			h := &list[i]
			h.XY, h.Uncertainty.XY = nil, 0
			if f == nil || math.Abs(h.Axis.R3().Dot(f.Z.R3())) < alongAxis {
				continue
			}
			p := f.Point(h.Centre)
			h.XY = &[2]float64{p[0], p[1]}
			own := sq2(h.Uncertainty.Centre / CoverageCentre)
			if !(own > 0) {
				continue
			}
			turnX, turnY := 0.0, 0.0
			if radius > 0 {
				turnX, turnY = p[1]/radius, p[0]/radius
			}
			x := own + sq2(origin)*(1+sq2(turnX)) + sq2(turnX*clock)
			y := own + sq2(origin*(1-turnY)) + sq2(turnY*clock)
			h.Uncertainty.XY = Coverage * math.Sqrt(max(x, y))
		}
	}
}
