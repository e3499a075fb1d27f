package hole

import "math"

// Thread is the helical ripple of a tapped hole's wall, as a scan shows it: mm.
type Thread struct {
	Pitch float64
	// Minor and Major are the diameters of the standard profile (ISO 68-1, flanks of 60
	// degrees) with that pitch and the wall's mean: a scan smooths crests and roots away.
	Minor, Major float64
	left         float64 // -1 of a right-hand thread, which turns with the height
	profile      [threadBins]float64
}

// phase is where on the profile a point of the wall lies, in turns.
func (t *Thread) phase(theta, height float64) float64 {
	p := height/t.Pitch + t.left*theta/(2*math.Pi)
	return p - math.Floor(p)
}

// Off is how far the thread puts a point of the wall out from the mean of the wall, mm.
func (t *Thread) Off(theta, height float64) float64 {
	p := t.phase(theta, height)*threadBins - 0.5
	k := math.Floor(p)
	i := int(k+threadBins) % threadBins
	return t.profile[i] + (p-k)*(t.profile[(i+1)%threadBins]-t.profile[i])
}

// FindThread looks for a thread on a wall about the circle c, by points of it and their
// heights, spacing apart. A thread is a wave along the axis that turns once as it rises by
// one pitch: it must show more of the points' variance than all else does, and much more
// than waves that do not turn (printed layers, chatter) or turn twice.
func FindThread(c Outline, pts [][2]float64, height []float64, spacing float64) (t Thread, ok bool) {
	n := float64(len(pts))
	if n < fewestThread {
		return t, false
	}
	theta, e := make([]float64, len(pts)), make([]float64, len(pts))
	lo, hi, mean, v := math.Inf(1), math.Inf(-1), 0.0, 0.0
	for i, p := range pts {
		u, w := p[0]-c.X, p[1]-c.Y
		theta[i], e[i] = math.Atan2(w, u), math.Hypot(u, w)-c.B
		lo, hi = min(lo, height[i]), max(hi, height[i])
		mean += e[i] / n
	}
	for i := range e {
		e[i] -= mean
		v += e[i] * e[i] / n
	}
	// The wave's amplitude at a frequency along the axis, turning s times.
	wave := func(f float64, s int) float64 {
		var re, im float64
		for i := range e {
			sin, cos := math.Sincos(2*math.Pi*f*height[i] + float64(s)*theta[i])
			re, im = re+e[i]*cos, im+e[i]*sin
		}
		return 2 * math.Hypot(re, im) / n
	}
	length := hi - lo
	least, most := 1/min(length/fewestTurns, threadCoarse*2*c.B), 1/max(threadSamples*spacing, threadFine*2*c.B)
	best, other, at := 0.0, 0.0, 0.0
	for f := least; f <= most; f += 1 / (threadSteps * length) {
		for _, s := range [5]int{-2, -1, 0, 1, 2} {
			a := wave(f, s)
			if s != 1 && s != -1 {
				other = max(other, a)
			} else if a > best {
				best, at, t.left = a, f, float64(s)
			}
		}
	}
	if !(best > 0) || best*best/2 < threadShare*v || best < threadClear*other || best < threadHigh/at {
		return t, false
	}
	for d := 1 / (threadSteps * length) / 2; d > 1e-4*at; d /= 2 {
		for _, f := range [2]float64{at - d, at + d} {
			if a := wave(f, int(t.left)); a > best {
				best, at = a, f
			}
		}
	}
	t.Pitch = 1 / at
	var sum, count [threadBins]float64
	for i := range e {
		k := min(int(t.phase(theta[i], height[i])*threadBins), threadBins-1)
		sum[k], count[k] = sum[k]+e[i], count[k]+1
	}
	for k := range sum {
		if count[k] == 0 {
			return t, false
		}
		t.profile[k] = sum[k] / count[k]
	}
	// Of the profile a quarter of the pitch is at the minor diameter, an eighth at the
	// major one: its mean is 7/16 of its height from the former.
	t.Minor = 2 * (c.B + mean - 7.0/16*isoHeight*t.Pitch)
	t.Major = t.Minor + 2*isoHeight*t.Pitch
	return t, true
}
