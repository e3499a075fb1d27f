package segment

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// tolerance says how far the elements of a true surface lie off it by noise. What is
// farther off is form, see form.go, or another surface.
type tolerance struct {
	floor float64 // half width of a band, mm: sigmas standard deviations of the noise
	first float64 // floor before more of the noise was learnt
	held  bool    // the caller gave the band: no other is used
	exact bool    // of an exact cloud: held, and normals do not count (exact.go)
	limit float64 // height of form, mm, that the caller gave; zero: from the extent
}

// expected returns the root mean square, mm, of a true surface's residuals.
func (t *tolerance) expected() float64 { return noiseGain * t.floor / sigmas }

// band returns the half width for a surface whose own residuals have root mean square
// rms; rms 0 means not known yet.
func (t *tolerance) band(rms float64) float64 {
	switch {
	case t.held:
		return t.floor
	case rms == 0:
		return noiseGain * t.floor
	}
	return max(t.floor, min(bandGain*t.floor, sigmas*rms))
}

// plausible reports whether residuals of root mean square rms are no larger than a true
// surface shows.
func (t *tolerance) plausible(rms float64) bool { return rms <= rmsGain*t.expected() }

// learn widens the band to the noise that most of the large surfaces show: patches as
// small as those that noise was estimated from do not show all of it. What is less than
// twice as much as expected at first is noise, what is more is form.
func (s *searcher) learn() {
	type shown struct {
		rms float64
		n   int
	}
	var all []shown
	total := 0
	most := learnGain * noiseGain * s.tol.first / sigmas
	for k := range s.found {
		if f := &s.found[k]; f.rms < most && len(f.nodes) >= formLeast {
			all = append(all, shown{f.rms, len(f.nodes)})
			total += len(f.nodes)
		}
	}
	slices.SortFunc(all, func(a, b shown) int { return cmp.Compare(a.rms, b.rms) })
	below := 0
	for _, f := range all {
		if below += f.n; 2*below >= total {
			s.tol.floor = max(s.tol.floor, min(learnGain*s.tol.first, sigmas*f.rms/noiseGain))
			return
		}
	}
}

// form is how far a surface of the given extent may leave its shape, mm.
func (t *tolerance) form(extent float64) float64 {
	switch {
	case t.limit > 0:
		return t.limit
	case t.held:
		return t.floor
	}
	return formLimit * extent
}

// formless reports whether the caller allows no form that differs from noise.
func (t *tolerance) formless() bool { return t.limit > 0 && t.limit <= t.floor }

// rmsOf returns the root mean square distance of pts from s.
func rmsOf(s *shape, pts []r3.Vector) float64 {
	var sum float64
	for _, q := range pts {
		d, _ := s.at(q)
		sum += d * d
	}
	return math.Sqrt(sum / float64(len(pts)))
}

// lengthOf is the edge of the square that count nodes cover.
func (w *worker) lengthOf(count int) float64 { return math.Sqrt(float64(count)) * w.pitch }
