package segment

import (
	"github.com/golang/geo/r3"

	"spotface/fit"
)

// DraftShows reports whether pts, of a wall about the cylinder given, are of a cone by
// the finder's test, with twice the odds that it asks: of the mean square of 16 waves
// the standard deviation is a third, and it is lowest by chance half as large.
func DraftShows(pts []r3.Vector, about fit.Cylinder, noise float64) bool {
	g, err := fit.From(about, pts, fit.Options{})
	if err != nil {
		return false
	}
	f := fitted{shape: shapeOf(g), pts: pts}
	rise, ratio := f.taper()
	return rise > 2*noise && ratio > 2*draftGain
}
