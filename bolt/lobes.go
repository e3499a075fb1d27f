package bolt

import "math"

// lobesMost is the share of the radius that, with the noise, a round rim's lobes may
// be high. By simulation, in units of that: holes of 5 to 9 mm had 0.8 at most, pockets
// with rounded corners of which all is seen 1.2 at least.
const lobesMost = 0.015

// lobes is the largest amplitude, mm, of k = 2, 3 or 4 waves a turn in the
// distances of points from the disc: each by least squares with the disc's place
// and radius, and as much as it makes of the points' variance, so that what an arc
// does not show does not count. A slot has two waves, a square with rounded corners
// four.
func (d disc) lobes(pts [][2]float64) float64 {
	most := 0.0
	for k := 2; k <= 4; k++ {
		q := newEquations(5)
		for i, p := range pts {
			if d.weight[i] == 0 {
				continue
			}
			t := math.Atan2(p[1]-d.y, p[0]-d.x)
			sin, cos := math.Sincos(t)
			sk, ck := math.Sincos(float64(k) * t)
			q.add(d.weight[i], math.Hypot(p[0]-d.x, p[1]-d.y)-d.r, cos, sin, 1, ck, sk)
		}
		if _, gain, ok := q.solve(); ok {
			most = max(most, 2*gain/q.a.At(2, 2))
		}
	}
	return math.Sqrt(most)
}
