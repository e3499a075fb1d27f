package segment

import (
	"github.com/golang/geo/r3"

	"spotface/fit"
)

// DraftShows reports whether pts, of a wall about the cylinder given, are of a cone by
// the finder's test, with twice the odds that it asks: of the variance of 12 slopes the
// standard deviation is half of it.
func DraftShows(pts []r3.Vector, about fit.Cylinder, noise float64) bool {
	g, err := fit.From(about, pts, fit.Options{})
	if err != nil {
		return false
	}
	f := fitted{shape: shapeOf(g), pts: pts}
	rise, ratio := f.taper()
	return rise > 2*noise && ratio > 2*draftGain
}
